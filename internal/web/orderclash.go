package web

import (
	"fmt"
	"path"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
)

// meanwhileAsk shows both sides of a draft that somebody else saved while this
// person was changing it. All that was typed stays in the page; sent again, it
// replaces the other's knowingly.
func (v *visit) meanwhileAsk(p *counterPage, yours order.Order) error {
	f, err := v.desk.OrderFile(v.ctx(), v.actor, p.ID)
	if err != nil || f.Order.Version == p.Version {
		return err
	}
	onFile, err := v.filled(f.Order)
	if err != nil {
		return err
	}
	typed, err := v.filled(yours)
	if err != nil {
		return err
	}
	was := onFile.askFields()
	for i, field := range typed.askFields() {
		p.differ(field.Label, was[i].shown(), field.shown())
	}
	for i := range max(len(onFile.Lines), len(typed.Lines)) {
		p.differ(fmt.Sprintf("Line %d", i+1), onFile.lineSays(i, f.Order), typed.lineSays(i, yours))
	}
	p.Version = f.Order.Version
	return nil
}

// filled gives a counter page with an order in its fields, for comparing.
func (v *visit) filled(o order.Order) (*counterPage, error) {
	p, err := v.newCounterPage()
	if err != nil {
		return nil, err
	}
	p.fill(o)
	for _, line := range o.Lines {
		p.fillLine(line)
	}
	return p, nil
}

// askFields are what a person types of an order besides its lines.
func (p *counterPage) askFields() []*Field {
	return []*Field{&p.Customer, &p.Contact, &p.Phone, &p.Email, &p.Job, &p.PO, &p.Fulfil, &p.Street, &p.City, &p.State, &p.Postal, &p.Miles, &p.WantBy, &p.Rush, &p.Note}
}

// lineSays is what a line asks for in one sentence, "" where there is none.
func (p *counterPage) lineSays(i int, o order.Order) string {
	if i >= len(p.Lines) {
		return ""
	}
	l, line := p.Lines[i], o.Lines[i]
	words := []string{l.Make.shown()}
	if l.FromShelf {
		return words[0] + ": " + l.Count.Value
	}
	words = append(words, l.ColourName, line.Material, line.Gauge)
	if line.Rib != "" {
		words = append(words, line.Rib)
	}
	return strings.Join(words, ", ") + ": " + strings.ReplaceAll(typedCuts(line.Cuts), "\n", "; ")
}

// differ notes a field in which the two sides aren't the same.
func (b *Base) differ(label, onFile, yours string) {
	if onFile != yours {
		b.Meanwhile = append(b.Meanwhile, Difference{label, onFile, yours})
	}
}

// stepAgain shows an order's page again when a step was refused. When somebody
// else was faster it shows both sides: how the order stands now, and what this
// person wanted and typed, as their form may not be on the page any more.
func (v *visit) stepAgain(p *orderPage, err error) error {
	seen, o := v.number("version"), p.File.Order
	if !fault.Is(err, fault.Conflict) || seen == 0 || seen == o.Version {
		return v.again(p, err)
	}
	p.differ("Order "+o.Number, string(o.State)+", "+o.Charged().Total.Format(), path.Base(v.c.Request.URL.Path))
	for _, field := range v.read {
		if field.Kind != "checkbox" {
			p.differ(field.Label, "", field.shown())
		}
	}
	return v.again(p, err)
}
