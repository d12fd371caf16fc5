package desk_test

import (
	"bytes"
	"testing"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/einvoice"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

// exchanged wants beside every invoice and memo of an order a file that follows
// the standard, passes the OASIS schema where it is at hand, and asks for what
// the record asks for. It gives the files of the invoice.
func (w *works) exchanged(t *testing.T, bill desk.Bill) einvoice.Document {
	t.Helper()
	var own einvoice.Document
	f := must[desk.InvoiceRecord](t)(w.InvoiceRecord(t.Context(), keeper, bill.ID))
	want := map[string]money.Amount{bill.Invoice.Number: bill.Invoice.AmountDue.Add(bill.Invoice.Retained)}
	for _, n := range f.Notes {
		want[n.Memo.Number] = n.Memo.Total
	}
	files := 0
	for _, p := range f.Papers {
		if !desk.IsExchangeFile(p) {
			continue
		}
		files++
		p = must[order.Paper](t)(w.Paper(t.Context(), keeper, p.ID))
		doc, err := einvoice.Read(bytes.NewReader(p.PDF))
		if err != nil {
			t.Fatal(err)
		}
		if broken := einvoice.Check(doc); len(broken) > 0 {
			t.Errorf("%s: %v", p.Number, broken)
		}
		if doc.Totals.Payable.Value.Cmp(want[p.Number].Rate()) != 0 {
			t.Errorf("%s asks for %s, the books say %s", p.Number, doc.Totals.Payable.Value, want[p.Number])
		}
		schema := "Invoice"
		if doc.Type == einvoice.CreditNote {
			schema = "CreditNote"
		} else {
			own = doc
		}
		validate(t, schema, p.PDF)
	}
	if files != len(want) {
		t.Errorf("%s: %d exchange files beside %d papers", bill.Invoice.Number, files, len(want))
	}
	return own
}

// only wants one tax group of a category in a file.
func only(t *testing.T, what string, d einvoice.Document, category einvoice.Category, reasoned bool) {
	t.Helper()
	if len(d.Groups) != 1 || d.Groups[0].Tax.Category != category || (d.Groups[0].Reason != "") != reasoned {
		t.Errorf("%s: %+v", what, d.Groups)
	}
}

// Every kind of invoice that the shop issues has its exchange file: with deposit
// and holdback, with discount and quantity break, exempt, without tax at the
// place of delivery, for a part and for the rest, and memos of pieces, of charges
// and of all.
func TestEveryKindOfBillIsExchanged(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()

	o := asked(tubes(13))
	o.CustomerID = rivalFirm
	o = w.accept(t, w.quote(t, w.take(t, o)))
	must[desk.Received](t)(w.TakeDeposit(ctx, clerk, desk.MoneyIn{OrderID: o.ID, Amount: cash(3_333), Method: books.ByCash}))
	o = w.handOver(t, o)
	held := must[desk.Bill](t)(w.IssueInvoice(ctx, keeper, desk.InvoiceAsk{OrderID: o.ID, Retain: money.Must("0.0775")}))
	doc := w.exchanged(t, held)
	if doc.Totals.Prepaid.Value.Cmp(cash(3_333).Rate()) != 0 {
		t.Errorf("prepaid %s", doc.Totals.Prepaid.Value)
	}
	only(t, "taxed", doc, einvoice.Standard, false)

	exempt := w.invoice(t, w.delivered(t, tradeFirm, 7).ID)
	only(t, "exempt", w.exchanged(t, exempt), einvoice.Exempt, true)

	away := asked(tubes(9))
	away.CustomerID, away.Fulfil, away.MilesTenths = rivalFirm, order.Haul, 200
	away.ShipTo = party.Address{Street: "1 Far Rd", City: "Westerfold", State: "ZW", Country: "US"}
	far := w.accept(t, w.quote(t, w.take(t, away)))
	must[order.Order](t)(w.PickFromShelf(ctx, clerk, far.ID))
	w.deliver(t, w.leave(t, w.build(t, []int64{far.ID})).Stops[0])
	only(t, "no tax there", w.exchanged(t, w.invoice(t, far.ID)), einvoice.Exempt, true)

	whole := w.billed(t, desk.InvoiceAsk{}, 3, 12*measure.Foot+6*measure.Inch+measure.Inch/16)
	must[desk.Note](t)(w.CreditMemo(ctx, keeper, desk.MemoAsk{InvoiceID: whole.ID, Reason: "one bent", Pieces: []desk.MemoPieces{{ID: "1.1", Pieces: 1}}}))
	must[desk.Note](t)(w.CreditMemo(ctx, keeper, desk.MemoAsk{InvoiceID: whole.ID, Reason: "packed badly", Adjustments: []books.MemoAdjustment{{ID: "A1", Amount: cash(101)}}}))
	must[desk.Note](t)(w.CreditMemo(ctx, keeper, desk.MemoAsk{InvoiceID: whole.ID, Reason: "all the rest", Whole: true}))
	w.exchanged(t, whole)

	w.exchangedInParts(t)
	w.sound(t)
}

// exchangedInParts delivers and invoices an order in two parts, with a discount
// of the owner's and a deposit that is spread over both.
func (w *works) exchangedInParts(t *testing.T) {
	t.Helper()
	ctx := t.Context()
	o := asked(panels(60, 24))
	o.CustomerID, o.Fulfil, o.MilesTenths, o.Discount = rivalFirm, order.Haul, 120, money.Must("0.035")
	o.ShipTo = party.Address{Street: "1 Mill Rd", City: "Eastfork", State: "ZE", Country: "US"}
	o = w.accept(t, w.quote(t, w.take(t, o)))
	must[desk.Received](t)(w.TakeDeposit(ctx, clerk, desk.MoneyIn{OrderID: o.ID, Amount: cash(100_001), Method: books.ByTransfer}))
	w.cutAll(t)
	bundles := w.file(t, o).Bundles
	if len(bundles) < 2 {
		t.Fatalf("%d bundles; the test needs two", len(bundles))
	}
	w.deliver(t, w.leave(t, w.build(t, []int64{o.ID}, bundles[0].ID)).Stops[0])
	part := w.invoice(t, o.ID)
	w.deliver(t, w.leave(t, w.build(t, []int64{o.ID})).Stops[0])
	rest := w.invoice(t, o.ID)
	w.exchanged(t, part)
	w.exchanged(t, rest)
	sum := part.Invoice.Total.Add(rest.Invoice.Total)
	off := sum.Sub(o.Charged().Total)
	if off.Less(cash(-1)) || cash(1).Less(off) { // tax is rounded once on each part
		t.Errorf("parts of %s and %s, the order stands at %s", part.Invoice.Total, rest.Invoice.Total, o.Charged().Total)
	}
	if used := part.Invoice.Applied[0].Amount.Add(rest.Invoice.Applied[0].Amount); used.Cmp(cash(100_001)) != 0 || !part.Invoice.Applied[0].Amount.Less(used) {
		t.Errorf("the deposit is spread as %s and %s", part.Invoice.Applied[0].Amount, rest.Invoice.Applied[0].Amount)
	}
}
