package web

import (
	"html/template"
	"strconv"

	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
)

// pricePage opens an order's price into what it is made of.
type pricePage struct {
	Base
	File    desk.PriceFile
	Offers  []offerView
	Below   Field
	CanRule bool // the owner may let it go below its floor
	Off     Field
	CanCut  bool // the owner may take something off
}

func (pricePage) file() string { return "price" }

// offerView is one of the two offers, drawn.
type offerView struct {
	Name    string
	Charged bool
	Offer   *price.Offer
	Falls   []price.Fall
	Picture template.HTML
}

// showPrice replays an order's price and shows all it is made of.
func showPrice(v *visit) error {
	p, err := v.pricePage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func (v *visit) pricePage() (*pricePage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	f, err := v.desk.ExplainPrice(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	o := f.Order
	p := &pricePage{
		Base: Base{Title: "Price of order " + o.Number, Sheet: "Orders", Block: Block{Thing: "Price", Number: o.Number, Revision: strconv.Itoa(o.Revision), State: string(o.State)}},
		File: f,
		Below: Field{Name: "below", Label: "Reason for going below the floor",
			Help: "It is kept with the quote, with your name. The floor is what the goods cost an idle machine."},
	}
	p.Off = Field{Name: "discount", Label: "Off the goods", Keys: "decimal", Unit: "%", Short: true, Value: o.Discount.Percent(), Help: "On a line of its own. Below the floor it needs your word once more."}
	p.CanCut = v.actor.Role == party.Owner && o.State == order.Draft
	p.Offers = append(p.Offers, viewOffer("Alone", &f.Quote.Alone, f.Charged))
	if f.Quote.Shared != nil {
		p.Offers = append(p.Offers, viewOffer("Sharing a set-up", f.Quote.Shared, f.Charged))
	}
	p.CanRule = v.actor.Role == party.Owner && o.State == order.Draft && f.Charged.Floor.Below && f.Charged.Floor.Override == nil
	return p, nil
}

func viewOffer(name string, o, charged *price.Offer) offerView {
	falls := o.Waterfall()
	view := desk.FallView("fall-"+strconv.Itoa(len(name)), name+": from cost to total", falls)
	return offerView{Name: name, Charged: o == charged, Offer: o, Falls: falls, Picture: view.Picture().SVG()}
}

// Percent writes a share in percent with one decimal.
func (*pricePage) Percent(r money.Rate) string { return r.Mul(money.Int(100)).Fixed(1) + " %" }

// showPriceInput sends the stored input of an order's price, for the price
// command or for whoever wants to check it.
func showPriceInput(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	number, body, err := v.desk.PriceInput(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.sendFile("application/json; charset=utf-8", "price-"+number+".json", false, body)
}

// doDiscount takes a share off a draft's goods.
func doDiscount(v *visit) error {
	p, err := v.pricePage()
	if err != nil {
		return err
	}
	share := v.percent(&p.Off)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	o, err := v.desk.DiscountOrder(v.ctx(), v.actor, p.File.Order.ID, v.number("version"), share)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/orders/"+strconv.FormatInt(o.ID, 10)+"/price", "Priced anew with "+share.Percent()+" % off the goods.")
}
