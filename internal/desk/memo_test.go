package desk_test

import (
	"fmt"
	"testing"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
)

// billed makes panels of an odd length, hands them over and invoices them.
func (w *works) billed(t *testing.T, ask desk.InvoiceAsk, qty int, length measure.Length) desk.Bill {
	t.Helper()
	o := asked(with(panels(qty, 8), func(l *order.Line) { l.Cuts[0].Length = length }))
	o.CustomerID = rivalFirm
	o = w.accept(t, w.quote(t, w.take(t, o)))
	w.cutAll(t)
	for _, b := range w.file(t, o).Bundles {
		must[order.Bundle](t)(w.CheckOff(t.Context(), clerk, o.ID, b.Code))
	}
	o = must[order.Order](t)(w.PickUp(t.Context(), clerk, o.ID, desk.HandOver{Key: "k" + o.Number, Receiver: "Wren"}))
	ask.OrderID = o.ID
	return must[desk.Bill](t)(w.IssueInvoice(t.Context(), keeper, ask))
}

// Panels are billed by the foot and come back by the piece: each to its last
// sixteenth, so that all of them one by one make the line to the cent. A charge
// is taken back in part, and what is shown first is what is issued.
func TestMemoByPiecesAndCharges(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	bill := w.billed(t, desk.InvoiceAsk{}, 3, 12*measure.Foot+6*measure.Inch+measure.Inch/16)
	inv := bill.Invoice
	f := must[desk.InvoiceRecord](t)(w.InvoiceRecord(ctx, keeper, bill.ID))
	if f.Pieces["1.1"] != 3 || f.Left[0].Net.Cmp(inv.Lines[0].Net) != 0 {
		t.Fatalf("%d pieces billed, %s left", f.Pieces["1.1"], f.Left[0].Net)
	}
	for field, ask := range map[string]desk.MemoAsk{
		"lines.1.quantity":     {Pieces: []desk.MemoPieces{{ID: "1.1", Pieces: 4}}},
		"lines.1.id":           {Lines: []books.MemoLine{{ID: "9", Quantity: money.Int(1)}}},
		"lines.2.quantity":     {Lines: []books.MemoLine{{ID: "1.1", Amount: cash(1)}}, Pieces: []desk.MemoPieces{{ID: "7", Pieces: 1}}},
		"adjustments.1.amount": {Adjustments: []books.MemoAdjustment{{ID: "A1", Amount: inv.Adjustments[0].Amount.Add(cash(1))}}},
		"lines":                {},
	} {
		ask.InvoiceID, ask.Reason = bill.ID, "bent"
		_, err := w.PreviewMemo(ctx, keeper, ask)
		if all := fault.All(err); len(all) == 0 || all[0].Field != field {
			t.Errorf("want a refusal at %s: %v", field, err)
		}
	}
	sum := cash(0)
	for i := range 3 {
		ask := desk.MemoAsk{InvoiceID: bill.ID, Reason: fmt.Sprintf("piece %d bent", i+1), Pieces: []desk.MemoPieces{{ID: "1.1", Pieces: 1}}}
		if i == 0 {
			ask.Adjustments = []books.MemoAdjustment{{ID: "A1", Amount: cash(333)}}
		}
		shown := must[books.Memo](t)(w.PreviewMemo(ctx, keeper, ask))
		m := must[desk.Note](t)(w.CreditMemo(ctx, keeper, ask)).Memo
		if shown.Total.Cmp(m.Total) != 0 || shown.Number != "" || m.Number != fmt.Sprintf("CM-%05d", i+1) {
			t.Fatalf("shown %s, issued %s of %s", shown.Total, m.Number, m.Total)
		}
		sum = sum.Add(m.Lines[0].Net)
	}
	if sum.Cmp(inv.Lines[0].Net) != 0 {
		t.Errorf("all pieces one by one make %s of a line of %s", sum, inv.Lines[0].Net)
	}
	w.agree(t, rivalFirm)
	w.sound(t)
}

// An invoice that was credited in part and then whole is undone: everything is
// billed anew, once.
func TestInvoiceAnewAfterPartAndWhole(t *testing.T) {
	for name, part := range map[string]desk.MemoAsk{
		"goods": {Pieces: []desk.MemoPieces{{ID: "1.1", Pieces: 1}}},
		"money": {Lines: []books.MemoLine{{ID: "1.1", Amount: cash(777)}}},
	} {
		w := newWorks(t)
		wrong := w.billed(t, desk.InvoiceAsk{}, 3, 12*measure.Foot+6*measure.Inch+measure.Inch/2)
		part.InvoiceID, part.Reason = wrong.ID, "a part of it"
		first := must[desk.Note](t)(w.CreditMemo(t.Context(), keeper, part)).Memo
		rest := must[desk.Note](t)(w.CreditMemo(t.Context(), keeper, desk.MemoAsk{InvoiceID: wrong.ID, Reason: "billed to the wrong job", Whole: true})).Memo
		if first.Total.Add(rest.Total).Cmp(wrong.Invoice.Total) != 0 || first.TaxTotal.Add(rest.TaxTotal).Cmp(wrong.Invoice.TaxTotal) != 0 {
			t.Errorf("%s: %s and %s credit %s", name, first.Total, rest.Total, wrong.Invoice.Total)
		}
		again := w.invoice(t, wrong.OrderID)
		if again.Invoice.Total.Cmp(wrong.Invoice.Total) != 0 || again.Invoice.Lines[0].Quantity.Cmp(wrong.Invoice.Lines[0].Quantity) != 0 {
			t.Errorf("%s: billed anew for %s, at first %s", name, again.Invoice.Total, wrong.Invoice.Total)
		}
		if f := must[desk.InvoiceRecord](t)(w.InvoiceRecord(t.Context(), keeper, again.ID)); len(f.Over) > 0 {
			t.Errorf("%s: %+v should be taken back of it", name, f.Over)
		}
		w.sound(t)
	}
}

// An order's deposit is taken off its last invoice whole, though part of the
// total is held back; a credit of the whole also clears what is held back, so
// that nobody owes or is owed a part of what never was.
func TestHeldBackWithDepositAndCredit(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	o := w.accept(t, w.quote(t, w.take(t, asked(tubes(40)))))
	must[desk.Received](t)(w.TakeDeposit(ctx, clerk, desk.MoneyIn{OrderID: o.ID, Amount: cash(7_777), Method: books.ByCard}))
	o = w.handOver(t, o)
	ask := desk.InvoiceAsk{OrderID: o.ID, Retain: money.Must("0.075")}
	inv := must[desk.Bill](t)(w.IssueInvoice(ctx, keeper, ask))
	i := inv.Invoice
	if len(i.Applied) != 1 || i.Applied[0].Amount.Cmp(cash(7_777)) != 0 || i.AmountDue.Add(i.Retained).Add(cash(7_777)).Cmp(i.Total) != 0 {
		t.Fatalf("deposit %+v, held %s, due %s of %s", i.Applied, i.Retained, i.AmountDue, i.Total)
	}
	note := must[desk.Note](t)(w.CreditMemo(ctx, keeper, desk.MemoAsk{InvoiceID: inv.ID, Reason: "all of it came back", Whole: true}))
	f := must[desk.InvoiceRecord](t)(w.InvoiceRecord(ctx, keeper, inv.ID))
	if !f.Held.IsZero() || !f.Item.Open.IsZero() {
		t.Errorf("after the credit %s is held and %s open", f.Held, f.Item.Open)
	}
	st := w.agree(t, tradeFirm)
	if st.Credit.Cmp(cash(7_777)) != 0 || !st.Balance.IsZero() || !st.Retained.IsZero() || note.Memo.Total.Cmp(i.Total) != 0 {
		t.Errorf("the deposit is to their good again: %+v", st)
	}
	w.sound(t)
}
