package web

import (
	"fmt"
	"html/template"
	"net/url"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// counterPage takes an ask: the tally on the left, the section and the price
// slip on the right.
type counterPage struct {
	Base
	ID, Version                    int64
	Standing                       *standingNote // of the customer, for staff; nil while nobody is chosen
	TakeOff                        string        // code of the roof take-off the ask is made from
	Offer                          desk.Offering
	Customer, OnFile               Field
	Customers                      []string // names, for the list under the field
	Contact, Email, Phone, Job, PO Field
	Fulfil, Site                   Field
	Street, City, State, Postal    Field
	Miles, WantBy, Rush, Note      Field
	Sample                         Field // whether the colours are to be seen first
	ListName                       Field // to keep what is asked for under, on the account
	Lines                          []*counterLine
	Held                           []order.Order // drafts this person has put aside
	Slip                           *slip
	customer                       party.Customer
	sites                          []party.Site
	products                       []Group // what a line can be of
	forShop                        bool    // how much lies on the rack is the shop's to know
}

func (counterPage) file() string { return "counter" }

// counterLine is one product on the tally.
type counterLine struct {
	No                            int
	Make, Metal, Rib, Cuts, Count Field
	FromShelf                     bool // an accessory: pieces are counted, nothing is cut
	Rows                          []tallyRow
	Sum                           string // pieces and feet of the cut list
	Name                          string
	Swatch, ColourName            string
	Gauge                         string
	Facts                         []fact
	Drawing                       template.HTML
	Colours                       []colourSeen // the metal comes in
}

// Key tells the script whether what can be chosen has changed.
func (l *counterLine) Key() string { return l.Make.Value }

// Way tells whether the line is cut or counted.
func (l *counterLine) Way() string {
	if l.FromShelf {
		return "count"
	}
	return "cut"
}

// fact is a property of what was chosen.
type fact struct{ Name, Value string }

// tallyRow is one row of a cut list as it was understood.
type tallyRow struct {
	Qty     int
	Length  string
	Decimal string // as the machine's control takes it
	Mark    string
	Pounds  string // of one piece
	Note    words.Text
	Wrong   string
	Text    string
	Blank   bool
}

const (
	mostCounterLines = 30
	askAdd           = "add"
	askHold          = "hold"
	askKeep          = "keep"
	askQuote         = "quote"
)

func (v *visit) newCounterPage() (*counterPage, error) {
	offer, err := v.desk.Offering(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p := &counterPage{
		Base: Base{Title: "Counter", Sheet: "Counter", Block: Block{Thing: "Ask and price", State: "draft"}, Reader: v.reader}, Offer: offer,
		Customer: Field{Name: "customer", Label: "Customer", Optional: true, Auto: "off", List: "customer-names", Help: "A name on file; empty for a walk-in."},
		OnFile:   Field{Name: "on_file", Label: "Put this name on file as a new customer", Kind: "checkbox", Optional: true},
		Contact:  Field{Name: "contact.name", Label: "Your name", Auto: "name", Optional: true},
		Email:    Field{Name: "contact.email", Label: "E-mail", Kind: "email", Auto: "email", Optional: true},
		Phone:    Field{Name: "contact.phone", Label: "Phone", Kind: "tel", Auto: "tel", Optional: true},
		Job:      Field{Name: "job", Label: "Job name", Optional: true},
		PO:       Field{Name: "po", Label: "Your PO", Optional: true},
		Fulfil: Field{Name: "fulfil", Label: "How it leaves", Value: string(order.PickUp), Options: []Option{
			{string(order.PickUp), "Picked up at the shop"}, {string(order.Haul), "Delivered"}, {string(order.OnSite), "Formed on site"}}},
		Site:   Field{Name: "site", Label: "Site on file", Optional: true},
		Street: Field{Name: "ship_to", Label: "Street", Auto: "shipping street-address", Optional: true},
		City:   Field{Name: "city", Label: "City", Auto: "shipping address-level2", Optional: true},
		State:  Field{Name: "state", Label: "State", Auto: "shipping address-level1", Short: true, Optional: true},
		Postal: Field{Name: "postal", Label: "ZIP", Auto: "shipping postal-code", Short: true, Optional: true},
		Miles:  Field{Name: "miles", Label: "Road miles one way", Unit: "mi", Keys: "decimal", Short: true, Optional: true},
		WantBy: Field{Name: "want_by", Label: "Wanted by", Optional: true, Short: true, Help: "Month/day/year. Empty: when it fits best."},
		Rush:   Field{Name: "rush", Label: "Rush: ahead of others, at the rush price", Kind: "checkbox", Optional: true},
		Note:   Field{Name: "note", Label: "Note for the shop", Rows: 2, Optional: true},
	}
	p.Sample = Field{Name: "sample", Label: "Show me a sample of the colour before anything is cut", Kind: "checkbox", Optional: true}
	p.forShop = v.actor.Role.Staff()
	p.ListName = Field{Name: "list_name", Label: "Name of the list", Optional: true}
	p.products = p.makes()
	return p, v.knowAsker(p)
}

// knowAsker fills in what is known of who asks: their own firm for a customer's
// person.
func (v *visit) knowAsker(p *counterPage) error {
	switch {
	case v.actor.Role == party.Buyer:
		p.Contact.Value = v.actor.Name
		return v.ofFirm(p, v.actor.CustomerID)
	case v.takesAsks():
		p.Contact.Label, p.PO.Label = "Contact", "Customer's PO"
	}
	return nil
}

// showCounterPage shows the counter, with what is wrong if anything is. The
// whole page has names to choose from and held drafts for the office; the part
// that the script asks for has not.
func (v *visit) showCounterPage(p *counterPage, wrong error) error {
	if v.takesAsks() && v.c.GetHeader("X-Part") == "" {
		var err error
		if p.Customers, err = v.desk.CustomerNames(v.ctx(), v.actor); err != nil {
			return err
		}
		if p.Held, err = v.desk.HeldOrders(v.ctx(), v.actor); err != nil {
			return err
		}
	}
	if wrong != nil {
		return v.again(p, wrong)
	}
	return v.show(p)
}

// takesAsks reports whether the person takes asks for customers.
func (v *visit) takesAsks() bool {
	return v.actor.Role == party.Owner || v.actor.Role == party.Counter || v.actor.Role == party.Bookkeeper
}

// ofFirm brings a firm's name, sites and unit of length to the page.
func (v *visit) ofFirm(p *counterPage, id int64) error {
	a, err := v.desk.AskerOf(v.ctx(), v.actor, id)
	if err == nil {
		p.knowFirm(a)
	}
	return err
}

func (p *counterPage) knowFirm(a desk.Asker) {
	p.customer, p.sites = a.Customer, a.Sites
	if len(a.Sites) > 0 {
		p.Site.Options = []Option{{"", "Another place"}}
	}
	for _, s := range a.Sites {
		p.Site.Options = append(p.Site.Options, Option{strconv.FormatInt(s.ID, 10), s.Name + ", " + s.Address.Line()})
	}
}

// newLine adds a product to the tally. The next of several is likely to be of
// the same metal.
func (p *counterPage) newLine() *counterLine {
	n := len(p.Lines)
	pre := fmt.Sprintf("lines.%d.", n)
	l := &counterLine{
		No:    n + 1,
		Make:  Field{Name: pre + "make", Label: "Product", Groups: p.products},
		Metal: Field{Name: pre + "metal", Label: "Metal and colour", Help: "Screens lie about colour; ask for a sample."},
		Rib:   Field{Name: pre + "rib", Label: "Flat", Optional: true},
		Cuts: Field{Name: pre + "cuts", Label: "Cut list", Rows: 5,
			Help: p.Reader.T("One length a line, or paste a list: 4 @ 12' 6-1/2\" or 3.82 m (4). A bare number is %s.", unitWord(p.Unit()))},
		Count: Field{Name: pre + "count", Label: "Pieces", Keys: "numeric", Short: true, Optional: true},
	}
	p.Lines = append(p.Lines, l)
	return l
}

// Unit is what a bare number means here: millimetres for who reads metric, else
// the shop's own unit.
func (p *counterPage) Unit() measure.Unit {
	if p.Metric() {
		return measure.Millimetres
	}
	return p.Offer.Seller.Unit
}

func unitWord(u measure.Unit) words.Text {
	switch u {
	case measure.Feet:
		return words.Say("feet")
	case measure.Millimetres:
		return words.Say("millimetres")
	case measure.Metres:
		return words.Say("metres")
	case measure.Centimetres:
		return words.Say("centimetres")
	}
	return words.Say("inches")
}

// makes are all products under the headings a customer looks for.
func (p *counterPage) makes() []Group {
	uses := map[stock.Use]*Group{stock.Panel: {Label: "Panels"}, stock.Gutter: {Label: "Gutter"}, stock.Downspout: {Label: "Downspout"}}
	for _, f := range p.Offer.Profiles {
		if g := uses[f.Use]; g != nil {
			g.Options = append(g.Options, Option{string(order.Formed) + ":" + f.Code, f.Name})
		}
	}
	trim, shelf := Group{Label: "Trim, folded"}, Group{Label: "From the shelf"}
	for _, f := range p.Offer.Shapes {
		trim.Options = append(trim.Options, Option{string(order.Trim) + ":" + f.Code, f.Name})
	}
	for _, f := range p.Offer.Accessories {
		shelf.Options = append(shelf.Options, Option{string(order.Accessory) + ":" + f.Code, f.Name + ", " + desk.UnitName(f.Unit, p.Reader)})
	}
	var out []Group
	for _, g := range []Group{*uses[stock.Panel], *uses[stock.Gutter], *uses[stock.Downspout], trim, shelf} {
		if len(g.Options) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// startLine chooses the first product and metal, so that a price is one length
// away.
func (v *visit) startLine(p *counterPage) error {
	l := p.newLine()
	if len(l.Make.Groups) == 0 {
		return nil
	}
	l.Make.Value = l.Make.Groups[0].Options[0].Value
	if standing := string(order.Formed) + ":" + p.Offer.Standing; hasOption(l.Make.Groups[0].Options, standing) {
		l.Make.Value = standing // what the machine is set up for costs least to wait for
	}
	if asked := v.query("make"); hasOption(l.Make.choices(), asked) {
		l.Make.Value = asked // a pattern just drawn
	}
	if n := len(p.Lines); n > 1 {
		l.Make.Value, l.Metal.Value = p.Lines[n-2].Make.Value, p.Lines[n-2].Metal.Value
		l.Make.Focus = true
	}
	kind, code, _ := strings.Cut(l.Make.Value, ":")
	line := order.Line{Kind: order.Kind(kind), Code: code}
	p.offerMetals(l, line)
	line.Material, line.Gauge, line.Colour = metalOf(l.Metal.Value)
	return v.drawLine(p, l, line)
}

func showCounter(v *visit) error {
	if code := v.query("roof"); code != "" {
		return showRoofAsk(v, code)
	}
	if id := v.query("list"); id != "" {
		return showListed(v, id)
	}
	if from, err := strconv.ParseInt(v.query("from"), 10, 64); err == nil {
		if v.actor.Role == party.Visitor {
			return v.redirect("/sign-in?next=" + url.QueryEscape(v.c.Request.URL.RequestURI()))
		}
		return showCopied(v, from)
	}
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	if err := v.startLine(p); err != nil {
		return err
	}
	return v.showCounterPage(p, nil)
}

// doPriceSlip prices what is on the page without keeping anything. The script
// asks for it while one types, and takes the part "part-live" only.
func doPriceSlip(v *visit) error {
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	o, err := v.readAsk(p, false)
	if err != nil {
		return err
	}
	return v.answerAsk(p, o)
}

// doAsk answers the page's buttons.
func doAsk(v *visit) error {
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	do := v.c.Request.PostFormValue("do")
	keeps := do == askKeep || do == askQuote || do == askHold
	o, err := v.readAsk(p, keeps)
	if err != nil {
		return err
	}
	switch {
	case do == askAdd && len(p.Lines) < mostCounterLines:
		v.found = nil // a line is added to what isn't finished yet
		if err := v.drawLines(p, o); err != nil {
			return err
		}
		if err := v.startLine(p); err != nil {
			return err
		}
		return v.showCounterPage(p, nil)
	case strings.HasPrefix(do, "remove:"):
		v.found = nil
		o = p.removeLine(o, strings.TrimPrefix(do, "remove:"))
		v.read = append(p.lineFields(), v.read...) // faults go to where the lines are now
		return v.answerAsk(p, o)
	case strings.HasPrefix(do, "by:"):
		if day, err := time.Parse(time.DateOnly, strings.TrimPrefix(do, "by:")); err == nil {
			o.WantBy, p.WantBy.Value = day, day.Format("1/2/2006")
		}
	case keeps:
		return v.keepAsk(p, o, do)
	}
	return v.answerAsk(p, o)
}

// removeLine takes a product off the tally; the others move up.
func (p *counterPage) removeLine(o order.Order, no string) order.Order {
	n, err := strconv.Atoi(no)
	if err != nil || n < 1 || n > len(p.Lines) || len(p.Lines) == 1 {
		return o
	}
	old := p.Lines
	p.Lines = nil
	for i, l := range old {
		if i == n-1 {
			continue
		}
		fresh := p.newLine()
		for _, pair := range [][2]*Field{{&fresh.Make, &l.Make}, {&fresh.Metal, &l.Metal}, {&fresh.Rib, &l.Rib}, {&fresh.Cuts, &l.Cuts}, {&fresh.Count, &l.Count}} {
			pair[0].Value, pair[0].Options, pair[0].Groups = pair[1].Value, pair[1].Options, pair[1].Groups
		}
		fresh.Rows, fresh.Sum, fresh.FromShelf, fresh.Facts, fresh.Name = l.Rows, l.Sum, l.FromShelf, l.Facts, l.Name
		fresh.Gauge, fresh.Swatch, fresh.ColourName, fresh.Colours = l.Gauge, l.Swatch, l.ColourName, l.Colours
	}
	o.Lines = append(o.Lines[:n-1:n-1], o.Lines[n:]...)
	return o
}

func (p *counterPage) lineFields() (fields []*Field) {
	for _, l := range p.Lines {
		fields = append(fields, &l.Make, &l.Metal, &l.Rib, &l.Cuts, &l.Count)
	}
	return fields
}

// answerAsk prices an ask and shows the page with its slip or its faults.
func (v *visit) answerAsk(p *counterPage, o order.Order) error {
	if err := v.drawLines(p, o); err != nil {
		return err
	}
	if err := v.stand(p, o, money.Amount{}); err != nil {
		return err
	}
	if v.untouched(p) {
		return v.showCounterPage(p, nil) // nothing was entered yet: no slip, and nothing to blame
	}
	if err := v.wrongs(); err != nil {
		return v.showCounterPage(p, err)
	}
	priced, err := v.desk.Ask(v.ctx(), v.actor, o)
	if err != nil {
		p.markRows(err)
		return v.showCounterPage(p, atFields(err))
	}
	p.setSlip(priced, v.actor)
	if err := v.stand(p, o, priced.Order.Charged().Total); err != nil {
		return err
	}
	return v.showCounterPage(p, nil)
}

// untouched reports whether the script asks about a tally without any entry.
func (v *visit) untouched(p *counterPage) bool {
	if v.c.GetHeader("X-Part") == "" {
		return false
	}
	for _, l := range p.Lines {
		if l.Cuts.Value != "" && !l.FromShelf || l.Count.Value != "" && l.FromShelf {
			return false
		}
	}
	return true
}

// keepAsk keeps the ask as a draft; or quotes it at once.
func (v *visit) keepAsk(p *counterPage, o order.Order, do string) error {
	refused := func(err error) error {
		if drawn := v.drawLines(p, o); drawn != nil {
			return drawn
		}
		p.markRows(err)
		if p.ID != 0 && fault.Is(err, fault.Conflict) {
			if both := v.meanwhileAsk(p, o); both != nil {
				return both
			}
		}
		return v.showCounterPage(p, atFields(err))
	}
	if err := v.wrongs(); err != nil {
		return refused(err)
	}
	if p.ID != 0 {
		changed, err := v.desk.ChangeOrder(v.ctx(), v.actor, o)
		if err != nil {
			return refused(err)
		}
		if do == askHold {
			return v.redirectSaying("/counter", "Order %s is held with its changes.", changed.Number)
		}
		return v.redirectSaying(recordPath("order", changed.ID), "The draft is changed.")
	}
	if do == askQuote || !v.actor.Role.Staff() {
		quoted, err := v.desk.AskForQuote(v.ctx(), v.actor, o)
		if err != nil {
			return refused(err)
		}
		return v.redirectSaying("/q/"+quoted.Token, "Here is your quote. Keep this page's address: it opens the quote again.")
	}
	kept, err := v.desk.TakeOrderOf(v.ctx(), v.actor, p.newCustomer(), o)
	if err != nil {
		return refused(err)
	}
	if do == askHold {
		return v.redirectSaying("/counter", "Order %s is held. Take the next one.", kept.Number)
	}
	return v.redirectSaying(recordPath("order", kept.ID), "Order %s is kept as a draft.", kept.Number)
}

// newCustomer is who is to be put on file with the order, nil for nobody.
func (p *counterPage) newCustomer() *party.Customer {
	if !p.OnFile.Checked || p.customer.ID != 0 || p.Customer.Value == "" {
		return nil
	}
	return &party.Customer{Name: p.Customer.Value, Email: p.Email.Value, Phone: p.Phone.Value}
}

// weighRows puts the weight of a piece beside each row of the tally.
func weighRows(l *counterLine, made order.Line) {
	feet := made.Feet()
	if feet <= 0 {
		return
	}
	k := 0
	for i := range l.Rows {
		if l.Rows[i].Blank || l.Rows[i].Wrong != "" || k >= len(made.Cuts) {
			continue
		}
		per := made.Pounds.Mul(money.FromRat(made.Cuts[k].Length.Ratio(feet)))
		l.Rows[i].Pounds = per.Fixed(1)
		k++
	}
}
