package books

import (
	"fmt"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// OrderLine is a line of an accepted order as the books see it.
type OrderLine struct {
	Line                 // as accepted; Quantity is what was ordered
	Invoiced  money.Rate // quantity on earlier invoices
	Delivered money.Rate // quantity handed over now, signed for on the ticket
}

// Deliverable gives the invoice lines of one delivery: for each line that was
// handed over, the delivered quantity at the accepted price. Lines of which
// nothing was delivered stay off. It refuses more than was ordered and not yet
// invoiced, so that no foot is billed twice, and a delivery of nothing.
func Deliverable(order []OrderLine) ([]Line, error) {
	var l fault.List
	var lines []Line
	for i, o := range order {
		at := fmt.Sprintf("lines.%d.delivered", i+1)
		left := o.Quantity.Sub(o.Invoiced)
		switch {
		case o.Delivered.Sign() < 0:
			l.Addf(at, "what was delivered can't be negative; short or damaged goods go on a credit memo")
		case exceeds(o.Delivered, left):
			l.Addf(at, "%s %s were delivered, but only %s of the order are left to invoice; change the order first", o.Delivered, o.Unit, left)
		case o.Delivered.Sign() > 0:
			line := o.Line
			line.Quantity = o.Delivered
			lines = append(lines, line)
		}
	}
	if len(l) == 0 && len(lines) == 0 {
		l.Addf("lines", "nothing was delivered, so there is nothing to invoice")
	}
	return lines, l.Err()
}

// LineProgress is how far a line of the order is invoiced after this delivery.
type LineProgress struct {
	ID                          string
	Unit                        string
	Ordered, Before, This, Left money.Rate
}

// Progress shows per line of the order what was invoiced before, what this
// delivery adds and what is left.
func Progress(order []OrderLine) []LineProgress {
	out := make([]LineProgress, len(order))
	for i, o := range order {
		out[i] = LineProgress{o.ID, o.Unit, o.Quantity, o.Invoiced, o.Delivered, o.Quantity.Sub(o.Invoiced).Sub(o.Delivered)}
	}
	return out
}
