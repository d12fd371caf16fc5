package web

import (
	"fmt"

	"ribdesk/internal/caution"
	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/words"
)

// slip is the price with what it is made of.
type slip struct {
	Priced   desk.Priced
	Lines    []price.Line // of the offer taken
	Costs    bool         // staff see what it costs
	Cautions []said
}

// said is a caution in words: what belongs to this choice first, then what the
// trade says of it in general.
type said struct {
	Title, General string
	Own            words.Text
	Act            bool
}

func (p *counterPage) setSlip(priced desk.Priced, actor party.Actor) {
	p.Slip = &slip{Priced: priced, Lines: priced.Quote.Alone.Lines, Costs: actor.Role == party.Owner || actor.Role == party.Counter, Cautions: cautions(priced.Notices)}
	if priced.Order.Sharing && priced.Quote.Shared != nil {
		p.Slip.Lines = priced.Quote.Shared.Lines
	}
	for i := range priced.Order.Lines {
		if i < len(p.Lines) {
			weighRows(p.Lines[i], priced.Order.Lines[i])
		}
	}
}

// cautionOf names the general words that go with a notice.
var cautionOf = map[desk.NoticeKind]caution.Code{
	desk.NoticeWaves: caution.OilCanning, desk.NoticeMovement: caution.Movement, desk.NoticeMetals: caution.Metals,
}

// cautions words the notices of a choice, what must be decided first, and ends
// with whose word counts.
func cautions(notices []desk.Notice) (out []said) {
	titles := map[desk.NoticeKind]string{desk.NoticeSlope: "Roof slope", desk.NoticeHaul: "Hauling"}
	general := map[desk.NoticeKind]bool{}
	for _, act := range []bool{true, false} {
		for _, n := range notices {
			if n.Act != act {
				continue
			}
			s := said{Title: titles[n.Kind], Own: n.Text, Act: n.Act}
			if code, ok := cautionOf[n.Kind]; ok {
				c := caution.Of(code, words.English)
				s.Title = c.Title
				if !general[n.Kind] {
					s.General = c.Text
				}
				general[n.Kind] = true
			}
			out = append(out, s)
		}
	}
	last := caution.Of(caution.Deference, words.English)
	return append(out, said{Title: last.Title, General: last.Text})
}

// Best is the lower of both totals, for the one line a phone has room for.
func (s *slip) Best() string {
	q := s.Priced.Quote
	if s.Priced.Order.Sharing && q.Shared != nil {
		return q.Shared.Total.Format()
	}
	return q.Alone.Total.Format()
}

// Fold says on the phone's line what is shared.
func (s *slip) Fold() string {
	if s.Priced.Quote.Shared == nil {
		return ""
	}
	if s.Priced.Order.Sharing {
		return "sharing"
	}
	return "alone"
}

func (v *visit) drawLines(p *counterPage, o order.Order) error {
	for i, l := range o.Lines {
		if err := v.drawLine(p, p.Lines[i], l); err != nil {
			return err
		}
	}
	return nil
}

func (v *visit) drawLine(p *counterPage, l *counterLine, line order.Line) error {
	view, ok, err := v.desk.LineSection(v.ctx(), v.actor, line, fmt.Sprintf("line-%d", l.No), v.reader)
	if err == nil && ok {
		l.Drawing = view.Picture().SVG()
	}
	return err
}
