package desk

import (
	"context"
	"fmt"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/einvoice"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/store"
)

// MemoAsk is what somebody wants to take back of an invoice. Whole takes all
// that is left of it.
type MemoAsk struct {
	InvoiceID   int64
	Reason      string
	Lines       []books.MemoLine
	Pieces      []MemoPieces // of goods sold by length
	Adjustments []books.MemoAdjustment
	Whole       bool
}

// MemoPieces takes back so many pieces of a line that is billed by the foot. In
// faults they count on after the lines.
type MemoPieces struct {
	ID     string
	Pieces int
}

// CreditMemo corrects an issued invoice, with its tax at the rate that was
// charged. It pays what is still open of the invoice, then what the invoice holds
// back; the rest stays to the customer's good, to be applied or refunded.
func (d *Desk) CreditMemo(ctx context.Context, actor party.Actor, ask MemoAsk) (note Note, err error) {
	if err := keepsBooks(actor); err != nil {
		return note, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return note, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		note, err = d.creditMemo(tx, actor, s, ask)
		return err
	})
	return note, err
}

// PreviewMemo shows what CreditMemo would issue, without a number.
func (d *Desk) PreviewMemo(ctx context.Context, actor party.Actor, ask MemoAsk) (m books.Memo, err error) {
	if err := keepsBooks(actor); err != nil {
		return m, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return m, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		draft, err := d.draftMemo(tx, s, ask)
		if err != nil {
			return err
		}
		credited, err := draft.of.Invoice.Credit("preview", draft.memo, draft.before)
		m = credited.Memo
		m.Number = ""
		return err
	})
	return m, err
}

// payHeld pays with what is left of a memo what its invoice holds back: nobody
// will ever owe that part.
func (d *Desk) payHeld(tx *store.Tx, actor party.Actor, c books.Credit, kept Bill, day time.Time) ([]books.Application, error) {
	released, err := releasedOf(tx, kept)
	if err != nil {
		return nil, err
	}
	held := money.Min(c.Open, kept.Invoice.Retained.Sub(released))
	if held.Sign() <= 0 {
		return nil, nil
	}
	it, err := release(tx, actor, kept, held, day, day)
	if err != nil {
		return nil, err
	}
	applied, _, err := d.payWith(tx, actor, c, paying{items: []string{it.Number}}, day)
	return applied, err
}

// memoDraft is a credit memo on its way, with what it is made from.
type memoDraft struct {
	of     Bill
	before []books.Memo
	memo   books.MemoDraft
}

func (d *Desk) draftMemo(tx *store.Tx, s *snapshot, ask MemoAsk) (m memoDraft, err error) {
	if m.of, err = tx.Invoice(ask.InvoiceID); err != nil {
		return m, err
	}
	notes, err := tx.MemosOn(m.of.Invoice.Number)
	if err != nil {
		return m, err
	}
	m.before = memosOf(notes)
	day := dayStart(d.now(), s.seller.Location())
	m.memo = books.MemoDraft{Day: day, Reason: strings.TrimSpace(ask.Reason), Lines: ask.Lines, Adjustments: ask.Adjustments}
	if ask.Whole {
		m.memo = m.of.Invoice.Whole(m.before, day, m.memo.Reason)
	} else if err := m.takePieces(tx, ask.Pieces); err != nil {
		return m, err
	}
	m.memo.Forgiven, err = forgiven(tx, m.of.Invoice)
	return m, err
}

// takePieces turns pieces into the feet they were billed by, to the last inch.
func (m *memoDraft) takePieces(tx *store.Tx, pieces []MemoPieces) error {
	if len(pieces) == 0 {
		return nil
	}
	rows, err := rowsBilled(tx, m.of)
	if err != nil {
		return err
	}
	var l fault.List
	for _, p := range pieces {
		at := fmt.Sprintf("lines.%d.quantity", len(m.memo.Lines)+1)
		row, known := rows[p.ID]
		switch {
		case !known:
			l.Addf(at, "%s isn't billed by the length of its pieces", p.ID)
		case p.Pieces <= 0:
			l.Addf(at, "give the pieces that came back, 1 or more")
		}
		m.memo.Lines = append(m.memo.Lines, books.MemoLine{ID: p.ID, Quantity: quantityOf(row, p.Pieces)})
	}
	return l.Err()
}

// rowsBilled gives the priced rows of an invoice that are sold by length.
func rowsBilled(tx *store.Tx, of Bill) (map[string]price.Line, error) {
	o, err := tx.Order(of.OrderID)
	if err != nil {
		return nil, err
	}
	b, err := readBilling(tx, o, handed{})
	if err != nil {
		return nil, err
	}
	rows := map[string]price.Line{}
	for _, pl := range b.lines {
		if isGoods(pl) && pl.Unit == "ft" {
			rows[rowID(pl)] = pl
		}
	}
	return rows, nil
}

func (d *Desk) creditMemo(tx *store.Tx, actor party.Actor, s *snapshot, ask MemoAsk) (Note, error) {
	draft, err := d.draftMemo(tx, s, ask)
	if err != nil {
		return Note{}, err
	}
	kept := draft.of
	number, err := takeNumber(tx, memoPrefix)
	if err != nil {
		return Note{}, err
	}
	credited, err := kept.Invoice.Credit(number, draft.memo, draft.before)
	if err != nil {
		return Note{}, err
	}
	note, err := tx.AddMemo(actor, kept.OrderID, credited.Memo)
	if err != nil {
		return Note{}, err
	}
	if err := tx.AddCredit(credited.Credit); err != nil {
		return Note{}, err
	}
	if err := post(tx, actor, credited.Entry); err != nil {
		return Note{}, err
	}
	applied, left, err := d.payWith(tx, actor, credited.Credit, paying{items: []string{kept.Invoice.Number}}, draft.memo.Day)
	if err != nil {
		return Note{}, err
	}
	more, err := d.payHeld(tx, actor, left, kept, draft.memo.Day)
	if err != nil {
		return Note{}, err
	}
	applied = append(applied, more...)
	if err := d.memoPapers(tx, actor, s, kept.OrderID, credited.Memo, applied); err != nil {
		return Note{}, err
	}
	return note, d.closeIfPaid(tx, actor, kept.OrderID)
}

// forgiven is what was let off of an invoice otherwise: discounts and what was
// written off.
func forgiven(tx *store.Tx, inv books.Invoice) (money.Amount, error) {
	sum := money.Cents(0, inv.Currency)
	changes, err := tx.ChangesOfItem(inv.Number)
	for _, ch := range changes {
		sum = sum.Add(ch.Discount)
		if ch.What == store.WrittenOff {
			sum = sum.Add(ch.Amount)
		}
	}
	return sum, err
}

func (d *Desk) memoPapers(tx *store.Tx, actor party.Actor, s *snapshot, orderID int64, m books.Memo, applied []books.Application) error {
	o, err := tx.Order(orderID)
	if err != nil {
		return err
	}
	customer, err := customerOf(tx, o)
	if err != nil {
		return err
	}
	b, err := readBilling(tx, o, handed{})
	if err != nil {
		return err
	}
	if _, err := d.issue(tx, actor, o, customer, s.memoPaper(b, o, customer, m, applied, d.now(), actor)); err != nil {
		return err
	}
	file := einvoice.FromMemo(m, einvoice.SellerOf(s.seller), einvoice.BuyerOf(customer))
	return keepFile(tx, actor, o, CreditMemoFile, file)
}

// overbilled gives, by row of an invoice, the pieces that were billed but turned
// out not to be handed over, because an exception came to light later: what a
// credit memo should take back.
func (d *Desk) overbilled(tx *store.Tx, kept Bill) ([]books.MemoLine, error) {
	o, err := tx.Order(kept.OrderID)
	if err != nil {
		return nil, err
	}
	h, err := readHanded(tx, o)
	if err != nil {
		return nil, err
	}
	b, err := readBilling(tx, o, h)
	if err != nil {
		return nil, err
	}
	var lines []books.MemoLine
	for _, pl := range b.lines {
		if !isGoods(pl) {
			continue
		}
		id := rowID(pl)
		over := b.kept(id).Sub(quantityOf(pl, b.rows[id].pieces)).Shorten(12)
		for _, l := range kept.Invoice.Lines {
			if l.ID == id && over.Sign() > 0 {
				lines = append(lines, books.MemoLine{ID: id, Quantity: minRate(over, l.Quantity)})
			}
		}
	}
	return lines, nil
}

func minRate(a, b money.Rate) money.Rate {
	if a.Cmp(b) < 0 {
		return a
	}
	return b
}
