package web_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// snap is a small photo with a note of where it was taken.
func snap(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 48)), nil); err != nil {
		t.Fatal(err)
	}
	note := "Exif\x00\x00 41.40338 N, 82.17403 W"
	return append([]byte("\xff\xd8\xff\xe1\x00"+string(rune(len(note)+2))+note), b.Bytes()[2:]...)
}

// A photo goes with an order, from the account and by the private link: without
// its note of where, to the shop and the firm and nobody else.
func TestPhotoNotes(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, mine, 20, "Hill house")
	path := fmt.Sprintf("/orders/%d", q.Order.ID)
	buyer := site.As(t, party.Buyer)
	page := buyer.Get(path).Want(http.StatusOK)
	refused := sendFile(t, site, buyer, page, "#photo", "photo", "x.jpg", []byte("<svg onload=alert(1)>"), url.Values{"caption": {"list"}}).Want(http.StatusUnprocessableEntity)
	if got := refused.Text("#f-photo-error"); !strings.Contains(got, "isn't a picture") {
		t.Errorf("%q", got)
	}
	sendFile(t, site, buyer, page, "#photo", "photo", "x.jpg", bytes.Repeat([]byte("x"), 6<<20), nil).Want(http.StatusUnprocessableEntity)
	sendFile(t, site, buyer, page, "#photo", "photo", "x.jpg", snap(t), url.Values{"caption": {"list on a board"}}).Want(http.StatusSeeOther)
	sendFile(t, site, buyer, buyer.Get(path), "#photo", "photo", "x.jpg", snap(t), nil).Want(http.StatusSeeOther) // once more: kept once
	page = buyer.Get(path)
	if n := len(page.All(".photos img")); n != 1 || !strings.Contains(page.Text(".photos"), "list on a board") {
		t.Fatalf("%d photos: %q", n, page.Text(".photos"))
	}
	at := webtest.Attr(page.One(".photos img"), "src")
	for _, role := range []party.Role{party.Buyer, party.Owner, party.Operator} {
		photo := site.As(t, role).Get(at).Want(http.StatusOK)
		if photo.Header.Get("Content-Type") != "image/jpeg" || photo.Header.Get("X-Content-Type-Options") != "nosniff" || bytes.Contains(photo.Body, []byte("41.40338")) {
			t.Errorf("%s: %v", role, photo.Header)
		}
		if _, err := jpeg.Decode(bytes.NewReader(photo.Body)); err != nil {
			t.Error(err)
		}
	}
	visitor := site.As(t, party.Visitor)
	if got := visitor.Get(at).Status; got != http.StatusSeeOther {
		t.Errorf("a visitor gets %d", got)
	}
	link := visitor.Get("/q/" + q.Token).Want(http.StatusOK)
	if len(link.All(".photos img")) != 0 || !strings.Contains(link.Text("main"), "1 photo is with the shop") {
		t.Error("the link shows the photo itself, or nothing of it")
	}
	for i := range 5 {
		other := append(bytes.Clone(snap(t)[:0]), pixels(t, i)...)
		answer := sendFile(t, site, visitor, visitor.Get("/q/"+q.Token), "#photo", "photo", "x.jpg", other, nil)
		if want := map[bool]int{true: http.StatusSeeOther, false: http.StatusUnprocessableEntity}[i < 3]; answer.Status != want {
			t.Errorf("photo %d by the link: %d", i+2, answer.Status)
		}
	}
}

func pixels(t testing.TB, n int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 16+n, 16+n)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What is asked for is kept as a list, from the counter and from an order, and
// ordered again from it.
func TestKeptLists(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Buyer)
	counter := b.Get("/counter")
	ask := url.Values{"lines.0.make": {seam}, "lines.0.metal": {charcoal}, "lines.0.cuts": {"4 @ 12' 6-1/2\" #A1\n2 @ 9 ft"}, "list_name": {"Garage"}}
	sent := url.Values{}
	for _, n := range webtest.Find(counter.One("#ask"), "input[type=hidden]") {
		sent.Set(webtest.Attr(n, "name"), webtest.Attr(n, "value"))
	}
	for name, v := range ask {
		sent[name] = v
	}
	sent.Set("fulfil", "pick-up")
	b.Post("/account/lists", sent).WantRedirect("/account/lists")
	sent.Set("form_key", strings.Repeat("a", 32))
	again := b.Post("/account/lists", sent).Want(http.StatusUnprocessableEntity)
	if got := again.Text("#f-list-name-error"); !strings.Contains(got, "already") || again.Text("[name=job]") != "" {
		t.Errorf("the same name again: %q", got)
	}
	lists := b.Get("/account/lists").Want(http.StatusOK)
	if got := lists.Text("tbody"); !strings.Contains(got, "Garage") || !strings.Contains(got, "6 pieces") {
		t.Fatalf("%q", got)
	}
	use := b.Get(webtest.Attr(lists.One("td a.button"), "href")).Want(http.StatusOK)
	if got := use.Text("#echo-1 li"); !strings.Contains(got, "4 × 12′ 6½″ A1") || !strings.Contains(got, "2 × 9′") || !strings.Contains(use.Text("#slip"), "Alone") {
		t.Errorf("used as %q", got)
	}
	// From an order's page, in one click and a name.
	q := quoteFor(t, site, mine, 20, "Hill house")
	path := fmt.Sprintf("/orders/%d", q.Order.ID)
	b.Submit(b.Get(path), "#keep-list", url.Values{"list_name": {""}}).Want(http.StatusUnprocessableEntity).One("#f-list-name-error")
	b.Submit(b.Get(path), "#keep-list", nil).WantRedirect("/account/lists")
	if got := b.Get("/account").Text("main"); !strings.Contains(got, "Hill house") || !strings.Contains(got, "Garage") {
		t.Errorf("the account's page misses a list: %q", got)
	}
	// The counter prices it for them.
	clerk := site.As(t, party.Counter)
	shown := clerk.Get(fmt.Sprintf("/customers/%d", mine))
	if got := clerk.Get(webtest.Attr(shown.One("[aria-labelledby=lists] a"), "href")).Want(http.StatusOK); webtest.Attr(got.One("#f-customer"), "value") == "" {
		t.Error("the counter doesn't know whose list it is")
	}
	b.Submit(b.Get("/account/lists"), "tbody form", nil).WantRedirect("/account/lists")
	if got := b.Get("/account/lists").Text("tbody"); strings.Contains(got, "Garage") {
		t.Errorf("dropped, it is still there: %q", got)
	}
}

// A customer's person keeps their own firm's sites; the road miles that the shop
// found stay.
func TestOwnSites(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Buyer)
	b.Submit(b.Get("/account/sites/new"), "#site", url.Values{"name": {""}}).Want(http.StatusUnprocessableEntity)
	b.Submit(b.Get("/account/sites/new"), "#site", url.Values{"name": {"Lake house"}, "street": {"5 Shore Rd"}, "city": {"Eastfork"}, "state": {"oh"}, "contact": {"Finch"}, "access_notes": {"Gate code at the office"}, "miles": {"12.5"}}).WantRedirect("/account")
	page := b.Get("/account")
	if got := page.Text("main"); !strings.Contains(got, "Lake house") || !strings.Contains(got, "Gate code") {
		t.Fatalf("%q", got)
	}
	var at string
	for _, a := range page.All(".lines a") {
		if webtest.Text(a) == "Lake house" {
			at = webtest.Attr(a, "href")
		}
	}
	b.Submit(b.Get(at).Want(http.StatusOK), "#site", url.Values{"phone": {"555 0177"}, "miles": {"0.1"}}).WantRedirect("/account")
	if got := b.Get(at); webtest.Attr(got.One("#f-miles"), "value") != "12.5" || webtest.Attr(got.One("#f-phone"), "value") != "555 0177" {
		t.Error("miles changed, or the phone didn't")
	}
	if got := b.Get("/counter").Text("#f-site"); !strings.Contains(got, "Lake house") {
		t.Errorf("the counter offers %q", got)
	}
}

// A firm asks for an account, the shop says yes, the person joins and signs in;
// another is told no.
func TestAccountRequests(t *testing.T) {
	site := webtest.Furnished(t)
	visitor := site.As(t, party.Visitor)
	visitor.Submit(visitor.Get("/account/request"), "#request", url.Values{"firm": {"Heron Sheds"}, "email": {"no"}}).Want(http.StatusUnprocessableEntity).One("#f-email-error")
	ask := url.Values{"firm": {"Heron Sheds"}, "name": {"Ida Heron"}, "email": {"ida@example.com"}, "phone": {"555 0155"}, "city": {"Westfork"}, "note": {"<b>net 30</b> please"}}
	visitor.Submit(visitor.Get("/account/request"), "#request", ask).WantRedirect("/sign-in")
	ask.Set("firm", "Stork Towers")
	ask.Set("email", "s@example.com")
	visitor.Submit(visitor.Get("/account/request"), "#request", ask).WantRedirect("/sign-in")

	owner := site.As(t, party.Owner)
	if got := owner.Get("/customers").Text(".act"); !strings.Contains(got, "(2)") {
		t.Errorf("the list of customers says %q", got)
	}
	queue := owner.Get("/customers/requests").Want(http.StatusOK)
	if got := queue.Text("section.request"); !strings.Contains(got, "Heron Sheds") || !strings.Contains(got, "<b>net 30</b>") {
		t.Fatalf("%q", got)
	}
	form := "#" + webtest.Attr(queue.All("section.request form.column")[0], "id")
	owner.Submit(queue, form, url.Values{"class": {"prince"}}).Want(http.StatusUnprocessableEntity)
	yes := owner.Submit(queue, form, url.Values{"class": {"walk-in"}, "terms": {"30"}, "credit_limit": {"5000"}}).Want(http.StatusSeeOther)
	customer := owner.Get(yes.Header.Get("Location")).Want(http.StatusOK)
	said := customer.Text(".notice")
	join := said[strings.Index(said, "/join/"):]
	if got := webtest.Attr(customer.One("#f-credit-limit"), "value"); got != "5,000.00" && got != "5000.00" {
		t.Errorf("credit limit %q", got)
	}
	if got := customer.Text("#f-class option[selected]"); got != "Walk-in" {
		t.Errorf("class %q", got)
	}
	// Answered once is answered.
	owner.PostForm(webtest.Attr(queue.One(form), "action"), url.Values{"class": {"trade"}}).Want(http.StatusConflict)
	visitor.Submit(visitor.Get(strings.TrimSpace(join)).Want(http.StatusOK), "#join", url.Values{"name": {"Ida Heron"}, "password": {webtest.Password}}).WantRedirect("/sign-in")
	visitor.Submit(visitor.Get("/sign-in"), "#sign-in", url.Values{"email": {"ida@example.com"}, "password": {webtest.Password}}).WantRedirect("/")
	if got := visitor.Get("/account").Want(http.StatusOK).Text("h1"); got != "Heron Sheds" {
		t.Errorf("the account is of %q", got)
	}
	// The counter says no; it gives no credit.
	clerk := site.As(t, party.Counter)
	queue = clerk.Get("/customers/requests")
	if len(queue.All("[name=credit_limit]")) != 0 {
		t.Error("the counter is offered to give credit")
	}
	no := queue.All("section.request form.column")[1]
	at := webtest.Attr(no, "action")
	if !strings.HasSuffix(at, "/decline") {
		t.Fatal(at)
	}
	clerk.PostForm(at, url.Values{"reason": {""}}).Want(http.StatusUnprocessableEntity)
	clerk.PostForm(at, url.Values{"reason": {"too far away"}}).WantRedirect("/customers/requests")
	if got := clerk.Get("/customers/requests").Text(".lines"); !strings.Contains(got, "Stork Towers") || !strings.Contains(got, "too far away") {
		t.Errorf("%q", got)
	}
	// From one address not without end.
	for i := range 4 {
		ask.Set("email", fmt.Sprintf("n%d@example.com", i))
		stranger := site.As(t, party.Visitor)
		page := stranger.Submit(stranger.Get("/account/request"), "#request", ask)
		if i == 3 {
			page.Want(http.StatusTooManyRequests)
		}
	}
}

// Another firm's photo, list and site, by their ids: nothing is there, and nothing
// of them changes.
func TestOthersKeepsAreNotThere(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, theirs, 22, "Zebra barn")
	ctx, clerk := t.Context(), site.Person(t, party.Counter).Actor()
	if err := site.Desk.AddPhotoNote(ctx, clerk, q.Order.ID, "zebra", pixels(t, 1)); err != nil {
		t.Fatal(err)
	}
	photos, err := site.Desk.PhotoNotes(ctx, clerk, q.Order.ID)
	if err != nil || len(photos) != 1 {
		t.Fatal(photos, err)
	}
	list, err := site.Desk.SaveListOf(ctx, clerk, "Zebra list", q.Order.ID)
	if err != nil {
		t.Fatal(err)
	}
	place, err := site.Desk.SaveSite(ctx, site.Owner, party.Site{CustomerID: theirs, Name: "Zebra barn", Address: party.Address{Street: "9 Zebra Rd", City: "Eastfork", State: "OH"}})
	if err != nil {
		t.Fatal(err)
	}
	own := quoteFor(t, site, mine, 20, "Own")
	b := site.As(t, party.Buyer)
	for _, path := range []string{
		fmt.Sprintf("/orders/%d/photos/%d", q.Order.ID, photos[0].ID), fmt.Sprintf("/orders/%d/photos/%d", own.Order.ID, photos[0].ID),
		fmt.Sprintf("/counter?list=%d", list.ID), fmt.Sprintf("/account/sites/%d", place.ID), "/counter?list=x", "/counter?list=999999",
	} {
		if page := b.Get(path); page.Status != http.StatusNotFound || bytes.Contains(bytes.ToLower(page.Body), []byte("zebra")) {
			t.Errorf("%s answers %d", path, page.Status)
		}
	}
	for path, form := range map[string]url.Values{
		fmt.Sprintf("/account/lists/%d/drop", list.ID): {},
		"/account/lists": {"from": {fmt.Sprint(q.Order.ID)}, "list_name": {"Mine now"}},
		"/account/sites": {"site": {fmt.Sprint(place.ID)}, "name": {"Mine now"}, "street": {"1"}, "city": {"X"}},
	} {
		if page := b.PostForm(path, form); page.Status != http.StatusNotFound {
			t.Errorf("%s answers %d: %s", path, page.Status, page.Text(".problems"))
		}
	}
	sendFile(t, site, b, b.Get(fmt.Sprintf("/orders/%d", own.Order.ID)), "#photo", "photo", "x.jpg", pixels(t, 2), nil).Want(http.StatusSeeOther)
	for _, path := range []string{"/customers/requests", "/customers/requests/1/approve", "/customers/requests/1/decline"} {
		page := b.PostForm(path, url.Values{"class": {"trade"}, "reason": {"x"}})
		if path == "/customers/requests" {
			page = b.Get(path)
		}
		page.Want(http.StatusForbidden)
	}
	lists, err := site.Desk.Lists(ctx, clerk, theirs)
	if err != nil || len(lists) != 1 || lists[0].Name != "Zebra list" {
		t.Errorf("their lists are now %v, %v", lists, err)
	}
	file, err := site.Desk.CustomerFile(ctx, clerk, theirs)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range file.Sites {
		if s.Name == "Mine now" {
			t.Error("their site was taken over")
		}
	}
	var none order.Order
	if _, err := site.Desk.SaveList(ctx, party.Actor{Role: party.Visitor}, "x", none); err == nil {
		t.Error("a visitor keeps a list")
	}
}

// A certificate that ends soon, and one that has ended, say so.
func TestCertificatesSayWhenTheyEnd(t *testing.T) {
	site := webtest.Furnished(t)
	day := site.Now()
	for number, days := range map[string]int{"SOON-1": 20, "OVER-1": -3, "LONG-1": 300} {
		c := party.Certificate{CustomerID: mine, Number: number, State: "OH", Signed: day.AddDate(-1, 0, 0).Truncate(24 * time.Hour), Expires: day.AddDate(0, 0, days).Truncate(24 * time.Hour)}
		if _, err := site.Desk.AddCertificate(t.Context(), site.Owner, c); err != nil {
			t.Fatal(err)
		}
	}
	for _, li := range site.As(t, party.Buyer).Get("/account").All(".lines li") {
		text := webtest.Text(li)
		for number, says := range map[string]string{"SOON-1": "ends soon", "OVER-1": "tax is charged", "LONG-1": "holds until"} {
			if strings.Contains(text, number) && (!strings.Contains(text, says) || number == "LONG-1" && strings.Contains(text, "ends soon")) {
				t.Errorf("%s: %q", number, text)
			}
		}
	}
}

func TestLookAtAccountSide(t *testing.T) {
	t.Parallel()
	site := webtest.Furnished(t)
	b := browsertest.Start(t, site)
	q := quoteFor(t, site, mine, 20, "Hill house")
	if err := site.Desk.AddPhotoNote(t.Context(), site.Person(t, party.Counter).Actor(), q.Order.ID, "List on a board", pixels(t, 300)); err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.SaveListOf(t.Context(), site.Person(t, party.Buyer).Actor(), "Hill house", q.Order.ID); err != nil {
		t.Fatal(err)
	}
	b.As(party.Buyer)
	for _, width := range browsertest.Widths {
		b.Size(width)
		b.Go("/account")
		b.LookHere(fmt.Sprintf("account-own-%d", width))
	}
	b.Size(browsertest.Widths[0])
	b.Go(fmt.Sprintf("/orders/%d", q.Order.ID))
	b.LookHere("order-photos")
	b.As(party.Visitor)
	b.Go("/account/request")
	b.LookHere("account-request")
}
