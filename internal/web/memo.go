package web

import (
	"fmt"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// memoForm corrects an invoice: goods back, money off, charges taken back.
type memoForm struct {
	Rows          []memoRow
	Charges       []chargeRow
	Whole, Reason Field
	Over          bool        // something was billed that was not handed over
	Shown         *books.Memo // what it comes to, when that was asked for
}

// memoRow is a line that can be credited: by pieces where it is sold by length,
// else by quantity; or by an amount.
type memoRow struct {
	Line           books.Line
	ByPieces       bool
	Back, MoneyOff Field
}

// chargeRow is a charge or an allowance of which part can be taken back.
type chargeRow struct {
	Charge books.Adjustment
	Amount Field
}

func newMemoForm(f desk.InvoiceRecord) memoForm {
	m := memoForm{Over: len(f.Over) > 0,
		Reason: Field{Name: "reason", Label: "Reason, printed on the memo"},
		Whole:  Field{Name: "whole", Label: "Credit all that is left of it", Kind: "checkbox", Optional: true}}
	for i, l := range f.Bill.Invoice.Lines {
		m.Rows = append(m.Rows, newMemoRow(f, i, l))
	}
	var before []books.Memo
	for _, n := range f.Notes {
		before = append(before, n.Memo)
	}
	for i, a := range f.Bill.Invoice.Adjustments {
		c := chargeRow{a, Field{Name: fmt.Sprintf("charge.%d", i), Label: "Taken back: " + a.Reason, Keys: "decimal", Unit: "$", Optional: true, Short: true,
			Help: f.Bill.Invoice.LeftOfCharge(a, before).Format() + " is left."}}
		if a.Allowance {
			c.Amount.Help += " It lowers the credit: what was let off on goods that come back."
		}
		m.Charges = append(m.Charges, c)
	}
	return m
}

func newMemoRow(f desk.InvoiceRecord, i int, l books.Line) memoRow {
	left := f.Left[i]
	r := memoRow{Line: l,
		Back:     Field{Name: fmt.Sprintf("quantity.%d", i), Label: "Quantity back, line " + l.ID, Keys: "decimal", Optional: true, Short: true, Help: left.Quantity.Shorten(3).String() + " left."},
		MoneyOff: Field{Name: fmt.Sprintf("amount.%d", i), Label: "Or money off, line " + l.ID, Keys: "decimal", Unit: "$", Optional: true, Short: true, Help: left.Net.Format() + " left."}}
	pieces, byPieces := f.Pieces[l.ID]
	if byPieces {
		r.ByPieces = true
		r.Back = Field{Name: fmt.Sprintf("pieces.%d", i), Label: "Pieces back, line " + l.ID, Keys: "numeric", Optional: true, Short: true, Help: fmt.Sprintf("%s left of %d billed.", piecesOf(left.Quantity, l, pieces), pieces)}
	}
	for _, o := range f.Over {
		switch {
		case o.ID != l.ID:
		case byPieces:
			r.Back.Value = piecesOf(o.Quantity, l, pieces)
		default:
			r.Back.Value = o.Quantity.Shorten(3).String()
		}
	}
	return r
}

// piecesOf gives how many of the pieces of a line a quantity of it is.
func piecesOf(q money.Rate, l books.Line, pieces int) string {
	return q.Div(l.Quantity).Mul(money.Int(int64(pieces))).Shorten(0).String()
}

// readMemo reads what to take back, and which field each fault of the desk
// belongs to.
func (v *visit) readMemo(f *memoForm, ask *desk.MemoAsk, currency money.Currency) map[string]string {
	at := map[string]string{"lines": f.Whole.Name}
	ask.Reason, ask.Whole = v.text(&f.Reason), v.yes(&f.Whole)
	var pieces []string // fields of the pieces, which count on after the lines
	for i := range f.Rows {
		row := &f.Rows[i]
		line := books.MemoLine{ID: row.Line.ID, Amount: v.amount(&row.MoneyOff, currency)}
		if row.ByPieces {
			if n := v.whole(&row.Back); n != 0 {
				ask.Pieces = append(ask.Pieces, desk.MemoPieces{ID: line.ID, Pieces: n})
				pieces = append(pieces, row.Back.Name)
			}
		} else {
			line.Quantity = v.rate(&row.Back)
		}
		if row.Back.Value != "" && row.MoneyOff.Value != "" {
			v.wrong(&row.MoneyOff, "give either what came back or money off, not both")
		}
		if !line.Quantity.IsZero() || !line.Amount.IsZero() {
			ask.Lines = append(ask.Lines, line)
			n := len(ask.Lines)
			at[fmt.Sprintf("lines.%d.quantity", n)], at[fmt.Sprintf("lines.%d.amount", n)] = row.Back.Name, row.MoneyOff.Name
		}
	}
	for i, name := range pieces {
		n := len(ask.Lines) + 1 + i
		at[fmt.Sprintf("lines.%d.quantity", n)], at[fmt.Sprintf("lines.%d.id", n)] = name, name
	}
	for i := range f.Charges {
		c := &f.Charges[i]
		if amount := v.amount(&c.Amount, currency); !amount.IsZero() {
			ask.Adjustments = append(ask.Adjustments, books.MemoAdjustment{ID: c.Charge.ID, Amount: amount})
			at[fmt.Sprintf("adjustments.%d.amount", len(ask.Adjustments))] = c.Amount.Name
		}
	}
	return at
}

// movedTo moves faults to the fields that a form calls otherwise.
func movedTo(err error, names map[string]string) error {
	if err == nil {
		return nil
	}
	var l fault.List
	for _, f := range fault.All(err) {
		moved := *f
		if name, known := names[f.Field]; known {
			moved.Field = name
		}
		l = append(l, &moved)
	}
	return l.Err()
}

// doCreditMemo issues a credit memo, or shows what it would come to.
func doCreditMemo(v *visit) error {
	p, err := v.loadInvoice()
	if err != nil {
		return err
	}
	p.Doing = "memo"
	ask := desk.MemoAsk{InvoiceID: p.File.Bill.ID}
	at := v.readMemo(&p.Memo, &ask, p.Inv.Currency)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if v.c.PostForm("step") == "show" {
		m, err := v.desk.PreviewMemo(v.ctx(), v.actor, ask)
		if err != nil {
			return v.again(p, movedTo(err, at))
		}
		p.Memo.Shown = &m
		return v.show(p)
	}
	note, err := v.desk.CreditMemo(v.ctx(), v.actor, ask)
	if err != nil {
		return v.again(p, movedTo(err, at))
	}
	return v.redirectSaying(invoicePath(p.File.Bill.ID), fmt.Sprintf("Credit memo %s of %s issued.", note.Memo.Number, note.Memo.Total.Format()))
}
