package web_test

import (
	"encoding/json"
	"fmt"
	"net/url"
	"strings"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/web/webtest"
)

// twoOrders gives a furnished site on which order 1 is planned in bronze, and
// order 2, a draft, shares its set-ups.
func twoOrders(t *testing.T) *webtest.Site {
	t.Helper()
	site := webtest.Furnished(t)
	first := takeAsk(t, site, 20, 12)
	q, err := site.Desk.QuoteOrder(t.Context(), site.Owner, first.ID, first.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.AcceptOrder(t.Context(), site.Owner, first.ID, q.Order.Version, desk.Yes{Name: "Wren", Consent: true}); err != nil {
		t.Fatal(err)
	}
	p, err := site.Desk.ProposePlan(t.Context(), site.Owner)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.AdoptPlan(t.Context(), site.Owner, p.Stamp); err != nil {
		t.Fatal(err)
	}
	takeAsk(t, site, 10, 9)
	return site
}

func takeAsk(t *testing.T, site *webtest.Site, qty, feet int) order.Order {
	t.Helper()
	o, err := site.Desk.TakeOrder(t.Context(), site.Owner, order.Order{CustomerID: 3, Fulfil: order.PickUp, Contact: order.Contact{Name: "Wren"}, Sharing: true, Lines: []order.Line{
		{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "BRZ", Cuts: []order.CutItem{{Qty: qty, Length: measure.Foot.Times(feet)}}},
		{Kind: order.Trim, Code: "RIDGE", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 3, Length: 10 * measure.Foot}}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// A price opens into both offers, replays to its cents, and its download is an
// input that gives the same quote.
func TestPriceExplained(t *testing.T) {
	site := twoOrders(t)
	b := site.As(t, party.Counter)
	page := b.Get("/orders/2/price").Want(200)
	if got := page.Text(".say"); !strings.HasPrefix(got, "Replayed just now from the stored inputs to the identical cents") {
		t.Errorf("said %q", got)
	}
	if n := len(page.All(".offers section")); n != 2 {
		t.Errorf("%d offers side by side", n)
	}
	if n := len(page.All(".offers svg")); n != 2 {
		t.Errorf("%d pictures", n)
	}
	f, err := site.Desk.OrderFile(t.Context(), site.Owner, 2)
	if err != nil {
		t.Fatal(err)
	}
	for _, total := range []string{f.Order.Alone.Total.Format(), f.Order.Shared.Total.Format()} {
		if !strings.Contains(page.Text(".offers"), total) {
			t.Errorf("%s isn't on the page", total)
		}
	}
	file := b.Get("/orders/2/price.json").Want(200)
	in, err := price.Decode(strings.NewReader(string(file.Body)))
	if err != nil {
		t.Fatal(err)
	}
	q, err := price.Price(in)
	if err != nil || q.Alone.Total.Cmp(f.Order.Alone.Total) != 0 || q.Shared.Total.Cmp(f.Order.Shared.Total) != 0 {
		t.Errorf("the download prices to %s and %s, %v", q.Alone.Total, q.Shared.Total, err)
	}
	for _, role := range []party.Role{party.Buyer, party.Operator, party.Driver, party.Bookkeeper} {
		site.As(t, role).Get("/orders/2/price").Want(403)
		site.As(t, role).Get("/orders/2/price.json").Want(403)
	}
	if got := site.As(t, party.Operator).Get("/orders").Text("main"); strings.Contains(got, "Worth of an hour") {
		t.Error("an operator sees what an hour is worth")
	}
}

// Taken far below the floor, a draft goes out only with the owner's reason.
func TestBelowTheFloor(t *testing.T) {
	site := twoOrders(t)
	b := site.As(t, party.Owner)
	b.Submit(b.Get("/orders/2/price"), "#discount", url.Values{"discount": {"lots"}}).Want(422).One("#f-discount-error")
	b.Submit(b.Get("/orders/2/price"), "#discount", url.Values{"discount": {"60"}}).WantRedirect("/orders/2/price")
	page := b.Get("/orders/2/price").Want(200)
	if got := page.Text("main"); !strings.Contains(got, "Below the floor") || !strings.Contains(got, "sold below it") {
		t.Fatalf("the page says %q", got)
	}
	counter := site.As(t, party.Counter)
	if got := counter.Get("/orders/2/price").Text("main"); strings.Contains(got, "Quote it below the floor") {
		t.Error("the counter may go below the floor")
	}
	counter.PostForm("/orders/2/price", url.Values{"discount": {"1"}}).Want(403)
	version := webtest.Attr(page.One("form[action=/orders/2/quote] [name=version]"), "value")
	counter.PostForm("/orders/2/quote", url.Values{"version": {version}, "below": {"I like them"}}).Want(409)
	b.Submit(page, "form[action=/orders/2/quote]", url.Values{"below": {"a start with a new customer"}}).WantRedirect("/orders/2")
	page = b.Get("/orders/2/price").Want(200)
	if got := page.Text(".offers"); !strings.Contains(got, "a start with a new customer") || !strings.Contains(got, "Demo Owner") {
		t.Errorf("whose word it was isn't kept: %q", got)
	}
}

// Before an order that shares a set-up is cancelled, the page says who stays and
// what the shop carries.
func TestCancellingIsShown(t *testing.T) {
	site := twoOrders(t)
	q, err := site.Desk.QuoteOrder(t.Context(), site.Owner, 2, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.AcceptOrder(t.Context(), site.Owner, 2, q.Order.Version, desk.Yes{Name: "Wren", Consent: true, Sharing: true}); err != nil {
		t.Fatal(err)
	}
	c, err := site.Desk.IfCancelled(t.Context(), site.Owner, 1)
	if err != nil || len(c.Left) != 1 || c.Shop.Sign() <= 0 {
		t.Fatalf("%+v, %v", c, err)
	}
	page := site.As(t, party.Owner).Get("/orders/1").Want(200)
	if got := page.Text("main"); !strings.Contains(got, "the shop carries "+c.Shop.Format()) || !strings.Contains(got, "order 1002 pays "+c.Left[0].Pays.Format()) {
		t.Errorf("the page says %q", got)
	}
	if got := site.As(t, party.Buyer).Get("/orders/1").Text("main"); strings.Contains(got, "the shop carries") {
		t.Error("a customer sees what the shop carries")
	}
}

// The order list ranks by what an hour earns, best first, for the owner.
func TestWorthOfAnHour(t *testing.T) {
	site := twoOrders(t)
	takeAsk(t, site, 60, 20)
	page := site.As(t, party.Owner).Get("/orders?by=worth").Want(200)
	f := map[string]desk.Worth{}
	list, err := site.Desk.Orders(t.Context(), site.Owner, desk.OrderFilter{Limit: 10})
	if err != nil {
		t.Fatal(err)
	}
	for id, w := range site.Desk.WorthOf(list) {
		f[fmt.Sprintf("/orders/%d", id)] = w
	}
	last, n := price.Contribution{}, 0
	for _, a := range page.All("tbody th a") {
		w := f[webtest.Attr(a, "href")]
		if n > 0 && w.PerHour.Cmp(last.PerHour) > 0 {
			t.Errorf("%s after %s", w.PerHour.Fixed(2), last.PerHour.Fixed(2))
		}
		last.PerHour, n = w.PerHour, n+1
	}
	if n != 3 {
		t.Errorf("%d orders are ranked", n)
	}
}

// Coil up by a tenth: the open draft costs more, the accepted order isn't in
// it, and nothing on file moves.
func TestWhatIf(t *testing.T) {
	site := twoOrders(t)
	b := site.As(t, party.Owner)
	page := b.Get("/rates/what-if").Want(200)
	before, err := site.Desk.OrderFile(t.Context(), site.Owner, 2)
	if err != nil {
		t.Fatal(err)
	}
	page = b.Submit(page, "#what-if", url.Values{"coil": {"10"}, "own_feet": {"1,000"}, "own_saving": {".50"}}).Want(200)
	if rows := page.All("#tried tbody tr"); len(rows) < 1 || !strings.Contains(webtest.Text(rows[0]), before.Order.Number) {
		t.Fatalf("the draft isn't among the open quotes: %s", page.Text("#tried"))
	}
	tried, err := site.Desk.TryRates(t.Context(), site.Owner, price.Changes{Coil: new(money.Must("1.1"))})
	if err != nil || len(tried.Quotes) != 1 || tried.Quotes[0].After.Cmp(tried.Quotes[0].Before) <= 0 {
		t.Fatalf("tried %+v, %v", tried, err)
	}
	if got := page.Text("#tried"); !strings.Contains(got, tried.After.Format()) || !strings.Contains(got, "ft a month") {
		t.Errorf("the page says %q", got)
	}
	after, err := site.Desk.OrderFile(t.Context(), site.Owner, 2)
	if err != nil || after.Order.Alone != before.Order.Alone || after.Order.Version != before.Order.Version {
		t.Errorf("trying moved the order: %v", err)
	}
	b.Submit(page, "#what-if", url.Values{"coil": {"much"}, "margin": {"200"}}).Want(422).One("#f-coil-error")
}

// The rates: what is typed wrong is told at its field with nothing lost, rows
// come and go, a kept sheet holds from its day and the old one stays.
func TestRatesForm(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Owner)
	page := b.Get("/rates").Want(200)
	if got := page.Text(".worked"); !strings.Contains(got, "$11,354.46") { // (86000-26000) x CRF(8.5 %, 10) + 26000 x 8.5 %
		t.Errorf("the worked sum says %q", got)
	}
	bad := b.Submit(page, "#rates", url.Values{"centers.1.machine.sheet.annual_hours": {"0"}, "targets.1.value": {"120"}, "centers.2.crew.1.hourly": {"plenty"}}).Want(422)
	for _, id := range []string{"#f-centers-1-machine-sheet-annual-hours-error", "#f-targets-1-value-error", "#f-centers-2-crew-1-hourly-error"} {
		bad.One(id)
	}
	if got := webtest.Attr(bad.One("#f-centers-2-crew-1-hourly"), "value"); got != "plenty" {
		t.Errorf("what was typed is %q now", got)
	}
	if !webtest.HasAttr(bad.One("#part-centers-2"), "open") {
		t.Error("the part with the fault is shut")
	}
	more := b.Submit(bad, "#rates", url.Values{"do": {"add:targets"}}).Want(200)
	if n, was := rowsOf(more, "targets"), rowsOf(page, "targets"); n != was+1 {
		t.Errorf("%d targets after adding to %d", n, was)
	}
	if got := webtest.Attr(more.One("#f-centers-2-crew-1-hourly"), "value"); got != "plenty" {
		t.Errorf("adding a row lost %q", got)
	}
	second := webtest.Attr(page.One("#f-targets-2-value"), "value")
	less := b.Submit(page, "#rates", url.Values{"do": {"remove:targets.1"}}).Want(200)
	if got := webtest.Attr(less.One("#f-targets-1-value"), "value"); got != second || rowsOf(less, "targets") != rowsOf(page, "targets")-1 {
		t.Errorf("after taking the first off, the first is %q, was second %q", got, second)
	}
	b.Submit(page, "#rates", url.Values{"targets.1.value": {"75"}, "centers.1.dated": {"6/1/2025"}, "from": {"4/1/2026"}, "note": {"spring"}}).WantRedirect("/rates")
	sheets := b.Get("/rates").Text("main")
	if !strings.Contains(sheets, "Apr 1, 2026") || !strings.Contains(sheets, "to come") || !strings.Contains(sheets, "spring") {
		t.Error("the sheet to come isn't listed")
	}
	list, err := site.Desk.RateSheets(t.Context())
	if err != nil || len(list) != 2 {
		t.Fatalf("%d sheets, %v", len(list), err)
	}
	coming := b.Get(fmt.Sprintf("/rates?sheet=%d", list[0].ID)).Want(200)
	if got := coming.Text("#part-targets-1"); !strings.Contains(got, "A margin of 75 % is a markup of 300.00 % on cost") {
		t.Errorf("no warning at the margin: %q", got)
	}
	if got := coming.Text("#part-centers-1"); !strings.Contains(got, "days old") {
		t.Errorf("no warning of the old cost: %q", got)
	}
	b.Get("/rates?sheet=99").Want(404)
	if len(page.All("#stale")) != 0 {
		t.Error("fresh costs are called old")
	}
	supply := b.Get("/shop/catalogue/supplies/AZ50-24-20-CHAR")
	b.Submit(supply, "#item", url.Values{"cost_day": {"11/2/2025"}}).WantRedirect("/shop/catalogue/supplies")
	if got := b.Get("/rates").Text("main"); !strings.Contains(got, "of Nov 2, 2025, 120 days old") {
		t.Error("an old cost of coil isn't told")
	}
	swapped := b.Submit(b.Get("/rates"), "#rates", url.Values{"do": {"swap:centers.1.how=given"}}).Want(200)
	swapped.One("#f-centers-1-machine-given-rate")
	// Kept as it is shown, the sheet is the one in force, to the last figure.
	b.Submit(b.Get("/rates"), "#rates", url.Values{"from": {"3/2/2026"}}).WantRedirect("/rates")
	if list, err = site.Desk.RateSheets(t.Context()); err != nil {
		t.Fatal(err)
	}
	same := map[string]price.Shop{}
	for _, s := range list {
		var shop price.Shop
		if err := json.Unmarshal(s.Body, &shop); err != nil {
			t.Fatal(err)
		}
		shop.Currency = ""
		same[s.Effective] = shop
	}
	now, was := fmt.Sprintf("%+v", asJSON(t, same["2026-03-02"])), fmt.Sprintf("%+v", asJSON(t, same["2026-03-01"]))
	if now != was {
		t.Errorf("showing and keeping changed the rates:\n%s\n%s", was, now)
	}
}

func asJSON(t *testing.T, shop price.Shop) string {
	t.Helper()
	b, err := json.Marshal(shop)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func rowsOf(p *webtest.Page, name string) (n int) {
	_, _ = fmt.Sscan(webtest.Attr(p.One("[name="+name+".rows]"), "value"), &n)
	return n
}

// Every shelf: its items open, are kept unchanged as they are shown, and a slip
// is told at its field.
func TestCatalogue(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Owner)
	for kind, slip := range map[string][2]string{
		"materials": {"gauges", "13 bananas"}, "colours": {"swatch", "red"}, "profiles": {"strip", "wide"}, "shapes": {"name", ""},
		"accessories": {"cost", "1.234"}, "machines": {"max_strip", "-3"}, "supplies": {"per_pound", "0"}, "vehicles": {"payload", "much"},
	} {
		list := b.Get("/shop/catalogue/" + kind).Want(200)
		rows := list.All("tbody th a")
		if len(rows) == 0 {
			t.Fatalf("%s: nothing on the shelf", kind)
		}
		path := webtest.Attr(rows[0], "href")
		page := b.Get(path).Want(200)
		bad := b.Submit(page, "#item", url.Values{slip[0]: {slip[1]}}).Want(422)
		bad.One("#f-" + strings.ReplaceAll(slip[0], "_", "-") + "-error")
		b.Submit(page, "#item", nil).WantRedirect("/shop/catalogue/" + kind)
		again := b.Get(path).Want(200)
		for _, f := range page.All("#item input") {
			id := webtest.Attr(f, "id")
			if id == "" {
				continue
			}
			if was, now := webtest.Attr(f, "value"), webtest.Attr(again.One("#"+id), "value"); was != now {
				t.Errorf("%s: %s was %q, is %q", path, id, was, now)
			}
		}
	}
	b.Get("/shop/catalogue/nothing").Want(404)
	b.Get("/shop/catalogue/colours/NONE").Want(404)
}

// A colour from new to retired; a code is taken once; two people at one item.
func TestColourFromNewToRetired(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Owner)
	page := b.Get("/shop/catalogue/colours/new").Want(200)
	fresh := url.Values{"code": {"clay"}, "name": {"Clay"}, "finish": {"silicone polyester"}, "swatch": {"#8A6A55"}}
	b.Submit(page, "#item", fresh).WantRedirect("/shop/catalogue/colours")
	twice := b.Submit(b.Get("/shop/catalogue/colours/new"), "#item", fresh).Want(409)
	if got := twice.Text("#f-code-error"); !strings.Contains(got, "taken") {
		t.Errorf("a code that is taken: %q", got)
	}
	mine, theirs := b.Get("/shop/catalogue/colours/CLAY"), b.Get("/shop/catalogue/colours/CLAY")
	b.Submit(theirs, "#item", url.Values{"name": {"Red clay"}}).WantRedirect("/shop/catalogue/colours")
	late := b.Submit(mine, "#item", url.Values{"name": {"Brown clay"}}).Want(409)
	if got := late.Text(".problems"); !strings.Contains(got, "Red clay") || !strings.Contains(got, "Brown clay") {
		t.Errorf("both sides aren't shown: %q", got)
	}
	b.Submit(late, "#item", nil).WantRedirect("/shop/catalogue/colours")
	version := webtest.Attr(b.Get("/shop/catalogue/colours/CLAY").One("#item [name=version]"), "value")
	b.PostForm("/shop/catalogue/colours/CLAY", url.Values{"do": {"retire"}, "version": {version}}).WantRedirect("/shop/catalogue/colours")
	if got := b.Get("/shop/catalogue/colours").Text("tr.off"); !strings.Contains(got, "CLAY") {
		t.Errorf("retired: %q", got)
	}
	counter := site.As(t, party.Counter)
	if got := counter.Get("/counter").Text("main"); strings.Contains(got, "Brown clay") {
		t.Error("a retired colour can still be asked for")
	}
	counter.Get("/shop/catalogue/colours").Want(403)
}

// Another kind of section asks for its measures, and is drawn of them.
func TestProfileIsDrawn(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Owner)
	page := b.Get("/shop/catalogue/profiles/SEAM16")
	if len(page.All("#drawing svg")) != 1 {
		t.Fatal("no section is drawn")
	}
	page = b.Submit(page, "#item", url.Values{"outline": {"corrugated"}, "do": {"draw"}}).Want(200)
	if got := page.Text("fieldset"); !strings.Contains(got, "Corrugated") {
		t.Errorf("asked for %q", got)
	}
	if len(page.All("#drawing svg")) != 1 {
		t.Error("the other section isn't drawn")
	}
	machine := b.Get("/shop/catalogue/machines/FORMER")
	machine = b.Submit(machine, "#item", url.Values{"do": {"add:rule.1.pairs"}}).Want(200)
	if n := rowsOf(machine, "rule.1.pairs"); n != 3 {
		t.Errorf("%d pairs", n)
	}
	machine = b.Submit(machine, "#item", url.Values{"do": {"remove:rule.1"}}).Want(200)
	if got := webtest.Attr(machine.One("#f-rule-1-name"), "value"); got != "gauge" {
		t.Errorf("the first part is %q now", got)
	}
	b.Submit(b.Get("/shop/settings"), "#settings", url.Values{"quote_days": {"400"}}).Want(422).One("#f-quote-days-error")
	b.Submit(b.Get("/shop/settings"), "#settings", url.Values{"quote_days": {"12"}}).WantRedirect("/shop/settings")
	if got := webtest.Attr(b.Get("/shop/settings").One("#f-quote-days"), "value"); got != "12" {
		t.Errorf("quotes stay open %q days", got)
	}
}
