package document

import (
	"strings"
	"time"

	"ribdesk/internal/caution"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Exception is what was wrong with a bundle on delivery.
type Exception struct {
	Bundle string `json:"bundle"`
	What   string `json:"what"` // short, over or damaged, and how
	Photos int    `json:"photos,omitempty"`
}

// Signed is the receipt as it was taken on the driver's device.
type Signed struct {
	Name       string      `json:"name"`
	Signature  []byte      `json:"signature,omitempty"` // PNG, as it was drawn
	At         time.Time   `json:"at"`
	Exceptions []Exception `json:"exceptions,omitempty"`
	Refused    string      `json:"refused,omitempty"`    // by whom, where it was
	Unattended string      `json:"unattended,omitempty"` // who allowed it, where nobody signed
}

// Freight is a line of the truck's contents.
type Freight struct {
	Bundle      string         `json:"bundle"` // such as 1 of 3
	Order       string         `json:"order,omitempty"`
	Description string         `json:"description"`
	Pieces      int            `json:"pieces,omitempty"`
	Longest     measure.Length `json:"longest,omitempty"`
	Pounds      int            `json:"pounds"`
	Loaded      bool           `json:"loaded,omitempty"`
	Delivered   bool           `json:"delivered,omitempty"`
}

// HeavyPiece is equal pieces that one person alone shouldn't lift.
type HeavyPiece struct {
	Pieces int            `json:"pieces"`
	Length measure.Length `json:"length"`
	Pounds int            `json:"pounds"` // of one
}

// DeliveryTicket goes with a load and comes back signed. It carries no prices.
// Counts of straps and flags are least numbers; local rules may ask for more.
type DeliveryTicket struct {
	Head
	Order     string         `json:"order"`
	Origin    Place          `json:"origin"`
	Driver    string         `json:"driver"`
	Vehicle   string         `json:"vehicle"`
	Window    string         `json:"window,omitempty"`
	Packages  int            `json:"packages"`
	Freight   []Freight      `json:"freight"`
	Items     []Item         `json:"items,omitempty"`
	OnSite    bool           `json:"on_site,omitempty"` // formed where it is used: nothing of it is hauled
	TwoPeople []HeavyPiece   `json:"two_people,omitempty"`
	Pounds    int            `json:"pounds"`
	Longest   measure.Length `json:"longest"`
	Overhang  measure.Length `json:"overhang,omitempty"`
	Unloading string         `json:"unloading"` // who unloads and how
	TieDowns  int            `json:"tie_downs"`
	WLLPounds int            `json:"wll_pounds"`
	Flags     int            `json:"flags,omitempty"`
	Load      *drawing.Load  `json:"load,omitempty"`
	Signed    *Signed        `json:"signed,omitempty"` // nil leaves blanks to sign
}

// Kind names the paper.
func (*DeliveryTicket) Kind() Kind { return KindDeliveryTicket }

func (t *DeliveryTicket) check(l *fault.List) {
	if len(t.Freight) == 0 && len(t.Items) == 0 {
		l.Addf("freight", "a delivery ticket needs something to deliver")
	}
	if t.Customer.Name == "" {
		l.Addf("customer", "name who receives the goods")
	}
}

func (t *DeliveryTicket) compose(c *composer) {
	origin := t.Origin.Address.Line()
	if origin == "" {
		origin = t.Seller.Address.Line()
	}
	c.masthead(
		fact{c.t(wDate), c.date(t.Issued)}, fact{c.t(wOrder), t.Order}, fact{c.t(wDriver), t.Driver}, fact{c.t(wVehicle), t.Vehicle}, fact{c.t(wDelivery), t.Window},
	)
	c.title(c.t(wStraight))
	c.columns([]columnText{{"", c.factBlock([]fact{
		{c.t(wShipper), t.Seller.Name + "\n" + origin}, {c.t(wConsignee), t.Customer.Name + "\n" + join(", ", t.ShipTo.Name, t.ShipTo.Address.Line())},
	})}, {"", c.factBlock([]fact{
		{c.t(wPackages), itoa(t.Packages)}, {c.t(wWeight), c.pounds(t.Pounds)}, {c.t(wLongest), c.lengthOrNone(t.Longest)},
		{c.t(wOverhang), c.lengthOrNone(t.Overhang)}, {c.t(wUnloads), t.Unloading},
	})}})
	t.contents(c)
	t.heavy(c)
	t.securing(c)
	t.receipt(c)
	if t.OnSite {
		c.cautions(caution.OnSite)
	} else {
		c.cautions(caution.DeliveryTicket)
	}
	c.paragraphs(bodySize, c.t(wLienLaw))
}

func (t *DeliveryTicket) contents(c *composer) {
	if t.OnSite {
		c.title(c.t(wFormedHere))
	} else {
		c.title(c.t(wWhatIsOn))
	}
	tick := func(done bool) string {
		if done {
			return "X"
		}
		return "____"
	}
	var rows []record
	for _, f := range t.Freight {
		loaded := tick(f.Loaded)
		if t.OnSite {
			loaded = ""
		}
		rows = append(rows, record{cells: []string{
			f.Bundle, f.Order, f.Description, count(f.Pieces), c.lengthOrNone(f.Longest), c.pounds(f.Pounds), loaded, tick(f.Delivered),
		}})
	}
	for _, i := range t.Items {
		rows = append(rows, record{cells: []string{"", "", i.Name + ", " + join(" ", number(i.Quantity), i.Unit), "", "", "", tick(false), tick(false)}})
	}
	c.table([]column{
		{title: c.t(wBundle), width: 20, size: 11, face: bold}, {title: c.t(wOrder), width: 20}, {title: c.t(wWhat)},
		{title: c.t(wPieces), width: 14, right: true}, {title: c.t(wLongest), width: 27, right: true, size: 11, face: bold}, {title: c.t(wWeight), width: 21, right: true},
		{title: c.t(wLoaded), width: 14}, {title: c.t(wDelivered), width: 16},
	}, rows)
}

// heavy names the pieces that want two people.
func (t *DeliveryTicket) heavy(c *composer) {
	var each []string
	for _, p := range t.TwoPeople {
		each = append(each, c.f(wEachWeighs, p.Pieces, c.lengthOrNone(p.Length), p.Pounds))
	}
	if len(each) > 0 {
		c.paragraphs(11, c.f(wHeavy, strings.Join(each, "; ")))
	}
}

func (t *DeliveryTicket) securing(c *composer) {
	c.title(c.t(wSecuring))
	if t.OnSite {
		c.paragraphs(11, c.t(wHaulsMachine)+" "+c.t(wStateRules))
		c.ticks(c.t(wCheckStart), c.t(wCheck50), c.t(wCheckAgain))
		return
	}
	if t.Load != nil {
		view := *t.Load
		view.Width, view.Height = 680, 145 // lower than on a page
		side := view.Side()
		high := c.sheet.inner() * side.Height / side.Width
		c.add(high+1, func(y float64) { c.picture(side, c.sheet.left, y, c.sheet.inner(), high) }).keep = true
	}
	least := c.f(wAtLeastTies, t.TieDowns, grouped(t.WLLPounds))
	if t.Flags > 0 {
		least += " " + c.f(wAtLeastFlags, t.Flags)
	}
	c.paragraphs(11, least+" "+c.t(wStateRules))
	c.ticks(c.t(wCheckStart), c.t(wCheck50), c.t(wCheckAgain))
}

// receipt prints what was signed, or the blanks for it.
func (t *DeliveryTicket) receipt(c *composer) {
	c.title(c.t(wExceptions))
	s := t.Signed
	var rows []record
	if s != nil {
		for _, e := range s.Exceptions {
			rows = append(rows, record{cells: []string{e.Bundle, e.What, count(e.Photos)}})
		}
		if len(rows) == 0 {
			rows = []record{{cells: []string{"", "—", ""}}}
		}
	} else {
		rows = []record{{cells: []string{" ", "", ""}}, {cells: []string{" ", "", ""}}}
	}
	c.table([]column{{title: c.t(wBundle), width: 24, size: 12}, {title: c.t(wException)}, {title: c.t(wPhotos), width: 22, right: true}}, rows)
	c.title(c.t(wReceipt))
	c.paragraphs(10, c.t(wGoodOrder))
	c.strips[len(c.strips)-1].keep = true
	c.paragraphs(bodySize, c.t(wReceiptOnly))
	c.strips[len(c.strips)-1].keep = true
	if s == nil {
		c.blanks(fact{c.t(wName), ""}, fact{c.t(wSignature), ""}, fact{c.t(wWhen), ""})
		c.blanks(fact{c.t(wRefused), ""}, fact{c.t(wUnattended), ""})
		return
	}
	signature := ""
	if s.Name != "" {
		signature = c.t(wSignedOnPhone)
	}
	c.signedBy(fact{c.t(wName), s.Name}, fact{c.t(wSignature), signature}, fact{c.t(wWhen), c.moment(s.At)}, readScrawl(s.Signature))
	if s.Refused != "" || s.Unattended != "" {
		c.blanks(fact{c.t(wRefused), s.Refused}, fact{c.t(wUnattended), s.Unattended})
	}
}
