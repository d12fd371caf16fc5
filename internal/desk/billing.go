package desk

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
)

// billing is what an invoice of an order is worked out from: the accepted price
// with what it was made of, what was handed over, and what was billed before.
type billing struct {
	tax    price.Tax
	groups map[string]string // sales group by item of the price
	lines  []price.Line      // of the accepted offer
	rows   map[string]billRow
	before []books.Invoice // but those that were credited whole: what they billed is billed anew
	memos  []books.Memo    // on those
}

// billRow is a row of goods: how it is named, and how many pieces of it the
// customer has by now.
type billRow struct {
	description string
	detail      string
	pieces      int
}

// newBilling takes the accepted offer apart.
func newBilling(in price.Input, offer price.Offer, before []books.Invoice, memos []books.Memo) billing {
	b := billing{tax: in.Shop.Tax, groups: map[string]string{}, lines: offer.Lines, rows: map[string]billRow{}}
	for _, it := range in.Order.Items {
		b.groups[it.ID] = it.Group
	}
	for _, inv := range before {
		var on []books.Memo
		for _, m := range memos {
			if m.Invoice == inv.Number {
				on = append(on, m)
			}
		}
		if !inv.Left(on).IsZero() {
			b.before, b.memos = append(b.before, inv), append(b.memos, on...)
		}
	}
	return b
}

// isGoods tells lines of goods from charges and allowances on the whole.
func isGoods(l price.Line) bool { return l.Kind == price.CutLine || l.Kind == price.PieceLine }

// placeOf gives the place of a price line in its order, counted from 0; cut is
// -1 for an accessory.
func placeOf(l price.Line) (line, cut int) {
	item, row, _ := strings.Cut(l.Item, ".")
	if l.Cut != "" {
		row = l.Cut
	}
	line, _ = strconv.Atoi(strings.TrimPrefix(item, "l"))
	if n, err := strconv.Atoi(row); err == nil {
		return line, n
	}
	return line, -1
}

// rowID names a row of goods on invoices: 2.1 is the first row of the second
// line.
func rowID(l price.Line) string {
	line, cut := placeOf(l)
	if cut < 0 {
		return strconv.Itoa(line + 1)
	}
	return fmt.Sprintf("%d.%d", line+1, cut+1)
}

// quantityOf gives a number of pieces in the unit that the line is sold by.
func quantityOf(l price.Line, pieces int) money.Rate {
	if l.Unit == "ft" {
		return money.Fraction(int64(l.Length.Times(pieces)), int64(measure.Foot)).Shorten(18)
	}
	return money.Int(int64(pieces))
}

func unitCode(l price.Line) string {
	if l.Unit == "ft" {
		return books.UnitLinealFoot
	}
	return books.UnitPiece
}

// orderLines gives the goods as the books see them.
func (b billing) orderLines() []books.OrderLine {
	var out []books.OrderLine
	for _, l := range b.lines {
		if !isGoods(l) {
			continue
		}
		row := b.rows[rowID(l)]
		o := books.OrderLine{Line: books.Line{
			ID: rowID(l), Description: row.description, Detail: row.detail, Group: b.groupOf(l.Item), Class: l.TaxClass,
			Quantity: quantityOf(l, l.Pieces), Unit: unitCode(l), UnitPrice: l.Price,
		}}
		if o.Description == "" {
			o.Description = l.Label
		}
		o.Invoiced = b.invoiced(o.ID)
		if now := quantityOf(l, min(row.pieces, l.Pieces)).Sub(o.Invoiced); now.Shorten(12).Sign() > 0 {
			o.Delivered = now
		}
		out = append(out, o)
	}
	return out
}

func (b billing) groupOf(item string) string {
	if g := b.groups[item]; g != "" {
		return g
	}
	return "goods"
}

// invoiced is the quantity of a row that isn't to be billed again: what earlier
// invoices hold. Goods credited in part (returned, leaking, bent) stay credited.
func (b billing) invoiced(id string) (sum money.Rate) {
	for _, inv := range b.before {
		for _, l := range inv.Lines {
			if l.ID == id {
				sum = sum.Add(l.Quantity)
			}
		}
	}
	return sum
}

// kept is the quantity of a row on earlier invoices less all goods credited.
func (b billing) kept(id string) money.Rate {
	sum := b.invoiced(id)
	for _, m := range b.memos {
		for _, l := range m.Lines {
			if l.ID == id && !l.PriceOnly {
				sum = sum.Sub(l.Quantity)
			}
		}
	}
	return sum
}

// adjustments gives the charges and allowances of this invoice. What is spent
// once (set-ups, packing, the smallest order, the way) is billed with the first
// part; what is a share of the goods (breaks, discount, rush) goes along with
// them. Nothing is billed that earlier invoices hold already.
func (b billing) adjustments(goods []books.OrderLine) ([]books.Adjustment, error) {
	share, err := handedShare(goods)
	if err != nil {
		return nil, err
	}
	seen := map[string]int{}
	var out []books.Adjustment
	for _, l := range b.lines {
		if isGoods(l) || l.Amount.IsZero() {
			continue
		}
		a := books.Adjustment{Reason: reasonOf(l), Class: l.TaxClass, Account: accountOf(l), Allowance: l.Amount.Sign() < 0}
		if seen[a.Reason]++; seen[a.Reason] > 1 {
			a.Reason += fmt.Sprintf(" (%d)", seen[a.Reason])
		}
		whole := l.Amount
		if whole.Sign() < 0 {
			whole = whole.Neg()
		}
		if b.byShare(l) {
			if whole, err = whole.Rate().Mul(share).Round(whole.Currency()); err != nil {
				return nil, err
			}
		}
		if a.Amount = whole.Sub(b.charged(l, a.Reason)); a.Amount.Sign() > 0 {
			out = append(out, a)
		}
	}
	return out, nil
}

func (b billing) byShare(l price.Line) bool {
	return l.Kind == price.BreakLine || l.Kind == price.DiscountLine || l.Kind == price.RushLine
}

// handedShare is the part of the goods, by value, that is billed with this
// invoice and the earlier ones; 1 when all is.
func handedShare(goods []books.OrderLine) (money.Rate, error) {
	billed, ordered := money.Rate{}, money.Rate{}
	whole := true
	for _, g := range goods {
		now := g.Invoiced.Add(g.Delivered)
		whole = whole && now.Sub(g.Quantity).Shorten(12).IsZero()
		billed, ordered = billed.Add(now.Mul(g.UnitPrice)), ordered.Add(g.Quantity.Mul(g.UnitPrice))
	}
	if whole || ordered.IsZero() {
		return money.Int(1), nil
	}
	return billed.Div(ordered), nil
}

// charged is what earlier invoices hold of a charge.
func (b billing) charged(l price.Line, reason string) (sum money.Amount) {
	sum = money.Cents(0, l.Amount.Currency())
	same := func(a books.Adjustment) bool {
		if l.Kind == price.HaulLine { // may stand in parts, taxed as the goods are
			return a.Account == books.Delivery
		}
		return a.Reason == reason
	}
	for _, inv := range b.before {
		for _, a := range inv.Adjustments {
			if same(a) {
				sum = sum.Add(a.Amount)
			}
		}
	}
	return sum
}

func reasonOf(l price.Line) string {
	switch l.Kind {
	case price.SetupLine:
		return "Set-up: " + l.Label
	case price.MinimumLine:
		return l.Label + ": " + chargeReason(l)
	case price.DiscountLine:
		return l.Label + onTheGoods
	}
	return l.Label
}

func accountOf(l price.Line) books.Account {
	switch l.Kind {
	case price.HaulLine:
		return books.Delivery
	case price.TripLine:
		return books.Sales("mobilisation")
	case price.SetupLine:
		return books.Sales("set-ups")
	}
	return books.Sales(string(l.Kind))
}

// rules gives the tax rules of the accepted price on this day's certificate, and
// splits a delivery charge where it is taxed as the goods are, the way the price
// does, so that quote and invoice agree to the cent.
func (b billing) rules(certificate *party.Certificate, day time.Time, lines []books.Line, adjustments []books.Adjustment) (books.TaxRules, []books.Adjustment) {
	r := books.TaxRules{Basis: books.PerInvoice}
	if b.tax.Basis == price.PerItem {
		r.Basis = books.PerItem
	}
	if certificate != nil {
		r.Certificates = []party.Certificate{*certificate}
	}
	names := map[string]bool{}
	for _, j := range b.tax.Jurisdictions {
		name := j.Label
		if name == "" || names[name] {
			name = j.ID
		}
		names[name] = true
		// A jurisdiction that names no class taxes nothing; the empty list would
		// tax everything.
		r.Jurisdictions = append(r.Jurisdictions, books.Jurisdiction{Name: name, State: j.State, Rate: j.Rate, Classes: append([]string{"none"}, j.Classes...)})
	}
	var out []books.Adjustment
	for _, a := range adjustments {
		if a.Account != books.Delivery || a.Allowance {
			out = append(out, a)
			continue
		}
		out = append(out, b.deliveryParts(&r, a, b.weighed(lines, adjustments), day)...)
	}
	return r, out
}

// classed is an amount of goods and its tax class.
type classed struct {
	class  string
	weight money.Rate
}

// weighed gives what a delivery charge is split by: all but the charges for the
// way.
func (b billing) weighed(lines []books.Line, adjustments []books.Adjustment) []classed {
	var out []classed
	for _, l := range lines {
		if net, err := l.Quantity.Mul(l.UnitPrice).Shorten(12).Round(b.lines[0].Amount.Currency()); err == nil {
			out = append(out, classed{l.Class, net.Rate()})
		}
	}
	for _, a := range adjustments {
		switch {
		case a.Account == books.Delivery || a.Class == price.Mobilisation:
		case a.Allowance:
			out = append(out, classed{a.Class, a.Amount.Rate().Neg()})
		default:
			out = append(out, classed{a.Class, a.Amount.Rate()})
		}
	}
	return out
}

// deliveryParts gives the parts of a delivery charge, each with a class of its
// own that the right jurisdictions tax.
func (b billing) deliveryParts(r *books.TaxRules, a books.Adjustment, goods []classed, day time.Time) []books.Adjustment {
	var groups []taxedAlike
	var weights []money.Rate
	for _, g := range goods {
		set := b.taxersOfDelivery(g.class, r, day)
		i := slices.IndexFunc(groups, func(other taxedAlike) bool { return slices.Equal(other.by, set.by) })
		if i < 0 {
			i = len(groups)
			groups, weights = append(groups, set), append(weights, money.Rate{})
		}
		weights[i] = weights[i].Add(g.weight)
	}
	parts, err := money.Split(a.Amount, weights)
	if err != nil || len(groups) == 0 { // nothing is sold to go by
		groups, parts = []taxedAlike{b.taxersOfDelivery("", r, day)}, []money.Amount{a.Amount}
	}
	var out []books.Adjustment
	for i, g := range groups {
		if parts[i].Sign() <= 0 {
			continue
		}
		part := a
		part.Amount, part.Class = parts[i], fmt.Sprintf("%s %d", price.DeliveryLine, i+1)
		if len(out) > 0 {
			part.Reason += fmt.Sprintf(" (%d)", len(out)+1)
		}
		for _, j := range g.named {
			r.Jurisdictions[j].Classes = append(r.Jurisdictions[j].Classes, part.Class)
		}
		out = append(out, part)
	}
	return out
}

// taxedAlike names jurisdictions by place: those that tax, and those that would
// but for a certificate as well.
type taxedAlike struct{ by, named []int }

func (b billing) taxersOfDelivery(class string, r *books.TaxRules, day time.Time) (set taxedAlike) {
	for i, j := range b.tax.Jurisdictions {
		asGoods := j.Delivery == price.DeliveryAsGoods && slices.Contains(j.Classes, class)
		if j.Delivery != price.DeliveryTaxed && !asGoods {
			continue
		}
		set.named = append(set.named, i)
		if !slices.ContainsFunc(r.Certificates, func(c party.Certificate) bool { return c.Covers(j.State, day) }) {
			set.by = append(set.by, i)
		}
	}
	return set
}

// draft gives the invoice of all that was handed over and isn't billed yet.
func (b billing) draft(certificate *party.Certificate, day time.Time) (books.Draft, error) {
	goods := b.orderLines()
	lines, err := books.Deliverable(goods)
	if err != nil {
		if noneLeft(goods) {
			err = fault.Conflictf("everything that was handed over is invoiced already")
		}
		return books.Draft{}, err
	}
	adjustments, err := b.adjustments(goods)
	if err != nil {
		return books.Draft{}, err
	}
	d := books.Draft{Issued: day, Lines: lines}
	d.Tax, d.Adjustments = b.rules(certificate, day, lines, adjustments)
	return d, nil
}

func noneLeft(goods []books.OrderLine) bool {
	billed := false
	for _, g := range goods {
		if g.Delivered.Sign() > 0 {
			return false
		}
		billed = billed || g.Invoiced.Sign() > 0
	}
	return billed
}
