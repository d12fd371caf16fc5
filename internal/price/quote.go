package price

import (
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// MaxCents bounds an order: ten million in the main unit. One beyond it is a
// slip of the pen, and is refused.
const MaxCents = 1_000_000_000

// Quote is an order priced: carrying its set-ups alone and, where there is
// somebody to share with, sharing them.
type Quote struct {
	Rules    int       `json:"rules"`
	Alone    Offer     `json:"alone"`
	Shared   *Offer    `json:"shared,omitempty"`
	OnCancel OnCancel  `json:"on_cancel,omitempty"` // what the quote must say when it is sold shared
	Warnings []Warning `json:"warnings,omitempty"`
	Rates    []*Node   `json:"rates"` // how hours, metals and set-ups come to what they cost
}

// Offer is one way of carrying the set-ups, priced.
type Offer struct {
	Lines         []Line         `json:"lines"`
	Goods         money.Amount   `json:"goods"`    // all lines but delivery and mobilisation
	Subtotal      money.Amount   `json:"subtotal"` // all lines
	Taxes         []TaxPart      `json:"taxes,omitempty"`
	Tax           money.Amount   `json:"tax"`
	Exempt        *Certificate   `json:"exempt,omitempty"` // the certificate to print, when it took tax off
	Total         money.Amount   `json:"total"`
	Deposit       money.Amount   `json:"deposit"`
	Balance       money.Amount   `json:"balance"`
	Setups        []SetupShare   `json:"setups,omitempty"`
	Cost          money.Rate     `json:"cost"`   // of the goods, with overhead and payment
	Margin        money.Rate     `json:"margin"` // earned on the goods
	Floor         Floor          `json:"floor"`
	Contributions []Contribution `json:"contributions,omitempty"`
	Weight        money.Rate     `json:"weight"` // lb
	Feet          measure.Length `json:"feet"`   // formed
}

// LineKind says what a line is for.
type LineKind string

// The kinds of line.
const (
	CutLine      LineKind = "cut"
	PieceLine    LineKind = "piece"
	BreakLine    LineKind = "break"
	SetupLine    LineKind = "set-up"
	PackingLine  LineKind = "packing"
	DiscountLine LineKind = "discount"
	MinimumLine  LineKind = "minimum"
	RushLine     LineKind = "rush"
	TripLine     LineKind = "mobilisation"
	HaulLine     LineKind = "delivery"
)

// Line is one line of an offer. Amount is Quantity x Price to the cent.
type Line struct {
	Kind     LineKind       `json:"kind"`
	Item     string         `json:"item,omitempty"` // the item's ID
	Cut      string         `json:"cut,omitempty"`  // the cut's ID
	Label    string         `json:"label"`
	Pieces   int            `json:"pieces,omitempty"`
	Length   measure.Length `json:"length,omitzero"`
	Quantity money.Rate     `json:"quantity"`
	Unit     string         `json:"unit"`
	Price    money.Rate     `json:"price"`
	Amount   money.Amount   `json:"amount"`
	TaxClass string         `json:"tax_class"`
	Costs    Costs          `json:"costs,omitzero"`
	Build    *Node          `json:"build,omitempty"`
}

// Costs are what a line costs, by kind, unrounded.
type Costs struct {
	Metal    money.Rate `json:"metal,omitzero"` // or the accessory as bought
	Work     money.Rate `json:"work,omitzero"`
	Setups   money.Rate `json:"setups,omitzero"`
	Overhead money.Rate `json:"overhead,omitzero"`
	Other    money.Rate `json:"other,omitzero"`   // packing, travel
	Payment  money.Rate `json:"payment,omitzero"` // what being paid this line costs
}

// Total adds the costs up.
func (c Costs) Total() money.Rate {
	return c.Metal.Add(c.Work).Add(c.Setups).Add(c.Overhead).Add(c.Other).Add(c.Payment)
}

// IsZero reports whether nothing was spent.
func (c Costs) IsZero() bool { return c.Total().IsZero() }

func (c Costs) add(d Costs) Costs {
	return Costs{c.Metal.Add(d.Metal), c.Work.Add(d.Work), c.Setups.Add(d.Setups), c.Overhead.Add(d.Overhead), c.Other.Add(d.Other), c.Payment.Add(d.Payment)}
}

func (c Costs) times(f money.Rate) Costs {
	return Costs{c.Metal.Mul(f), c.Work.Mul(f), c.Setups.Mul(f), c.Overhead.Mul(f), c.Other.Mul(f), c.Payment.Mul(f)}
}

func (c Costs) shown() Costs {
	return Costs{shown(c.Metal), shown(c.Work), shown(c.Setups), shown(c.Overhead), shown(c.Other), shown(c.Payment)}
}

// SetupShare is an order's part of one set-up.
type SetupShare struct {
	Setup string     `json:"setup"`
	Label string     `json:"label"`
	Cost  money.Rate `json:"cost"`  // of the whole set-up
	Part  money.Rate `json:"part"`  // this order's, as a share
	Value money.Rate `json:"value"` // this order's
	Build *Node      `json:"build,omitempty"`
}

// Floor is the least the goods may be sold for: what they cost an idle machine.
type Floor struct {
	Least    money.Amount `json:"least"`
	Sold     money.Amount `json:"sold"`
	Below    bool         `json:"below,omitempty"`
	Items    []string     `json:"items,omitempty"` // items that are sold below their own floor
	Override *Override    `json:"override,omitempty"`
}

// Contribution is what an hour of a center earns towards what is paid anyway.
// Rank jobs by it when the center is what limits the shop.
type Contribution struct {
	Center  string     `json:"center"`
	Earned  money.Rate `json:"earned"` // revenue less marginal cost
	Hours   money.Rate `json:"hours"`  // run and set-up
	PerHour money.Rate `json:"per_hour"`
}

// Saving gives what sharing takes off the total; nothing when there is nobody
// to share with.
func (q *Quote) Saving() money.Amount {
	if q.Shared == nil {
		return money.Cents(0, q.Alone.Total.Currency())
	}
	return q.Alone.Total.Sub(q.Shared.Total)
}

// Release refuses an offer that is below its floor without the owner's word.
func (o *Offer) Release() error {
	if o.Floor.Below && o.Floor.Override == nil {
		return fault.Conflictf("%s is below the floor of %s, what the goods cost an idle machine; the owner must agree to it with a reason",
			o.Floor.Sold.Format(), o.Floor.Least.Format())
	}
	return nil
}

// Price prices an input. It refuses what can't be priced with a fault.List
// whose fields are places in the input, lists counted from 1. A price below the
// floor isn't refused but marked; Offer.Release refuses it.
func Price(in Input) (Quote, error) {
	if err := in.Check(); err != nil {
		return Quote{}, err
	}
	c, err := newCalc(&in)
	if err != nil {
		return Quote{}, err
	}
	return c.quote()
}

func (c *calc) quote() (Quote, error) {
	q := Quote{Rules: c.in.Rules, Warnings: c.warnings()}
	alone, err := c.offer(c.alone())
	if err != nil {
		return Quote{}, err
	}
	q.Alone = *alone
	if c.in.Order.Sharing != nil {
		if q.Shared, err = c.offer(c.sharing()); err != nil {
			return Quote{}, err
		}
		if q.Alone.Total.Less(q.Shared.Total) { // by a cent of rounding, if at all
			q.Shared = alone
		}
		q.OnCancel = c.in.Shop.Policy.OnCancel
		if q.OnCancel == "" {
			q.OnCancel = ShopCarries
		}
	}
	q.Warnings = append(q.Warnings, c.taxWarnings()...)
	for _, center := range c.in.Shop.Centers {
		q.Rates = append(q.Rates, c.hours[center.ID].build)
	}
	for _, s := range c.in.Shop.Stock {
		q.Rates = append(q.Rates, c.metals[s.ID].build)
	}
	for _, ch := range c.changes {
		q.Rates = append(q.Rates, ch.build)
	}
	return q, nil
}
