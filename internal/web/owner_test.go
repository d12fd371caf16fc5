package web_test

import (
	"encoding/csv"
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// ownersDay takes two orders and a lost quote through the shop, one of them by
// a customer whose name is a formula.
func ownersDay(t *testing.T, site *webtest.Site) {
	t.Helper()
	ctx, d, owner := t.Context(), site.Desk, site.Owner
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	ask := func(name string, lines ...order.Line) desk.Quoted {
		o, err := d.TakeOrder(ctx, owner, order.Order{Fulfil: order.PickUp, Contact: order.Contact{Name: name}, CustomerID: 1, Lines: lines})
		must(err)
		q, err := d.QuoteOrder(ctx, owner, o.ID, o.Version, nil)
		must(err)
		return q
	}
	panels := order.Line{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 12, Length: 14 * measure.Foot}}}
	tubes := order.Line{Kind: order.Accessory, Code: "SEALANT", Count: 9}
	lost, won, shelf := ask("Wren", panels), ask("Wren", panels, tubes), ask("Wren", tubes)
	_, err := d.DeclineOrder(ctx, owner, lost.Order.ID, 0, order.TooDear.Words())
	must(err)
	c, err := d.CustomerFile(ctx, owner, 1)
	must(err)
	c.Customer.Name = "=1+1 Roofing"
	_, err = d.ChangeCustomer(ctx, owner, c.Customer)
	must(err)
	formula := ask("Wren", tubes)
	yes := desk.Yes{Name: "Wren", Consent: true, Method: "counter"}
	for _, q := range []desk.Quoted{won, shelf, formula} {
		_, err := d.AcceptOrder(ctx, owner, q.Order.ID, 0, yes)
		must(err)
	}
	plan, err := d.ProposePlan(ctx, owner)
	must(err)
	_, err = d.AdoptPlan(ctx, owner, plan.Stamp)
	must(err)
	sheet, err := d.Sheet(ctx, owner, "FORMER")
	must(err)
	for _, row := range sheet.Runs[0].Rows {
		for _, p := range row.Promises {
			for _, cut := range p.Cuts {
				_, err := d.RecordMade(ctx, owner, desk.Made{Key: fmt.Sprint(cut.CutID, p.CoilID), LineID: row.Line.ID, CutID: cut.CutID, CoilID: p.CoilID, Pieces: cut.Qty})
				must(err)
			}
		}
	}
	for _, q := range []desk.Quoted{won, shelf, formula} {
		if q.Order.ID != won.Order.ID {
			_, err := d.PickFromShelf(ctx, owner, q.Order.ID)
			must(err)
		}
		f, err := d.OrderFile(ctx, owner, q.Order.ID)
		must(err)
		for _, b := range f.Bundles {
			_, err := d.CheckOff(ctx, owner, q.Order.ID, b.Code)
			must(err)
		}
		_, err = d.PickUp(ctx, owner, q.Order.ID, desk.HandOver{Key: q.Order.Number, Receiver: "Wren"})
		must(err)
		_, err = d.IssueInvoice(ctx, owner, desk.InvoiceAsk{OrderID: q.Order.ID})
		must(err)
	}
}

// Behind each figure stand its records: on the page and in the CSV there are as
// many, and each column that has a sum adds up to it.
func TestRecordsAddUp(t *testing.T) {
	t.Parallel()
	site := webtest.Furnished(t)
	ownersDay(t, site)
	b := site.As(t, party.Owner)
	b.Get("/").WantRedirect("/today")
	page := b.Get("/today?of=start").Want(200)
	for _, words := range []string{"Idle hours sold", "Contribution per machine hour", "Changeover minutes saved", "On time", "Quotes won", "Receivables by age", "Coil on hand", "Payback of the machines"} {
		if !strings.Contains(page.Text(".figures h3"), words) {
			t.Errorf("no figure %s", words)
		}
	}
	if n := len(page.All(".figures svg")); n != 16 {
		t.Errorf("%d pictures, want one for a desk and one for a phone of each", n)
	}
	// Columns of which the sum is no sum of its rows, as the page says.
	notSummed := []string{"per_hour", "strip_days_on_hand"}
	// Feet are shown whole, and stand in the CSV to the hundredth.
	allowed := map[string]int64{"on_hand_ft": 1}
	rowsOf := map[string]int{"hours": 1, "contribution": 3, "lines": 1, "promises": 1, "quotes": 4, "coils": 5, "payback": 1}
	for name, least := range rowsOf {
		list := b.Get("/today/" + name + "?of=start").Want(200)
		headline := webtest.Text(page.One("#figure-" + name + " .headline .total"))
		if got := webtest.Text(list.One(".headline .total")); got != headline {
			t.Errorf("%s: %s on the page, %s over its records", name, headline, got)
		}
		rows, err := csv.NewReader(strings.NewReader(string(b.Get("/today/" + name + "/records.csv?of=start").Want(200).Body))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if got := len(list.All("tbody tr")); got != len(rows)-1 || got < least {
			t.Errorf("%s: %d rows on the page, %d in the CSV, want at least %d", name, got, len(rows)-1, least)
			continue
		}
		sums := append(list.All("tfoot th"), list.All("tfoot td")...)
		for i, head := range rows[0] {
			shown := webtest.Text(sums[i])
			if i == 0 || shown == "" || slices.Contains(notSummed, head) {
				continue
			}
			off := new(big.Rat).Sub(addUp(t, rows[1:], i), plainFigure(t, head, shown))
			if most := allowed[head]; off.Abs(off).Cmp(big.NewRat(most*int64(len(rows)+100), 200)) > 0 {
				t.Errorf("%s: %s is off by %s, shown is %s", name, head, off.FloatString(2), shown)
			}
		}
	}
	if got := string(b.Get("/today/quotes/records.csv?of=start").Body); !strings.Contains(got, ",'=1+1 Roofing,") {
		t.Errorf("a name is a formula in the CSV: %s", got)
	}
	b.Get("/today/nothing").Want(404)
	b.Get("/today?of=decade").Want(404)
	owed := string(site.As(t, party.Bookkeeper).Get("/books/owed.csv").Want(200).Body)
	if !strings.HasPrefix(owed, "number,kind,customer,") || strings.Count(owed, "INV-") != 3 {
		t.Errorf("open items: %s", owed)
	}
	look := browsertest.Start(t, site)
	look.As(party.Owner)
	look.Look("today", "/today?of=start")
	look.Look("records", "/today/contribution?of=start")
}

func addUp(t *testing.T, rows [][]string, column int) *big.Rat {
	t.Helper()
	sum := new(big.Rat)
	for _, row := range rows {
		n, ok := new(big.Rat).SetString(row[column])
		if !ok {
			t.Fatalf("%q is no number", row[column])
		}
		sum.Add(sum, n)
	}
	return sum
}

// plainFigure reads a sum as the page shows it: hours of minutes, dollars, feet.
func plainFigure(t *testing.T, head, shown string) *big.Rat {
	t.Helper()
	shown = strings.ReplaceAll(shown, ",", "")
	if hours, minutes, ok := strings.Cut(shown, ":"); ok {
		var h, m int64
		if _, err := fmt.Sscan(strings.TrimPrefix(hours, "-"), &h); err != nil {
			t.Fatal(err)
		}
		if _, err := fmt.Sscan(strings.TrimLeft(minutes, "0")+" ", &m); err != nil {
			m = 0 // :00
		}
		n := 60*h + m
		if strings.HasPrefix(hours, "-") {
			n = -n
		}
		return big.NewRat(n, 1)
	}
	n, ok := new(big.Rat).SetString(shown)
	if !ok {
		t.Fatalf("%s: %q is no number", head, shown)
	}
	return n
}

// The owner's figures in an empty shop: nothing to show, and nothing breaks.
func TestTodayOfAnEmptyShop(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	page := b.Get("/today").Want(200)
	if got := page.Text(".needs"); !strings.Contains(got, "Nothing waits") {
		t.Errorf("an empty shop needs: %s", got)
	}
	for name := range map[string]bool{"hours": true, "contribution": true, "lines": true, "promises": true, "quotes": true, "coils": true, "payback": true} {
		b.Get("/today/" + name).Want(200)
		b.Get("/today/" + name + "/records.csv").Want(200)
	}
}
