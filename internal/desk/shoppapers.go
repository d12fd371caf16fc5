package desk

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/nestview"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/plan"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// formingTolerance is printed for the first-piece check: 1/16 in (common
// practice, no published source).
const formingTolerance = measure.Sixteenth

// IssueRunSheet prints what the operator runs from: one sheet for one run of a
// machine, counted from 0. A run printed again after a change is a new number.
func (d *Desk) IssueRunSheet(ctx context.Context, actor party.Actor, machine string, run int) (p order.Paper, err error) {
	sheet, err := d.Sheet(ctx, actor, machine)
	if err != nil {
		return p, err
	}
	if run < 0 || run >= len(sheet.Runs) {
		return p, fault.NotFoundf("there is no such run on %s", sheet.Machine.Name)
	}
	return d.issueRunSheet(ctx, actor, func(s *snapshot) *document.RunSheet { return s.runSheet(sheet, run) })
}

// issueRunSheet numbers a sheet for a machine or the folder and keeps it.
func (d *Desk) issueRunSheet(ctx context.Context, actor party.Actor, written func(*snapshot) *document.RunSheet) (p order.Paper, err error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return p, err
	}
	doc := written(s)
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if doc.Number, err = runSheetNumbers.take(tx); err != nil {
			return err
		}
		doc.Code, doc.Issued, doc.By = doc.Number, s.local(d.now()), actor.Name
		p, err = issuePaper(tx, actor, order.Paper{}, doc)
		return err
	})
	return p, err
}

func (s *snapshot) runSheet(sheet Sheet, run int) *document.RunSheet {
	r := sheet.Runs[run]
	first := r.Rows[0].Line
	doc := &document.RunSheet{
		Head:  document.Head{State: "planned", Paper: s.paperSize(), Style: s.seller.Style, Seller: s.firm()},
		Goods: s.goods(first, shopReader), Machine: sheet.Machine.Name, RollerSet: s.profiles[first.Code].RollerSet,
		Batch: fmt.Sprintf("run %d of %d", run+1, len(sheet.Runs)), PlannedStart: s.local(r.Change), PlannedStop: s.local(r.End),
	}
	doc.Changeover = s.changeover(sheet, run)
	if first.Rib != "" {
		doc.SetUp = append(doc.SetUp, "Flat: "+first.Rib)
	}
	if first.Section != nil {
		doc.SetUp = append(doc.SetUp, fmt.Sprintf("%s: %s, girth %s", first.Name, first.Section.Summary(), nestview.Across(first.Girth)))
	}
	doc.Coils = s.coilsUsed(sheet, r)
	doc.Sections = s.sections(order.Order{Lines: r.lines()}, shopReader)
	for i, row := range r.Rows {
		doc.Bundles = append(doc.Bundles, s.runBundle(i+1, len(r.Rows), row))
	}
	if len(r.Rows[0].Cuts) > 0 {
		doc.Checks = []document.Check{{What: "first piece", Nominal: r.Rows[0].Cuts[0].Length, Tolerance: formingTolerance}}
	}
	return doc
}

// lines gives the lines of a run.
func (r SheetRun) lines() (out []order.Line) {
	for _, row := range r.Rows {
		out = append(out, row.Line)
	}
	return out
}

// changeover says what changes before a run.
func (s *snapshot) changeover(sheet Sheet, run int) string {
	r := sheet.Runs[run]
	from := s.standing(sheet.Machine)
	if run > 0 {
		from = sheet.Runs[run-1].Setup
	}
	parts := changeParts(planRule(sheet.Machine), from, r.Setup)
	if len(parts) == 0 {
		return "none"
	}
	return strings.Join(parts, "; ")
}

// changeParts says what changes between two set-ups, with minutes.
func changeParts(rule plan.Rule, from, to plan.Setup) (out []string) {
	for _, part := range rule.Between(from, to) {
		out = append(out, minutesWord(rule.Attributes[part.Attribute].Name, part.Minutes))
	}
	return out
}

func (s *snapshot) coilsUsed(sheet Sheet, r SheetRun) []document.CoilUse {
	use := map[int64]measure.Length{}
	var ids []int64
	for _, row := range r.Rows {
		for _, p := range row.Promises {
			if _, ok := use[p.CoilID]; !ok {
				ids = append(ids, p.CoilID)
			}
			use[p.CoilID] += p.Length
		}
	}
	var out []document.CoilUse
	for _, id := range ids {
		c := sheet.Coils[id]
		out = append(out, document.CoilUse{Number: c.Tag, Lot: c.Lot, Width: c.Strip.Width, Before: c.OnHand, After: c.OnHand - use[id]})
	}
	return out
}

func (s *snapshot) runBundle(no, of int, row SheetRow) document.Bundle {
	b := document.Bundle{Number: no, Of: of, Order: row.Number, Code: row.Number + "-" + strconv.Itoa(row.Line.Pos), Longest: row.Line.Longest()}
	perFoot := s.poundsPerFoot(row.Line)
	for _, c := range row.Cuts {
		lb := perFoot * c.Length.InFeet() * float64(c.Qty)
		b.Cuts = append(b.Cuts, document.Cut{
			Order: row.Number, Customer: row.Customer, Mark: c.Mark, Pieces: c.Qty, Length: c.Length, Running: c.Length.Times(c.Qty), Pounds: UpPounds(lb),
		})
		b.Pieces += c.Qty
		b.Pounds += UpPounds(lb)
	}
	return b
}

// UpPounds is the named place where a computed weight becomes whole pounds: up.
func UpPounds(lb float64) int {
	n := int(lb)
	if float64(n) < lb {
		n++
	}
	return n
}

// IssuePickTicket prints what is to be picked for a cut order.
func (d *Desk) IssuePickTicket(ctx context.Context, actor party.Actor, orderID int64) (order.Paper, error) {
	return d.issueForOrder(ctx, actor, orderID, "pick ticket", func(s *snapshot, o order.Order, bundles []order.Bundle, h document.Head) document.Document {
		t := &document.PickTicket{Head: h, Order: o.Number, Pounds: sumPounds(bundles), Goods: s.goods(firstMade(o), shopReader), LoadAt: s.local(o.Promise).Format("Mon Jan 2, 15:04"), Sections: s.sections(o, shopReader)}
		for _, b := range bundles {
			t.Bundles = append(t.Bundles, s.paperBundle(o, b))
		}
		for _, l := range o.Lines {
			if l.Kind == order.Accessory {
				t.Items = append(t.Items, document.Item{Name: l.Name, Quantity: money.Int(int64(l.Count)), Unit: s.accessories[l.Code].Unit})
			}
		}
		if o.Note != "" {
			t.Notes = append(t.Notes, o.Note)
		}
		return t
	})
}

// IssueLabels prints the labels of an order's bundles.
func (d *Desk) IssueLabels(ctx context.Context, actor party.Actor, orderID int64) (order.Paper, error) {
	return d.issueForOrder(ctx, actor, orderID, "labels", func(s *snapshot, o order.Order, bundles []order.Bundle, h document.Head) document.Document {
		doc := &document.BundleLabels{Head: h}
		for _, b := range bundles {
			doc.Labels = append(doc.Labels, s.label(o, b))
		}
		return doc
	})
}

func (s *snapshot) label(o order.Order, b order.Bundle) document.BundleLabel {
	l := document.BundleLabel{
		Order: o.Number, Customer: o.Customer, Job: o.Job, Number: b.No, Of: b.Of, Longest: b.Longest, Pounds: pounds(b.Pounds),
		Code: b.Code, Cuts: s.paperBundle(o, b).Cuts,
	}
	line := firstMade(o)
	if len(b.Items) > 0 {
		line = lineOf(o, b.Items[0].LineID)
	}
	l.Goods = s.goods(line, shopReader)
	heaviest := 0.0
	for _, it := range b.Items {
		if it.Length > 0 {
			heaviest = max(heaviest, s.poundsPerFoot(lineOf(o, it.LineID))*it.Length.InFeet())
		}
	}
	l.PiecePound = UpPounds(heaviest)
	_, l.TwoPeople = load.HandVerdict(b.Longest, heaviest, s.liftLimit)
	return l
}

func lineOf(o order.Order, id int64) order.Line {
	for _, l := range o.Lines {
		if l.ID == id {
			return l
		}
	}
	return order.Line{}
}

func firstMade(o order.Order) order.Line {
	for _, l := range o.Lines {
		if l.Kind != order.Accessory {
			return l
		}
	}
	return order.Line{Kind: order.Accessory}
}

func sumPounds(bundles []order.Bundle) (n int) {
	for _, b := range bundles {
		n += pounds(b.Pounds)
	}
	return n
}

func (s *snapshot) paperBundle(o order.Order, b order.Bundle) document.Bundle {
	out := document.Bundle{Number: b.No, Of: b.Of, Code: b.Code, Order: o.Number, Pieces: b.Pieces, Longest: b.Longest, Pounds: pounds(b.Pounds)}
	for _, it := range b.Items {
		if it.Length == 0 {
			continue
		}
		l := lineOf(o, it.LineID)
		out.Cuts = append(out.Cuts, document.Cut{
			Order: o.Number, Mark: it.Mark, Pieces: it.Qty, Length: it.Length, Running: it.Length.Times(it.Qty),
			Pounds: UpPounds(s.poundsPerFoot(l) * it.Length.InFeet() * float64(it.Qty)), Note: it.Name,
		})
	}
	return out
}

// issueForOrder issues a shop paper of a cut order under a number of its series.
func (d *Desk) issueForOrder(ctx context.Context, actor party.Actor, orderID int64, series string, make func(*snapshot, order.Order, []order.Bundle, document.Head) document.Document) (p order.Paper, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator, party.Driver); err != nil {
		return p, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return p, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		o, err := tx.Order(orderID)
		if err != nil {
			return err
		}
		bundles, err := tx.BundlesOf(orderID)
		if err != nil {
			return err
		}
		if len(bundles) == 0 {
			return fault.Conflictf("order %s is %s; it has no bundles yet", o.Number, o.State)
		}
		customer, err := customerOf(tx, o)
		if err != nil {
			return err
		}
		n, err := tx.NextNumber(series)
		if err != nil {
			return err
		}
		h := s.head(o, customer, d.now(), actor.Name)
		h.Number, h.Revision = fmt.Sprintf("%s-%s%d", o.Number, initial(series), n), 0
		h.Code, h.Language = h.Number, "" // the shop's own papers are in the shop's words
		p, err = d.issue(tx, actor, o, customer, make(s, o, bundles, h))
		return err
	})
	return p, err
}

func initial(series string) string {
	if series == "labels" {
		return "B"
	}
	return "P"
}

// IssueCoilTag prints a coil's tag.
func (d *Desk) IssueCoilTag(ctx context.Context, actor party.Actor, coilID int64) (p order.Paper, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return p, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return p, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		c, err := tx.Coil(coilID)
		if err != nil {
			return err
		}
		n, err := tx.NextNumber("coil tag")
		if err != nil {
			return err
		}
		p, err = issuePaper(tx, actor, order.Paper{}, s.coilTag(c, document.Head{
			Number: fmt.Sprintf("%s-%d", c.Tag, n), Issued: s.local(d.now()), By: actor.Name, Code: c.Tag, Style: s.seller.Style, Seller: s.firm(),
		}))
		return err
	})
	return p, err
}

func (s *snapshot) coilTag(c stock.Coil, h document.Head) *document.CoilTag {
	return &document.CoilTag{
		Head: h, Goods: s.goods(order.Line{Kind: order.Formed, Material: c.Strip.Material, Gauge: c.Strip.Gauge, Colour: c.Strip.Colour}, shopReader),
		Coil: c.Tag, Lot: c.Lot, Supplier: c.Supplier, Width: c.Strip.Width, OnHand: c.OnHand,
		Pounds: UpPounds(s.materials[c.Strip.Material].Sheet(c.Thickness).PoundsPerFoot(c.Strip.Width) * c.OnHand.InFeet()), Received: c.Received,
	}
}
