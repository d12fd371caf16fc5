package web

import (
	"ribdesk/internal/order"
)

// Metal names a line's metal in words; one that is no longer in the catalogue
// goes by its codes.
func (p *orderPage) Metal(l order.Line) string {
	if l.Kind == order.Accessory {
		return ""
	}
	if m, ok := metalKnown(p.metals, l.Material+"|"+l.Gauge+"|"+l.Colour); ok {
		return m.Colour.Name + ", " + m.Material.Name + ", " + p.thickness(m)
	}
	return l.Material + " " + l.Gauge + " " + l.Colour
}

// FromShelf reports whether an order is ready as soon as it is picked: accepted,
// and of accessories alone.
func (p *orderPage) FromShelf() bool {
	for _, l := range p.File.Order.Lines {
		if l.Kind != order.Accessory {
			return false
		}
	}
	return p.File.Order.State == order.Accepted
}

// whyOptions are the usual reasons to decline.
func whyOptions() []Option {
	var out []Option
	for _, w := range order.Whys {
		out = append(out, Option{string(w), w.Words()})
	}
	return out
}

// whyDeclined reads the reason of a declined quote: one of the usual ones, so
// that they can be counted, and what the person adds.
func (v *visit) whyDeclined(p *orderPage) (string, error) {
	kind, more := order.Why(v.choice(&p.Why)), v.text(&p.Reason)
	if err := v.wrongs(); err != nil {
		return "", err
	}
	if more == "" {
		return kind.Words(), nil
	}
	return kind.Words() + ": " + more, nil
}

// doWriteMessage keeps a message about an order.
func doWriteMessage(v *visit) error {
	return v.step("Sent.", func(id, _ int64, p *orderPage) error {
		return v.desk.WriteMessage(v.ctx(), v.actor, id, v.text(&p.Message))
	})
}

// doRenewLink makes a new private link, shown once.
func doRenewLink(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	token, err := v.desk.RenewLink(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.redirectSaying(recordPath("order", id), "The new private link, shown only now: %s The one before opens nothing any more.", v.desk.BaseURL()+"/q/"+token)
}

// doChangeAccepted begins a change of an accepted order and opens it at the
// counter.
func doChangeAccepted(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	next, err := v.desk.ChangeAccepted(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.redirectSaying(recordPath("order", next.ID)+"/edit", "Order %s changes an accepted one. That one stands until this is quoted and accepted.", next.Number)
}
