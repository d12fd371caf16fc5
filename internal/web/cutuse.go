package web

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"ribdesk/internal/cutlist"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
)

// groupView is the product for the rows that have the same words beside them.
type groupView struct {
	Make   Field
	Said   string // the words
	Pieces int
	metal  string
	cuts   []order.CutItem
}

// group puts an understood row with those of the same product and colour.
func (p *listPage) group(row cutlist.Row) {
	said := strings.TrimSpace(row.Product)
	if row.Colour != "" {
		said = strings.TrimSpace(said + " " + row.Colour)
	}
	for _, g := range p.Groups {
		if strings.EqualFold(g.Said, said) {
			g.cuts, g.Pieces = append(g.cuts, row.Item), g.Pieces+row.Item.Qty
			return
		}
	}
	p.Groups = append(p.Groups, &groupView{Said: said, Pieces: row.Item.Qty, cuts: []order.CutItem{row.Item}})
}

// mostGroups is how many products one list can name; the rows of further ones
// join the last.
const mostGroups = 12

// offerMakes offers the products for each group: the one its words name, else
// the one chosen at the counter.
func (v *visit) offerMakes(p *listPage) error {
	c, err := v.newCounterPage()
	if err != nil {
		return err
	}
	ask := p.ask()
	if err := v.startLine(c); err != nil {
		return err
	}
	usual, metal := c.Lines[0].Make.Value, c.Lines[0].Metal.Value
	if chosen := ask.Get("lines.0.make"); hasOption(c.Lines[0].Make.choices(), chosen) && strings.HasPrefix(chosen, string(order.Formed)+":") {
		usual, metal = chosen, ask.Get("lines.0.metal")
	}
	p.merge()
	for i, g := range p.Groups {
		g.Make = Field{Name: fmt.Sprintf("make.%d", i), Label: "Product", Groups: cutMakes(c.Lines[0].Make.Groups), Value: usual}
		if named, ok := namedMake(g.Make.Groups, g.Said); ok {
			g.Make.Value = named
		}
		if said := v.posted(g.Make.Name); hasOption(g.Make.choices(), said) {
			g.Make.Value = said
		}
		g.metal = namedMetal(c.Offer.Metals, g.Said, metal)
	}
	return nil
}

// merge puts groups together whose words name nothing apart: titles of parts of
// a roof, mostly. A list with too many products keeps the first ones.
func (p *listPage) merge() {
	for len(p.Groups) > mostGroups {
		last := p.Groups[len(p.Groups)-1]
		p.Groups = p.Groups[:len(p.Groups)-1]
		into := p.Groups[len(p.Groups)-1]
		into.cuts, into.Pieces = append(into.cuts, last.cuts...), into.Pieces+last.Pieces
	}
}

// cutMakes are the products that are cut to length.
func cutMakes(all []Group) (out []Group) {
	for _, g := range all {
		var kept []Option
		for _, o := range g.Options {
			if !strings.HasPrefix(o.Value, string(order.Accessory)+":") {
				kept = append(kept, o)
			}
		}
		if len(kept) > 0 {
			out = append(out, Group{Label: g.Label, Options: kept})
		}
	}
	return out
}

// namedMake finds the one product whose name or code the words hold.
func namedMake(groups []Group, said string) (string, bool) {
	words := " " + strings.ToLower(said) + " "
	found, longest := "", 0
	for _, g := range groups {
		for _, o := range g.Options {
			_, code, _ := strings.Cut(o.Value, ":")
			for _, name := range []string{o.Label, code} {
				if n := len(name); n > longest && strings.Contains(words, " "+strings.ToLower(name)+" ") {
					found, longest = o.Value, n
				}
			}
		}
	}
	return found, found != ""
}

// namedMetal finds a metal of the colour that the words name, as like the usual
// one as can be.
func namedMetal(metals []desk.MetalChoice, said, usual string) string {
	words := " " + strings.ToLower(said) + " "
	var fit []desk.MetalChoice
	for _, m := range metals {
		if strings.Contains(words, " "+strings.ToLower(m.Colour.Name)+" ") {
			fit = append(fit, m)
		}
	}
	if len(fit) == 0 {
		return usual
	}
	return nearestMetal(fit, usual)
}

// ask is the counter's form that came along.
func (p *listPage) ask() url.Values {
	form, err := url.ParseQuery(p.Ask)
	if err != nil {
		return url.Values{}
	}
	return form
}

// useList goes back to the counter with the list in the ask, priced.
func (v *visit) useList(p *listPage, do string) error {
	form := p.ask()
	rows, err := strconv.Atoi(form.Get("rows"))
	if err != nil || rows < 1 || rows > mostCounterLines {
		rows = 1
	}
	if rows+len(p.Groups) > mostCounterLines {
		return v.again(p, fault.Conflictf("the order has %d lines already; keep it, and add this list to the next one", rows))
	}
	for _, g := range p.Groups {
		rows = g.into(form, rows)
	}
	if form.Get("fulfil") == "" {
		form.Set("fulfil", string(order.PickUp))
	}
	form.Set("rows", strconv.Itoa(rows))
	if do == listNote {
		form.Set("note", v.restNote(form.Get("note"), p))
	}
	form.Set(tokenField, v.c.Request.PostForm.Get(tokenField))
	v.c.Request.PostForm, v.c.Request.Form, v.found, v.read = form, form, nil, nil
	return v.pricedWith(v.reader.N(p.Understood, "%d row of the list is in the tally below.", "%d rows of the list are in the tally below.", p.Understood))
}

// pricedWith shows the counter priced, with a sentence on top.
func (v *visit) pricedWith(notice string) error {
	c, err := v.newCounterPage()
	if err != nil {
		return err
	}
	o, err := v.readAsk(c, false)
	if err != nil {
		return err
	}
	c.Notice = notice
	return v.answerAsk(c, o)
}

// into writes a group's cuts into the counter's form: into a line of the same
// product, or an empty one, or a new one. It gives the count of lines.
func (g *groupView) into(form url.Values, rows int) int {
	for i := range rows {
		pre := fmt.Sprintf("lines.%d.", i)
		there, cuts := form.Get(pre+"make"), strings.TrimSpace(form.Get(pre+"cuts"))
		same := there == g.Make.Value && form.Get(pre+"metal") == g.metal
		if cuts != "" && !same || cuts == "" && there != "" && !same && form.Get(pre+"count") != "" {
			continue
		}
		form.Set(pre+"make", g.Make.Value)
		form.Set(pre+"metal", g.metal)
		form.Set(pre+"cuts", strings.TrimSpace(cuts+"\n"+typedCuts(g.cuts)))
		return rows
	}
	pre := fmt.Sprintf("lines.%d.", rows)
	form.Set(pre+"make", g.Make.Value)
	form.Set(pre+"metal", g.metal)
	form.Set(pre+"cuts", typedCuts(g.cuts))
	return rows + 1
}

// longestNote is how much of the rows that weren't understood goes along.
const longestNote = 800

// restNote adds the rows that weren't understood to the note for the shop.
func (v *visit) restNote(note string, p *listPage) string {
	var rows []string
	for _, s := range p.Sheets {
		for _, row := range s.Rows {
			if row.Status == cutlist.Flagged {
				rows = append(rows, row.Stood)
			}
		}
	}
	if len(rows) == 0 {
		return note
	}
	rest := v.reader.T("Not understood of the list: %s", strings.Join(rows, " / "))
	if r := []rune(rest); len(r) > longestNote {
		rest = string(r[:longestNote]) + "…"
	}
	return strings.TrimSpace(note + "\n" + rest)
}
