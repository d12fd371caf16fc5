package web

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
)

// counterPage takes an ask: the tally on the left, the price slip on the right.
type counterPage struct {
	Base
	ID, Version                         int64
	Offer                               desk.Offering
	Customer                            Field
	Customers                           []string // names, for the list under the field
	Contact, Email, Phone, Job, PO      Field
	Fulfil, Street, City, State, Postal Field
	Miles, WantBy, Rush, Note           Field
	Lines                               []*counterLine
	Slip                                *slip
	customerIDs                         map[string]int64
}

func (counterPage) file() string { return "counter" }

// counterLine is one product on the tally.
type counterLine struct {
	No                            int
	Make, Metal, Rib, Cuts, Count Field
	Rows                          []tallyRow
	Drawing                       template.HTML
}

// tallyRow is one row of a cut list as it was understood.
type tallyRow struct {
	Qty     int
	Length  string
	Decimal string // as the machine's control takes it
	Mark    string
	Pounds  string // of one piece
	Note    string
	Wrong   string
	Text    string
}

// slip is the price with what it is made of.
type slip struct {
	Priced desk.Priced
	Lines  []price.Line // of the offer taken
	Costs  bool         // staff see what it costs
}

const (
	mostCounterLines = 30
	askAdd           = "add"
	askPrice         = "price"
	askKeep          = "keep"
	askQuote         = "quote"
)

func (v *visit) newCounterPage() (*counterPage, error) {
	offer, err := v.desk.Offering(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p := &counterPage{
		Base: Base{Title: "Counter", Sheet: "Counter", Block: Block{Thing: "Ask and price", State: "draft"}}, Offer: offer,
		Customer: Field{Name: "customer", Label: "Customer", Optional: true, Auto: "off", Help: "A name on file, or leave it empty for a walk-in."},
		Contact:  Field{Name: "contact.name", Label: "Your name", Auto: "name", Optional: true},
		Email:    Field{Name: "contact.email", Label: "E-mail", Kind: "email", Auto: "email", Optional: true},
		Phone:    Field{Name: "contact.phone", Label: "Phone", Kind: "tel", Auto: "tel", Optional: true},
		Job:      Field{Name: "job", Label: "Job name", Optional: true},
		PO:       Field{Name: "po", Label: "Your PO", Optional: true},
		Fulfil: Field{Name: "fulfil", Label: "How it leaves", Value: string(order.PickUp), Options: []Option{
			{string(order.PickUp), "Picked up at the shop"}, {string(order.Haul), "Delivered"}, {string(order.OnSite), "Formed on site"}}},
		Street: Field{Name: "ship_to", Label: "Street", Auto: "shipping street-address", Optional: true},
		City:   Field{Name: "city", Label: "City", Auto: "shipping address-level2", Optional: true},
		State:  Field{Name: "state", Label: "State", Auto: "shipping address-level1", Short: true, Optional: true},
		Postal: Field{Name: "postal", Label: "ZIP", Auto: "shipping postal-code", Short: true, Optional: true},
		Miles:  Field{Name: "miles", Label: "Road miles one way", Unit: "mi", Keys: "decimal", Short: true, Optional: true},
		WantBy: Field{Name: "want_by", Label: "Wanted by", Optional: true, Short: true, Help: "Month/day/year. Empty: when it fits best."},
		Rush:   Field{Name: "rush", Label: "Rush", Kind: "checkbox", Optional: true},
		Note:   Field{Name: "note", Label: "Note for the shop", Rows: 2, Optional: true},
	}
	return p, v.listCustomers(p)
}

// listCustomers fills the names a member of the office can choose from.
func (v *visit) listCustomers(p *counterPage) error {
	if v.actor.Role == party.Buyer || v.actor.Role == party.Visitor {
		return nil
	}
	p.Contact.Label, p.PO.Label = "Contact", "Customer's PO"
	p.customerIDs = map[string]int64{}
	list, _, err := v.desk.Customers(v.ctx(), v.actor, "", 0)
	if err != nil {
		return err
	}
	for _, c := range list {
		p.Customers = append(p.Customers, c.Name)
		p.customerIDs[strings.ToLower(c.Name)] = c.ID
	}
	return nil
}

func (p *counterPage) newLine() *counterLine {
	n := len(p.Lines)
	pre := fmt.Sprintf("lines.%d.", n)
	l := &counterLine{
		No:    n + 1,
		Make:  Field{Name: pre + "make", Label: "Product", Options: p.makes()},
		Metal: Field{Name: pre + "metal", Label: "Metal and colour", Options: p.metalOptions(), Help: "Screens lie about colour; ask for a sample."},
		Rib:   Field{Name: pre + "rib", Label: "Flat", Optional: true},
		Cuts: Field{Name: pre + "cuts", Label: "Cut list", Rows: 4,
			Help: "One length a line: 4 @ 12' 6-1/2\"  or  12-6 1/2 (4). A bare number is " + unitWord(p.Offer.Seller.Unit) + "."},
		Count: Field{Name: pre + "count", Label: "Pieces", Keys: "numeric", Short: true, Optional: true, Help: "For accessories."},
	}
	p.Lines = append(p.Lines, l)
	return l
}

func unitWord(u measure.Unit) string {
	switch u {
	case measure.Feet:
		return "feet"
	case measure.Millimetres:
		return "millimetres"
	case measure.Metres:
		return "metres"
	case measure.Centimetres:
		return "centimetres"
	}
	return "inches"
}

func (p *counterPage) makes() []Option {
	var out []Option
	for _, f := range p.Offer.Profiles {
		out = append(out, Option{string(order.Formed) + ":" + f.Code, f.Name})
	}
	for _, f := range p.Offer.Shapes {
		out = append(out, Option{string(order.Trim) + ":" + f.Code, "Trim: " + f.Name})
	}
	for _, f := range p.Offer.Accessories {
		out = append(out, Option{string(order.Accessory) + ":" + f.Code, f.Name + ", " + f.Unit})
	}
	return out
}

func (p *counterPage) metalOptions() []Option {
	var out []Option
	for _, m := range p.Offer.Metals {
		name := fmt.Sprintf("%s %s (%s in), %s", m.Material.Name, m.Gauge, m.Thickness.Decimal(measure.Inch, 4), m.Colour.Name)
		if m.InStock {
			name += ", on the rack"
		}
		out = append(out, Option{m.Key(), name})
	}
	return out
}

func showCounter(v *visit) error {
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	l := p.newLine()
	if len(p.Offer.Profiles) > 0 {
		first := p.Offer.Profiles[0]
		l.Make.Value = string(order.Formed) + ":" + first.Code
		for _, m := range p.Offer.Metals {
			if m.Fits(first.Strip) && m.InStock {
				l.Metal.Value = m.Key()
				break
			}
		}
	}
	return v.show(p)
}

// doPriceSlip prices what is on the page without keeping anything. The script
// asks for it while one types, and takes the part "part-slip" only.
func doPriceSlip(v *visit) error {
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	return v.answerAsk(p, v.readAsk(p))
}

// doAsk answers the page's buttons.
func doAsk(v *visit) error {
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	o := v.readAsk(p)
	do := v.c.Request.PostFormValue("do")
	switch {
	case do == askAdd && len(p.Lines) < mostCounterLines:
		v.found = nil // a line is added to what isn't finished yet
		p.newLine()
		return v.show(p)
	case strings.HasPrefix(do, "remove:"):
		v.found = nil
		p.removeLine(strings.TrimPrefix(do, "remove:"))
		return v.show(p)
	case do == askKeep || do == askQuote:
		return v.keepAsk(p, o, do)
	}
	return v.answerAsk(p, o)
}

func (p *counterPage) removeLine(no string) {
	n, err := strconv.Atoi(no)
	if err != nil || n < 1 || n > len(p.Lines) || len(p.Lines) == 1 {
		return
	}
	old := p.Lines
	p.Lines = nil
	for i, l := range old {
		if i == n-1 {
			continue
		}
		fresh := p.newLine()
		fresh.Make.Value, fresh.Metal.Value, fresh.Rib.Value, fresh.Cuts.Value, fresh.Count.Value = l.Make.Value, l.Metal.Value, l.Rib.Value, l.Cuts.Value, l.Count.Value
		fresh.Rows = l.Rows
	}
}

// answerAsk prices an ask and shows the page with its slip or its faults.
func (v *visit) answerAsk(p *counterPage, o order.Order) error {
	if err := v.drawLines(p, o); err != nil {
		return err
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	priced, err := v.desk.Ask(v.ctx(), v.actor, o)
	if err != nil {
		return v.again(p, atFields(err))
	}
	p.setSlip(priced, v.actor)
	return v.show(p)
}

func (p *counterPage) setSlip(priced desk.Priced, actor party.Actor) {
	p.Slip = &slip{Priced: priced, Lines: priced.Quote.Alone.Lines, Costs: actor.Role == party.Owner || actor.Role == party.Counter}
	for i := range priced.Order.Lines {
		if i >= len(p.Lines) {
			break
		}
		weighRows(p.Lines[i], priced.Order.Lines[i])
	}
}

// weighRows puts the weight of a piece beside each row of the tally.
func weighRows(l *counterLine, made order.Line) {
	feet := made.Feet()
	if feet <= 0 {
		return
	}
	for i := range l.Rows {
		if i < len(made.Cuts) {
			per := made.Pounds.Mul(money.FromRat(made.Cuts[i].Length.Ratio(feet)))
			l.Rows[i].Pounds = per.Fixed(1)
		}
	}
}

func (v *visit) drawLines(p *counterPage, o order.Order) error {
	for i, l := range o.Lines {
		view, ok, err := v.desk.LineSection(v.ctx(), l, fmt.Sprintf("line-%d", i+1))
		if err != nil {
			return err
		}
		if ok {
			p.Lines[i].Drawing = view.Picture().SVG()
		}
	}
	return nil
}

// keepAsk keeps the ask as a draft; or quotes it at once.
func (v *visit) keepAsk(p *counterPage, o order.Order, do string) error {
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if p.ID != 0 {
		changed, err := v.desk.ChangeOrder(v.ctx(), v.actor, o)
		if err != nil {
			return v.again(p, atFields(err))
		}
		return v.redirectSaying(recordPath("order", changed.ID), "The draft is changed.")
	}
	if do == askKeep && v.actor.Role.Staff() {
		kept, err := v.desk.TakeOrder(v.ctx(), v.actor, o)
		if err != nil {
			return v.again(p, atFields(err))
		}
		return v.redirectSaying(recordPath("order", kept.ID), "Order "+kept.Number+" is kept as a draft.")
	}
	quoted, err := v.desk.AskForQuote(v.ctx(), v.actor, o)
	if err != nil {
		return v.again(p, atFields(err))
	}
	return v.redirectSaying("/q/"+quoted.Token, "Here is your quote. Keep this page's address: it opens the quote again.")
}

// readAsk reads the whole page into an order.
func (v *visit) readAsk(p *counterPage) order.Order {
	p.ID, p.Version = v.number("order"), v.number("version")
	o := order.Order{
		ID: p.ID, Version: p.Version, Job: v.text(&p.Job), PO: v.text(&p.PO), Note: v.text(&p.Note),
		Contact: order.Contact{Name: v.text(&p.Contact), Email: v.text(&p.Email), Phone: v.text(&p.Phone)},
		Fulfil:  order.Fulfil(v.choice(&p.Fulfil)), WantBy: v.day(&p.WantBy), Rush: v.yes(&p.Rush), MilesTenths: v.tenths(&p.Miles),
		Sharing: v.c.Request.PostFormValue("sharing") == "yes",
	}
	o.ShipTo = party.Address{Street: v.text(&p.Street), City: v.text(&p.City), State: strings.ToUpper(v.text(&p.State)), Postal: v.text(&p.Postal), Country: p.Offer.Seller.Address.Country}
	if name := v.text(&p.Customer); name != "" && p.customerIDs != nil {
		if id, ok := p.customerIDs[strings.ToLower(name)]; ok {
			o.CustomerID, o.Customer = id, name
		} else {
			v.wrong(&p.Customer, "“%s” isn't on file; choose a name of the list, or put it under Contact", name)
		}
	}
	rows := int(min(max(v.number("rows"), 1), mostCounterLines))
	for range rows {
		o.Lines = append(o.Lines, v.readAskLine(p, p.newLine()))
	}
	return o
}

func (v *visit) readAskLine(p *counterPage, l *counterLine) order.Line {
	kind, code, _ := strings.Cut(v.choice(&l.Make), ":")
	line := order.Line{Kind: order.Kind(kind), Code: code}
	l.Rib.Options = p.ribs(line)
	metal := v.metal(l, line.Kind)
	if len(metal) == 3 {
		line.Material, line.Gauge, line.Colour = metal[0], metal[1], metal[2]
	}
	line.Rib = v.text(&l.Rib)
	text, count := v.text(&l.Cuts), v.text(&l.Count)
	if line.Kind == order.Accessory {
		line.Count = v.pieces(l, count)
		return line
	}
	line.Cuts = v.cutList(l, text, p.Offer.Seller.Unit)
	return line
}

// ribs are the flats of the chosen profile.
func (p *counterPage) ribs(l order.Line) []Option {
	for _, f := range p.Offer.Profiles {
		if l.Kind == order.Formed && f.Code == l.Code {
			out := []Option{}
			for _, r := range f.Ribs {
				out = append(out, Option{r, r})
			}
			return out
		}
	}
	return nil
}

func (v *visit) metal(l *counterLine, kind order.Kind) []string {
	if kind == order.Accessory {
		l.Metal.Optional = true
	}
	return strings.Split(v.choice(&l.Metal), "|")
}

// pieces reads a count, also where it was typed into the cut list by mistake.
func (v *visit) pieces(l *counterLine, count string) int {
	n, err := strconv.Atoi(strings.ReplaceAll(count, ",", ""))
	if err != nil || n < 1 {
		v.wrong(&l.Count, "give the number of pieces, such as 4")
	}
	return n
}

// cutList reads the tally and notes what can't be understood, row by row.
func (v *visit) cutList(l *counterLine, text string, unit measure.Unit) (cuts []order.CutItem) {
	for _, r := range order.ReadCutList(text, unit) {
		row := tallyRow{Text: strings.TrimSpace(r.Text), Note: r.Note}
		if r.Err != nil {
			row.Wrong = sentence(r.Err.Sentence)
			v.wrong(&l.Cuts, "row %d: %s", r.No, r.Err.Sentence)
			l.Rows = append(l.Rows, row)
			continue
		}
		row.Qty, row.Length, row.Decimal, row.Mark = r.Item.Qty, r.Item.Length.Pretty(), r.Item.Length.Inches(), r.Item.Mark
		l.Rows = append(l.Rows, row)
		cuts = append(cuts, r.Item)
	}
	if len(cuts) == 0 && len(v.found) == 0 {
		v.wrong(&l.Cuts, "enter at least one length")
	}
	return cuts
}

// atFields moves the desk's faults from places in the order to the page's
// fields.
func atFields(err error) error {
	var l fault.List
	for _, f := range fault.All(err) {
		g := *f
		g.Field = askField(f.Field, &g.Sentence)
		l = append(l, &g)
	}
	return l
}

// askField maps lines.0.colour to lines.0.metal, lines.0.cuts.2.length to
// lines.0.cuts, and so on.
func askField(field string, sentence *string) string {
	parts := strings.Split(field, ".")
	if len(parts) < 2 || parts[0] != "lines" {
		return field
	}
	line := "lines." + parts[1] + "."
	if len(parts) < 3 {
		return line + "make"
	}
	switch parts[2] {
	case "material", "gauge", "colour":
		return line + "metal"
	case "rib", "count":
		return line + parts[2]
	case "cuts":
		if len(parts) > 3 {
			if n, err := strconv.Atoi(parts[3]); err == nil {
				*sentence = fmt.Sprintf("row %d: %s", n+1, *sentence)
			}
		}
		return line + "cuts"
	}
	return line + "make"
}
