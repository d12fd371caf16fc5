package web

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

// ratesPage is what things cost and earn, each figure in place.
type ratesPage struct {
	Base
	From, Note Field
	Since      string // the day the sheet in force holds from
	Parts      []*formPart
	Sheets     []desk.RateSheet
	Measured   []desk.Measured
	Stale      []desk.StaleCost // what is bought at a cost that nobody looked at for long
	Today      string
	Empty      bool
}

func (ratesPage) file() string { return "rates" }

// Words writes a day that is kept as 2006-01-02.
func (*ratesPage) Words(day string) string { return shortDay(day) }

// ratesTabs are what else is on the Rates sheet.
func ratesTabs(here string) []Link {
	return []Link{{Name: "Rates", Path: "/rates", Here: here == "/rates"}, {Name: "What if", Path: "/rates/what-if", Here: here == "/rates/what-if"}}
}

func (v *visit) newRatesPage() (*ratesPage, price.Shop, error) {
	shop, since, err := v.desk.Rates(v.ctx())
	if err != nil {
		return nil, shop, err
	}
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return nil, shop, err
	}
	today := v.desk.Now().In(seller.Location())
	p := &ratesPage{
		Base:  Base{Title: "Rates", Sheet: "Rates", Tabs: ratesTabs("/rates"), Block: Block{Thing: "Rates", State: "in force"}},
		From:  Field{Name: "from", Label: "Holds from", Value: today.Format("1/2/2006"), Short: true, Help: "Month/day/year. Quotes made before hold as they are."},
		Note:  Field{Name: "note", Label: "Why it changes", Optional: true, Help: "Stands beside the sheet: new wages, coil up."},
		Since: since, Today: today.Format(time.DateOnly), Empty: since == "",
	}
	if p.Sheets, err = v.desk.RateSheets(v.ctx()); err != nil {
		return nil, shop, err
	}
	if p.Stale, err = v.desk.StaleCosts(v.ctx(), v.actor); err != nil {
		return nil, shop, err
	}
	p.Measured, err = v.desk.MeasuredTimes(v.ctx(), v.actor)
	return p, shop, err
}

// showRates shows the sheet in force; with ?sheet= one of the past or to come.
func showRates(v *visit) error {
	p, shop, err := v.newRatesPage()
	if err != nil {
		return err
	}
	if id := v.query("sheet"); id != "" {
		if shop, err = p.sheet(id); err != nil {
			return err
		}
	}
	if p.Empty {
		shop = firstRates()
	}
	b := v.newBinder(false)
	ratesForm(b, &shop)
	p.lay(b, shop)
	return v.show(p)
}

// sheet gives a kept sheet by its number.
func (p *ratesPage) sheet(id string) (shop price.Shop, err error) {
	for _, s := range p.Sheets {
		if fmt.Sprint(s.ID) == id {
			p.Since, p.Block.State = s.Effective, "of "+s.Effective
			p.Block.Number = id
			return shop, json.Unmarshal(s.Body, &shop)
		}
	}
	return shop, fault.NotFoundf("there is no such sheet of rates")
}

// firstRates is where a shop without rates starts: one target, and nothing else.
func firstRates() price.Shop {
	return price.Shop{Targets: []price.Target{{Goal: price.Margin, Value: money.Must(".3")}}, Policy: price.Policy{MinimumSetups: true}}
}

func doSetRates(v *visit) error {
	p, _, err := v.newRatesPage()
	if err != nil {
		return err
	}
	do := v.c.Request.PostFormValue("do")
	reshaped := reshape(v.c.Request.PostForm, do) || do == "work-out"
	shop := price.Shop{}
	b := v.newBinder(true)
	ratesForm(b, &shop)
	from, note := v.day(&p.From), v.text(&p.Note)
	p.lay(b, shop)
	if reshaped {
		unfold(p.Parts, listOf(do))
		return v.show(p)
	}
	if err := b.checked(shop.Check()); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.SetRates(v.ctx(), v.actor, shop, from, note); err != nil {
		return v.again(p, b.nearest(err))
	}
	return v.redirectSaying("/rates", "The rates hold from "+from.Format("January 2, 2006")+" on.")
}

// lay takes the form's parts and puts the warnings at their places.
func (p *ratesPage) lay(b *binder, shop price.Shop) {
	p.Parts = b.at.Parts
	for _, w := range shop.Warnings(price.Day(p.Today)) {
		place := strings.TrimSuffix(strings.TrimPrefix(w.Field, "shop."), ".dated")
		warnAt(p.Parts, partID("", place), sentence(w.Text))
	}
}

func warnAt(parts []*formPart, id, text string) {
	for _, p := range parts {
		if p.ID == id {
			p.Warn = append(p.Warn, text)
		}
		warnAt(p.Parts, id, text)
	}
}

// doTakeMeasured puts a measured figure in place of the estimate.
func doTakeMeasured(v *visit) error {
	take := desk.TakeMeasured{Machine: v.c.Param("machine"), What: v.c.Request.PostFormValue("what"), Part: v.c.Request.PostFormValue("part")}
	said, err := v.desk.TakeMeasured(v.ctx(), v.actor, take)
	if err != nil {
		return err
	}
	return v.redirectSaying("/rates#measured", said)
}
