package web

import (
	"fmt"
	"strconv"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// liftingPage is how pieces are lifted in the shop, what one person may lift by
// the equation, and what in the shop is more.
type liftingPage struct {
	Base
	Version int64
	Parts   []*formPart // for the owner
	Limit   load.LiftLimit
	Terms   []liftTerm
	Over    []desk.HandLift
}

func (liftingPage) file() string { return "lifting" }

// liftTerm is one factor of the equation.
type liftTerm struct {
	Letters string
	Name    string
	From    string // what it was figured from
	Is      string
}

func liftTerms(r load.LiftLimit) []liftTerm {
	factor := func(f float64) string { return strconv.FormatFloat(f, 'f', 3, 64) }
	l := r.Lift
	return []liftTerm{
		{"LC", "load constant", "the best of conditions", fmt.Sprintf("%.0f lb", load.LoadConstant)},
		{"HM", "reach: 10 / H", inches(l.Reach) + " ahead of the ankles", factor(r.HM)},
		{"VM", "height: 1 − 0.0075 |V − 30|", inches(l.Height) + " above the floor", factor(r.VM)},
		{"DM", "travel: 0.82 + 1.8 / D", inches(l.Travel) + " up or down", factor(r.DM)},
		{"AM", "twist: 1 − 0.0032 A", fmt.Sprintf("%g°", l.Twist), factor(r.AM)},
		{"FM", "frequency, by table", fmt.Sprintf("%g a minute for %g h", l.PerMinute, l.Hours), factor(r.FM)},
		{"CM", "grip, by table", string(l.Grip), factor(r.CM)},
	}
}

// inches writes a length as the equation takes it.
func inches(l measure.Length) string { return fmt.Sprintf("%g in", l.InInches()) }

// liftingForm ties the lift to its form.
func liftingForm(b *binder, l *load.Lift) {
	decimal := func(f Field, at *float64) {
		r := money.FromFloat(*at)
		b.rate(f, &r)
		*at = r.Float()
	}
	b.part("How pieces are lifted here", func(*formPart) {
		b.length(Field{Name: "reach", Label: "Hands ahead of the ankles", Short: true, Help: "H. 10 in is as near as hands get; beyond 25 in nobody should lift."}, &l.Reach)
		b.length(Field{Name: "height", Label: "Hands above the floor", Short: true, Help: "V, where the lift begins. 30 in is best."}, &l.Height)
		b.length(Field{Name: "travel", Label: "Up or down", Short: true, Help: "D, from where it is taken to where it is put."}, &l.Travel)
		decimal(Field{Name: "twist", Label: "Twist of the body", Unit: "°", Short: true, Help: "A. 0 is straight ahead."}, &l.Twist)
		choose(b, Field{Name: "grip", Label: "Grip", Short: true, Options: options(load.GoodGrip, load.FairGrip, load.PoorGrip)}, &l.Grip)
		decimal(Field{Name: "per_minute", Label: "Lifts in a minute", Short: true}, &l.PerMinute)
		decimal(Field{Name: "hours", Label: "Hours of it without a long break", Unit: "h", Short: true}, &l.Hours)
	})
}

func (v *visit) newLiftingPage(b *binder) (p *liftingPage, onFile load.Lift, newest int64, err error) {
	onFile, newest, over, err := v.desk.Lifting(v.ctx(), v.actor)
	if err != nil {
		return nil, onFile, 0, err
	}
	p = &liftingPage{Base: Base{Title: "Lifting by hand", Sheet: "Loads", Tabs: open(v.actor.Role, loadTabs(""), "Lifting"), Block: Block{Thing: "Lifting"}}, Version: newest, Over: over}
	if p.Limit, err = onFile.Limit(); err != nil {
		return nil, onFile, 0, err
	}
	p.Terms = liftTerms(p.Limit)
	if v.actor.Role == party.Owner && b != nil {
		l := onFile
		liftingForm(b, &l)
		p.Parts = b.at.Parts
	}
	return p, onFile, newest, nil
}

func showLifting(v *visit) error {
	p, _, _, err := v.newLiftingPage(v.newBinder(false))
	if err != nil {
		return err
	}
	return v.show(p)
}

func doSaveLifting(v *visit) error {
	p, l, newest, err := v.newLiftingPage(nil)
	if err != nil {
		return err
	}
	shown := v.newBinder(false)
	liftingForm(shown, &l)
	onFile := values(shown.fields)
	p.Version = v.number("version")
	b := v.newBinder(true)
	liftingForm(b, &l)
	p.Parts = b.at.Parts
	if err := b.checked(l.Check()); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.SaveLifting(v.ctx(), v.actor, l, p.Version); err != nil {
		if fault.Is(err, fault.Conflict) {
			p.Version = v.meanwhile(&p.Base, b.fields, onFile, p.Version, newest)
		}
		return v.again(p, err)
	}
	return v.redirectSaying("/loads/lifting", "Saved. Pieces are held to it from now on.")
}
