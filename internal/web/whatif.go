package web

import (
	"html/template"
	"strconv"

	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/price"
	"ribdesk/internal/stock"
)

// whatIfPage tries other figures on the open quotes. Nothing is changed by it.
type whatIfPage struct {
	Base
	Coil, Hour, Margin         Field
	One, Machine, Feet, Saving Field
	Tried                      *desk.WhatIf
	Effects                    []price.Effect
	EffectsOf                  order.Order
	Pays                       *desk.PaysItself
	PaysPicture                template.HTML
	PaysSay                    string
}

func (whatIfPage) file() string { return "what-if" }

// Dollars writes a figure as money, to the cent.
func (*whatIfPage) Dollars(r money.Rate) (string, error) {
	a, err := r.Round(money.USD)
	return a.Format(), err
}

func (v *visit) newWhatIfPage() (*whatIfPage, error) {
	p := &whatIfPage{
		Base:    Base{Title: "What if", Sheet: "Rates", Tabs: ratesTabs("/rates/what-if"), Block: Block{Thing: "What if", State: "nothing is changed"}},
		Coil:    Field{Name: "coil", Label: "Coil costs", Unit: "% more", Keys: "text", Value: "0", Short: true, Help: "−10 is a tenth less."},
		Hour:    Field{Name: "hour", Label: "Hours cost", Unit: "% more", Keys: "text", Value: "0", Short: true, Help: "Machine and labor."},
		Margin:  Field{Name: "margin", Label: "Margin", Unit: "points", Keys: "text", Value: "0", Short: true, Help: "Added to every target."},
		One:     Field{Name: "order", Label: "What moves one quote", Optional: true},
		Machine: Field{Name: "machine", Label: "Machine that is to pay"},
		Feet:    Field{Name: "own_feet", Label: "Own jobs run, a month", Unit: "ft", Keys: "decimal", Short: true, Optional: true},
		Saving:  Field{Name: "own_saving", Label: "Saved a foot", Unit: "$", Keys: "decimal", Short: true, Optional: true, Help: "Against buying the panel."},
	}
	machines, err := desk.Shelf[stock.Machine](v.ctx(), v.desk)
	if err != nil {
		return nil, err
	}
	for _, m := range machines {
		if !m.Retired && !m.Item.Folder {
			p.Machine.Options = append(p.Machine.Options, Option{m.Item.Code, m.Item.Name})
		}
	}
	if len(p.Machine.Options) > 0 {
		p.Machine.Value = p.Machine.Options[0].Value
	}
	return p, nil
}

// showWhatIf shows the sheet with nothing tried yet.
func showWhatIf(v *visit) error {
	p, err := v.newWhatIfPage()
	if err != nil {
		return err
	}
	if err := v.tryOut(p, price.Changes{}, money.Rate{}, money.Rate{}); err != nil {
		return v.again(p, err)
	}
	return v.show(p)
}

func doWhatIf(v *visit) error {
	p, err := v.newWhatIfPage()
	if err != nil {
		return err
	}
	coil, hour := money.Int(1).Add(v.percent(&p.Coil)), money.Int(1).Add(v.percent(&p.Hour))
	ch := price.Changes{Coil: &coil, Hour: &hour, Margin: v.percent(&p.Margin)}
	v.text(&p.One)
	if len(p.Machine.Options) > 0 {
		v.choice(&p.Machine)
	}
	feet, saving := v.rate(&p.Feet), v.rate(&p.Saving)
	v.check(ch.Check())
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.tryOut(p, ch, feet, saving); err != nil {
		return v.again(p, err)
	}
	return v.show(p)
}

func (v *visit) tryOut(p *whatIfPage, ch price.Changes, feet, saving money.Rate) error {
	tried, err := v.desk.TryRates(v.ctx(), v.actor, ch)
	if err != nil {
		return err
	}
	p.Tried = &tried
	p.One.Options = []Option{{"", "the largest open quote"}}
	var most int64
	for _, t := range tried.Quotes {
		id := strconv.FormatInt(t.Order.ID, 10)
		p.One.Options = append(p.One.Options, Option{id, t.Order.Number + ", " + t.Before.Format()})
		if most == 0 || t.Before.Cmp(p.EffectsOf.Charged().Total) > 0 {
			most, p.EffectsOf = t.Order.ID, t.Order
		}
	}
	if id, err := strconv.ParseInt(p.One.Value, 10, 64); err == nil {
		most = id
	}
	if most != 0 {
		if p.EffectsOf, p.Effects, err = v.desk.Sensitivity(v.ctx(), v.actor, most); err != nil {
			return err
		}
	}
	return v.paysItself(p, feet, saving)
}

// paysItself draws the feet a month that pay for the chosen machine; a machine
// without a worksheet, or that ran nothing yet, gets a sentence instead.
func (v *visit) paysItself(p *whatIfPage, feet, saving money.Rate) error {
	if p.Machine.Value == "" {
		p.PaysSay = "The catalogue has no machine that runs feet."
		return nil
	}
	pays, err := v.desk.PaysItself(v.ctx(), v.actor, p.Machine.Value, feet, saving)
	if err != nil {
		p.PaysSay = sentence(err.Error())
		return nil
	}
	p.Pays = &pays
	short := pays.SoldFeet.Cmp(pays.Point.Feet) < 0
	p.PaysPicture = drawing.Bars{ID: "pays", Title: "Feet a month, " + pays.Name, Desc: "Feet sold outside in the last 30 days against the feet that pay for the machine.", Bars: []drawing.Bar{
		{Label: "to pay for itself", Figure: pays.Point.Feet.Fixed(0) + " ft", Share: pays.Point.Feet.Float()},
		{Label: "sold, last 30 days", Figure: pays.SoldFeet.Fixed(0) + " ft", Share: pays.SoldFeet.Float(), Alert: short},
		{Label: "own jobs", Figure: feet.Fixed(0) + " ft", Share: feet.Float()},
	}}.Picture().SVG()
	return nil
}
