package desk_test

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
)

// sold draws a shop with its taxes and an order as the desk would price it: its
// items are numbered like the order's lines.
func sold(t *rapid.T) price.Input {
	rate := func(name string, least, most int64, places int32) money.Rate {
		return money.NewRate(rapid.Int64Range(least, most).Draw(t, name), -places)
	}
	count := func(name string, least, most int) int { return rapid.IntRange(least, most).Draw(t, name) }
	yes := func(name string) bool { return rapid.Bool().Draw(t, name) }
	rule := func(name string) price.DeliveryRule {
		return rapid.SampledFrom([]price.DeliveryRule{"", price.DeliveryTaxed, price.DeliveryAsGoods}).Draw(t, name)
	}
	in := price.Input{Rules: price.Rules, Shop: price.Shop{
		Currency: money.USD,
		Centers:  []price.Center{{ID: "former", Label: "Former", Machine: price.Machine{Given: &price.GivenHour{Rate: rate("hour", 2000, 9000, 2)}}}},
		Stock: []price.Stock{{ID: "coil", Label: "coil", Measured: money.Must("2.04"), Width: 20 * measure.Inch, Price: rate("coil price", 60, 300, 2),
			Per: price.PerPound, Weight: money.Int(4000)}},
		Targets: []price.Target{{Goal: price.Margin, Value: rate("margin", 10, 55, 2)}},
		Policy: price.Policy{UnitPlaces: count("places", 2, 4), SetupLine: yes("set-up line"), Rush: rate("rush", 0, 30, 2), Minimum: rate("minimum", 0, 60000, 2),
			Deposit: rate("deposit", 0, 100, 2)},
		Bundle:   rate("bundle", 0, 3000, 2),
		Delivery: &price.Tariff{Base: rate("base", 0, 9000, 2), PerMile: rate("per mile", 0, 500, 2)},
		Onsite:   &price.Onsite{Center: "former", Mph: money.Int(45), PerMile: money.Must("2.85"), SetupHours: money.Int(1)},
		Tax: price.Tax{Basis: rapid.SampledFrom([]price.TaxBasis{"", price.PerDocument, price.PerItem}).Draw(t, "basis"), Jurisdictions: []price.Jurisdiction{
			{ID: "state", Label: "State", State: "ZE", Rate: rate("state tax", 0, 900, 4), Classes: []string{price.Goods, "special"}, Delivery: rule("state delivery")},
			{ID: "county", Label: "County", State: "ZE", Rate: rate("county tax", 0, 300, 4), Classes: []string{price.Goods}, Delivery: rule("county delivery")},
			{ID: "city", State: "ZX", Rate: rate("city tax", 0, 300, 4), Classes: []string{"special", price.Mobilisation}, Delivery: rule("city delivery")},
		}},
	}}
	if yes("breaks") {
		in.Shop.Targets = append(in.Shop.Targets, price.Target{Group: "panel", Goal: price.Margin, Value: money.Must(".45"), Steps: []price.Step{{Beyond: rate("break", 1, 5000, 1), Value: money.Must(".3")}}})
	}
	o := &in.Order
	o.ID, o.Day, o.Bundles, o.Rush = "1001", "2026-03-02", count("bundles", 0, 3), yes("rush")
	o.Setups = []price.Setup{{ID: "coil", Label: "Coil change", Center: "former", Minutes: rate("minutes", 0, 60, 0)}}
	for i := range count("items", 1, 4) {
		item := price.Item{ID: fmt.Sprintf("l%d", i), Label: "clip", Group: "accessory", TaxClass: rapid.SampledFrom([]string{"", "special", "free"}).Draw(t, "class"),
			Bought: &price.Bought{Pieces: count("clips", 1, 300), Each: rate("each", 1, 900, 2), Weight: money.Must(".02")}}
		if i == 0 || yes("formed") {
			f := &price.Formed{Center: "former", Stock: "coil", Setups: []string{"coil"}, Speed: money.Int(45)}
			for j := range count("cuts", 1, 4) {
				f.Cuts = append(f.Cuts, price.Cut{ID: fmt.Sprint(j), Pieces: count("pieces", 1, 60), Length: measure.Sixteenth.Times(count("length", 192, 192*40))})
			}
			item = price.Item{ID: item.ID, Label: "panel", Group: "panel", Formed: f}
		}
		o.Items = append(o.Items, item)
	}
	if yes("discounted") {
		o.Discount = rate("discount", 0, 30, 2)
	}
	if yes("delivered") {
		o.Delivery = &price.Trip{Miles: rate("miles", 0, 900, 1)}
	}
	if yes("on site") {
		o.Onsite = &price.Trip{Miles: rate("site miles", 0, 900, 1)}
	}
	return in
}

var supplied = time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)

// resale covers the state on the day of quote and invoice.
func resale(state string) (*party.Certificate, *price.Certificate) {
	signed, expires := supplied.AddDate(-1, 0, 0), supplied.AddDate(1, 0, 0)
	return &party.Certificate{ID: 1, CustomerID: 7, Number: "R-1", State: state, Signed: signed, Expires: expires},
		&price.Certificate{Number: "R-1", State: state, Signed: price.Day(signed.Format(time.DateOnly)), Expires: price.Day(expires.Format(time.DateOnly))}
}

func finish(t rapid.TB, d books.Draft, number string) books.Invoice {
	t.Helper()
	d.Customer, d.Currency, d.Supplied = 7, money.USD, supplied
	out, err := d.Issue(number)
	if err != nil {
		t.Fatal(err)
	}
	if err := out.Invoice.Verify(); err != nil {
		t.Fatal(err)
	}
	return out.Invoice
}

// What was quoted and delivered in full is invoiced to the cent: goods, charges,
// and the tax of each jurisdiction.
func TestInvoiceOfAllAgreesWithQuote(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := sold(t)
		var cert *party.Certificate
		if state := rapid.SampledFrom([]string{"", "ZE", "ZX"}).Draw(t, "certificate"); state != "" {
			cert, in.Order.Certificate = resale(state)
		}
		q, err := price.Price(in)
		if err != nil {
			t.Fatal(err)
		}
		if q.Alone.Total.IsZero() {
			t.Skip("nothing to bill")
		}
		all := map[string]int{}
		for _, l := range q.Alone.Lines {
			if desk.IsGoods(l) {
				all[desk.RowID(l)] = l.Pieces
			}
		}
		d, err := desk.Billing(in, q.Alone, all, nil, cert, supplied)
		if err != nil {
			t.Fatal(err)
		}
		inv := finish(t, d, "INV-00001")
		if inv.Subtotal.Cmp(q.Alone.Subtotal) != 0 || inv.TaxTotal.Cmp(q.Alone.Tax) != 0 || inv.Total.Cmp(q.Alone.Total) != 0 {
			t.Fatalf("invoiced %s + %s = %s, quoted %s + %s = %s", inv.Subtotal, inv.TaxTotal, inv.Total, q.Alone.Subtotal, q.Alone.Tax, q.Alone.Total)
		}
		quoted := map[string]money.Amount{}
		for _, p := range q.Alone.Taxes {
			name := p.Label
			if name == "" {
				name = p.Jurisdiction
			}
			quoted[name] = p.Tax
		}
		for _, line := range inv.Taxes {
			if line.Tax.Cmp(quoted[line.Jurisdiction]) != 0 {
				t.Fatalf("%s taxes %s, quoted %s", line.Jurisdiction, line.Tax, quoted[line.Jurisdiction])
			}
		}
	})
}

// In any number of parts, no piece is billed twice, every charge comes to what
// was quoted, and after the last part nothing is left. Only the rounding of a
// row that is billed in parts may differ, by a cent a part.
func TestPartsAddUpToTheOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := sold(t)
		q, err := price.Price(in)
		if err != nil {
			t.Fatal(err)
		}
		offer := q.Alone
		if offer.Goods.Cents() < 100 {
			t.Skip("hardly anything to bill")
		}
		handed := map[string]int{}
		var before []books.Invoice
		parts := rapid.IntRange(1, 4).Draw(t, "parts")
		for part := range parts {
			some := false
			for _, l := range offer.Lines {
				if !desk.IsGoods(l) {
					continue
				}
				id := desk.RowID(l)
				n := rapid.IntRange(0, l.Pieces-handed[id]).Draw(t, "now")
				if part == parts-1 {
					n = l.Pieces - handed[id]
				}
				handed[id] += n
				some = some || n > 0
			}
			d, err := desk.Billing(in, offer, handed, before, nil, supplied)
			if !some {
				if err == nil {
					t.Fatal("a part of nothing is billed")
				}
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			d.Customer, d.Currency, d.Supplied = 7, money.USD, supplied
			issued, err := d.Issue(fmt.Sprintf("INV-%05d", part+1))
			if err != nil { // an allowance larger than what is left of its class, refused in words
				t.Skip(err)
			}
			before = append(before, issued.Invoice)
		}
		pieces := map[string]money.Rate{}
		sum, charges := money.Cents(0, money.USD), money.Cents(0, money.USD)
		rounded := int64(0)
		for _, inv := range before {
			sum, charges = sum.Add(inv.Subtotal), charges.Add(inv.Charges).Sub(inv.Allowances)
			for _, l := range inv.Lines {
				pieces[l.ID] = pieces[l.ID].Add(l.Quantity)
				rounded++
			}
		}
		want := money.Cents(0, money.USD)
		for _, l := range offer.Lines {
			if !desk.IsGoods(l) {
				want = want.Add(l.Amount)
				continue
			}
			if gap := pieces[desk.RowID(l)].Sub(l.Quantity).Shorten(9); !gap.IsZero() {
				t.Fatalf("row %s: billed %s of %s", desk.RowID(l), pieces[desk.RowID(l)], l.Quantity)
			}
		}
		if charges.Cmp(want) != 0 {
			t.Fatalf("charges and allowances come to %s, quoted %s", charges, want)
		}
		if gap := sum.Sub(offer.Subtotal).Cents(); gap > rounded || gap < -rounded {
			t.Fatalf("all parts come to %s, quoted %s", sum, offer.Subtotal)
		}
		if d, err := desk.Billing(in, offer, handed, before, nil, supplied); err == nil {
			t.Fatalf("a further part is billed: %+v", d)
		}
	})
}
