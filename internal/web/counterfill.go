package web

import (
	"fmt"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
)

// showEditOrder opens a draft at the counter.
func showEditOrder(v *visit) error {
	f, err := v.orderFile()
	if err != nil {
		return err
	}
	o := f.Order
	if o.State != order.Draft {
		return fault.Conflictf("order %s is %s; open it again before you change it", o.Number, o.State)
	}
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	p.ID, p.Version, p.Title = o.ID, o.Version, v.reader.T("Order %s", o.Number)
	p.Block = Block{Thing: "Ask and price", Number: o.Number, Revision: strconv.Itoa(o.Revision), State: string(o.State)}
	return v.showFilled(p, o)
}

// showCopied opens the counter with what an earlier order asked for; its dates
// and prices are new.
func showCopied(v *visit, id int64) error {
	f, err := v.desk.OrderFile(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	o := f.Order
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	p.Notice = v.reader.T("Copied from order %s, at today's price. Change what is different.", o.Number)
	again := desk.Again(o)
	for i := range again.Lines {
		again.Lines[i].Section = nil // drawn from the catalogue again
	}
	return v.showFilled(p, again)
}

// showFilled shows the counter with an order in its fields, priced.
func (v *visit) showFilled(p *counterPage, o order.Order) error {
	p.fill(o)
	if o.CustomerID != 0 && v.takesAsks() {
		if err := v.ofFirm(p, o.CustomerID); err != nil {
			return err
		}
	}
	for i, line := range o.Lines {
		l := p.fillLine(line)
		if l.FromShelf {
			continue
		}
		o.Lines[i].Material, o.Lines[i].Gauge, o.Lines[i].Colour = metalOf(l.Metal.Value)
		v.cutList(l, l.Cuts.Value, p.Unit())
	}
	v.read = append(v.read, p.lineFields()...)
	return v.answerAsk(p, o)
}

// fillLine puts a line of an order into the fields of a new one on the page.
func (p *counterPage) fillLine(line order.Line) *counterLine {
	l := p.newLine()
	l.Make.Value, l.Rib.Value = string(line.Kind)+":"+line.Code, line.Rib
	l.Metal.Value = line.Material + "|" + line.Gauge + "|" + line.Colour
	p.offerMetals(l, line)
	if l.FromShelf {
		l.Count.Value = strconv.Itoa(line.Count)
	} else {
		l.Cuts.Value = typedCuts(line.Cuts)
	}
	return l
}

// fill puts an order into the counter's fields, all but its lines.
func (p *counterPage) fill(o order.Order) {
	p.Contact.Value, p.Email.Value, p.Phone.Value, p.Job.Value, p.PO.Value = o.Contact.Name, o.Contact.Email, o.Contact.Phone, o.Job, o.PO
	p.Fulfil.Value, p.Street.Value, p.City.Value, p.State.Value, p.Postal.Value = string(o.Fulfil), o.ShipTo.Street, o.ShipTo.City, o.ShipTo.State, o.ShipTo.Postal
	p.Note.Value, p.Rush.Checked, p.Miles.Value = o.Note, o.Rush, tenthsText(o.MilesTenths)
	if !o.WantBy.IsZero() {
		p.WantBy.Value = o.WantBy.Format("1/2/2006")
	}
	if o.CustomerID != 0 && p.customer.ID == 0 {
		p.Customer.Value = o.Customer
	}
}

// typedCuts writes a cut list so that it reads back the same.
func typedCuts(cuts []order.CutItem) string {
	rows := make([]string, len(cuts))
	for i, c := range cuts {
		rows[i] = fmt.Sprintf("%d @ %s", c.Qty, c.Length.Exact())
		if c.Mark != "" {
			rows[i] += " #" + c.Mark
		}
	}
	return strings.Join(rows, "\n")
}
