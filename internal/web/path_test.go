package web_test

import (
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// TestPathOfOneOrder walks one order from ask to paid: the customer asks, reads
// the quote and accepts it in a real browser; owner, operator, driver and
// bookkeeper take it on through their pages' own forms, each page opened in the
// browser, too. Every paper on the way is opened and read.
func TestPathOfOneOrder(t *testing.T) {
	site := webtest.Furnished(t)
	b := browsertest.Start(t, site)
	walk := &path{T: t, site: site, b: b}
	walk.ask()
	walk.plan()
	walk.cut()
	walk.haul()
	walk.bill()
	walk.prove()
}

type path struct {
	*testing.T
	site  *webtest.Site
	b     *browsertest.Browser
	order string // its page
	no    string // its number
}

// run runs a script for what it does.
func run(b *browsertest.Browser, script string) { browsertest.Ask[bool](b, script+"; true") }

// wait lets the browser come to where a script is true.
func (p *path) wait(what, script string) {
	p.Helper()
	for range 100 {
		if browsertest.Ask[bool](p.b, "(() => { try { return Boolean("+script+") } catch { return false } })()") {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	p.Fatalf("never came to: %s\n%.2000s", what, browsertest.Ask[string](p.b, "document.body.innerText"))
}

func (p *path) ask() {
	b := p.b
	b.As(party.Buyer)
	b.Go("/counter")
	run(b, `(() => {
		const set = (name, value) => { const f = document.querySelector('[name="' + name + '"]'); f.value = value; f.dispatchEvent(new Event("input", {bubbles: true})); };
		set("fulfil", "delivery"); set("ship_to", "7 Test Ln"); set("city", "Ridgeway Bend"); set("state", "ZE"); set("miles", "12");
		set("job", "Path of one order"); set("lines.0.cuts", "6 @ 12' 6-1/2\"\n4 @ 9-3");
	})()`)
	p.wait("a price while asking", `document.querySelector("#slip .total")`)
	run(b, `document.querySelector('button[name=do][value=quote]').click()`)
	p.wait("the quote's own page", `location.pathname.startsWith("/q/")`)
	quote := browsertest.Ask[string](b, `document.querySelector('a[href*="/papers/"]').getAttribute("href")`)
	run(b, `(() => { document.querySelector('#accept [name=name]').value = "Casey Customer"; document.querySelector('#accept [name=consent]').checked = true; document.querySelector('button[form=accept], #accept button').click(); })()`)
	p.wait("accepted", `document.body.innerText.includes("the order is accepted")`)

	owner := p.site.As(p.T, party.Owner)
	link := webtest.Attr(owner.Get("/orders").Want(200).One("tbody th a"), "href")
	p.order, p.no = link, webtest.Text(owner.Get(link).Want(200).One("h1"))
	p.no = regexp.MustCompile(`\d+`).FindString(p.no)
	p.reads(p.site.As(p.T, party.Buyer), quote, p.no, "Subtotal")
}

// reads opens a paper and looks for what it must say.
func (p *path) reads(who *webtest.Browser, path string, says ...string) {
	p.Helper()
	pdf := who.Get(path).Want(200).Body
	if !strings.HasPrefix(string(pdf), "%PDF-") {
		p.Fatalf("%s is no PDF", path)
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		if os.Getenv("CI") != "" {
			p.Fatal("pdftotext is missing (package poppler-utils)")
		}
		p.Log("pdftotext is missing (package poppler-utils): the papers are opened, not read")
		return
	}
	file := filepath.Join(p.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		p.Fatal(err)
	}
	text, err := exec.CommandContext(p.Context(), tool, "-layout", file, "-").Output()
	if err != nil {
		p.Fatal(err)
	}
	for _, s := range says {
		if !strings.Contains(string(text), s) {
			p.Errorf("%s doesn't say %q:\n%.3000s", path, s, text)
		}
	}
}

func (p *path) plan() {
	owner := p.site.As(p.T, party.Owner)
	owner.Submit(owner.Get("/plan/proposal").Want(200), "#adopt", nil).Want(303)
	if got := owner.Get(p.order).Text(".path .here .station"); got != "planned" {
		p.Fatalf("after planning it is %s", got)
	}
	p.b.As(party.Owner)
	p.b.Go("/plan")
	p.wait("the run plan drawn", `document.querySelector("svg.drawing")`)
}

func (p *path) cut() {
	operator := p.site.As(p.T, party.Operator)
	floor := "/floor/FORMER"
	page := operator.Get(floor).Want(200)
	sheet := operator.Submit(page, `form[action="`+floor+`/sheet"]`, nil).Want(303)
	p.reads(operator, sheet.Header.Get("Location"), p.no)
	for range 40 {
		page = operator.Get(floor).Want(200)
		if threads := page.All(`form[action="` + floor + `/thread"]`); len(threads) > 0 && len(page.All(`form[action="`+floor+`/made"]`)) == 0 {
			operator.Submit(page, `form[action="`+floor+`/thread"]`, nil).Want(303)
			continue
		}
		if len(page.All(`form[action="`+floor+`/made"]`)) == 0 {
			break
		}
		operator.Submit(page, `form[action="`+floor+`/made"]`, url.Values{"pieces": {"1"}}).Want(303)
	}
	if got := operator.Get(p.order).Text(".path .here .station"); got != "cut" {
		p.Fatalf("after the last piece it is %s", got)
	}
	for _, kind := range []string{"pick-ticket", "bundle-labels"} {
		pick := operator.Get(p.order + "/pick").Want(200)
		form := `form[action="` + p.order + `/papers"]`
		paper := operator.Submit(pick, form, url.Values{"kind": {kind}}).Want(303)
		p.reads(operator, paper.Header.Get("Location"), p.no)
	}
	p.b.As(party.Operator)
	p.b.Go(floor)
	p.wait("the floor's page", `document.querySelector("h1")`)
}

func (p *path) haul() {
	driver := p.site.As(p.T, party.Driver)
	for range 20 {
		pick := driver.Get(p.order + "/pick").Want(200)
		if len(pick.All("#check")) == 0 {
			break
		}
		code := regexp.MustCompile(`B`+p.no+`-\d+`).FindAllString(string(pick.Body), -1)
		for _, c := range code {
			driver.Submit(pick, "#check", url.Values{"code": {c}})
		}
	}
	loads := driver.Get("/loads").Want(200)
	build := loads.One("#build")
	form := url.Values{"order": {recordID(p.order)}, "day": {p.site.Desk.Now().Format("1/2/2006")}}
	for _, name := range []string{"vehicle", "driver"} {
		for _, o := range webtest.Find(build, `select[name="`+name+`"] option`) {
			if v := webtest.Attr(o, "value"); v != "" && form[name] == nil {
				form[name] = []string{v}
			}
		}
	}
	trip := driver.Submit(loads, "#build", form).Want(303).Header.Get("Location")
	driver.Submit(driver.Get(trip).Want(200), `form[action="`+trip+`/leave"]`, nil).Want(303)
	if got := driver.Get(p.order).Text(".path .here .station"); got != "loaded" {
		p.Fatalf("on the road it is %s", got)
	}
}

func (p *path) bill() {
	driver := p.site.As(p.T, party.Driver)
	today := driver.Get("/drive").Want(200)
	stop := leads(p.T, today, "/drive/stops/")[0]
	p.b.As(party.Driver)
	p.b.Go(stop)
	run(p.b, `document.querySelector("#stop [name=receiver]").value = "Robin Receiver"; for (const t of document.querySelectorAll("#stop [name=ticked]")) t.checked = true; document.querySelector("button[form=stop]").click()`)
	p.wait("the driver's next stop", `!document.querySelector("#stop") || document.body.innerText.includes("Handed over")`)
	if got := driver.Get(p.order).Text(".path .here .station"); got != "delivered" {
		p.Fatalf("after the hand-over it is %s", got)
	}

	keeper := p.site.As(p.T, party.Bookkeeper)
	for _, paper := range leads(p.T, keeper.Get(p.order).Want(200), "/papers/") {
		p.reads(keeper, paper, p.no) // quote, acknowledgement, tickets, labels
	}
	draft := keeper.Get("/books/invoices/new?order=" + recordID(p.order)).Want(200)
	bill := keeper.Submit(draft, "#issue", nil).Want(303).Header.Get("Location")
	invoice := keeper.Get(bill).Want(200)
	p.reads(keeper, leads(p.T, invoice, "/papers/")[0], p.no)
	account := keeper.Get("/books/customers/1").Want(200)
	owed := regexp.MustCompile(`[\d,]+\.\d\d`).FindString(account.Text(".total"))
	keeper.Submit(account, "#payment", url.Values{"amount": {owed}, "method": {"check"}, "reference": {"1001"}}).Want(303)
	if got := keeper.Get(p.order).Text(".path .here .station"); got != "closed" {
		p.Fatalf("paid in full it is %s", got)
	}
	p.b.As(party.Bookkeeper)
	p.b.Go("/books")
	p.wait("the books", `document.querySelector("h1")`)
}

// prove checks every invariant of the database that the walk leaves.
func (p *path) prove() {
	err := p.site.Desk.Verify(p.Context(), func(c desk.Checked) {
		for _, wrong := range c.Wrong {
			p.Errorf("%s: %s", c.Name, wrong)
		}
	})
	if err != nil {
		p.Fatal(err)
	}
}

func recordID(page string) string { return page[strings.LastIndex(page, "/")+1:] }

// leads gives where a page's links go that start with prefix, of which there
// must be one.
func leads(t *testing.T, page *webtest.Page, prefix string) (paths []string) {
	t.Helper()
	for _, a := range page.All("a[href]") {
		if href := webtest.Attr(a, "href"); strings.HasPrefix(href, prefix) {
			paths = append(paths, href)
		}
	}
	if len(paths) == 0 {
		t.Fatalf("%s leads to no %s", page.Asked, prefix)
	}
	return paths
}
