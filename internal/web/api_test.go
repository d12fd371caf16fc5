package web_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/gorillamux"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// description loads the API's description and checks it against OpenAPI 3.1.
func description(t *testing.T) *openapi3.T {
	t.Helper()
	text, err := os.ReadFile("openapi.yaml")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := openapi3.NewLoader().LoadFromData(text)
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Validate(t.Context()); err != nil {
		t.Fatal(err)
	}
	return doc
}

// Every route of the API is described with its scope, and nothing else is.
func TestAPIIsDescribed(t *testing.T) {
	doc := description(t)
	if doc.OpenAPI != "3.1.0" {
		t.Errorf("described as OpenAPI %s", doc.OpenAPI)
	}
	described := map[string]string{}
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			described[method+" "+path] = op.Summary
		}
	}
	delete(described, "GET /api/openapi.yaml")
	for _, line := range web.APITable() {
		name := line[0] + " " + regexp.MustCompile(`:(\w+)`).ReplaceAllString(line[1], "{$1}")
		if summary, ok := described[name]; !ok || !strings.Contains(summary, "(scope "+line[2]+")") {
			t.Errorf("%s with scope %s is described as %q", name, line[2], summary)
		}
		delete(described, name)
	}
	for name := range described {
		t.Errorf("%s is described and isn't there", name)
	}
}

// program asks a site over the API and holds each answer to the description.
type program struct {
	t      *testing.T
	site   *webtest.Site
	token  string
	router routers.Router
}

func newProgram(t *testing.T, site *webtest.Site, scopes ...desk.Scope) *program {
	t.Helper()
	token, _, err := site.Desk.AddProgram(t.Context(), site.Owner, "Estimator", scopes)
	if err != nil {
		t.Fatal(err)
	}
	router, err := gorillamux.NewRouter(description(t))
	if err != nil {
		t.Fatal(err)
	}
	openapi3filter.RegisterBodyDecoder("application/pdf", openapi3filter.FileBodyDecoder)
	return &program{t, site, token, router}
}

// reply is an answer of the API.
type reply struct {
	status int
	header http.Header
	body   []byte
	order  struct {
		ID     int64
		State  string
		Papers []struct{ ID int64 }
		Ready  string
		Alone  struct{ Total struct{ Amount string } }
	}
	problem struct {
		Type   string
		Detail string
		Ready  string
		Errors []struct{ Field, Detail string }
	}
}

// ask sends a request; headers are name, value, name, value.
func (p *program) ask(method, path, body string, headers ...string) *reply {
	p.t.Helper()
	r, err := http.NewRequestWithContext(p.t.Context(), method, p.site.URL+path, strings.NewReader(body))
	if err != nil {
		p.t.Fatal(err)
	}
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	if p.token != "" {
		r.Header.Set("Authorization", "Bearer "+p.token)
	}
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	res, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		p.t.Fatal(err)
	}
	defer res.Body.Close()
	out := &reply{status: res.StatusCode, header: res.Header}
	if out.body, err = io.ReadAll(res.Body); err != nil {
		p.t.Fatal(err)
	}
	p.describes(r, body, out)
	_ = json.Unmarshal(out.body, &out.order) // what isn't one leaves it empty
	_ = json.Unmarshal(out.body, &out.problem)
	return out
}

// describes holds an answer to the description, and what was asked too if it was
// done.
func (p *program) describes(r *http.Request, body string, out *reply) {
	p.t.Helper()
	route, params, err := p.router.FindRoute(r)
	if err != nil {
		p.t.Fatalf("%s %s: %v", r.Method, r.URL.Path, err)
	}
	options := &openapi3filter.Options{IncludeResponseStatus: true, AuthenticationFunc: openapi3filter.NoopAuthenticationFunc}
	in := &openapi3filter.RequestValidationInput{Request: r, PathParams: params, Route: route, Options: options}
	r.Body = io.NopCloser(strings.NewReader(body))
	if err := openapi3filter.ValidateRequest(p.t.Context(), in); err != nil && out.status < 300 {
		p.t.Errorf("%s %s was done and isn't as described: %v", r.Method, r.URL.Path, err)
	}
	err = openapi3filter.ValidateResponse(p.t.Context(), &openapi3filter.ResponseValidationInput{
		RequestValidationInput: in, Status: out.status, Header: out.header, Body: io.NopCloser(bytes.NewReader(out.body)), Options: options,
	})
	if err != nil {
		p.t.Errorf("%s %s: %d isn't as described: %v\n%.600s", r.Method, r.URL.Path, out.status, err, out.body)
	}
}

func (r *reply) want(t *testing.T, status int) *reply {
	t.Helper()
	if r.status != status {
		t.Fatalf("got %d, want %d: %s", r.status, status, r.body)
	}
	return r
}

const askedRoof = `{"customer_id":1,"contact":{"name":"Wren Sparrow"},"fulfil":"pick-up","lines":[
 {"kind":"formed","code":"SEAM16","material":"AZ50","gauge":"24 ga","color":"CHAR","cuts":[{"pieces":4,"length":"12' 6-1/2\""},{"pieces":8,"length":"18.25 ft","mark":"B"}]},
 {"kind":"accessory","code":"SEALANT","count":3}]}`

// A program prices a roof, orders it, quotes and accepts it, and reads the quote.
func TestAPIFromPriceToPaper(t *testing.T) {
	site := webtest.Furnished(t)
	p := newProgram(t, site, desk.Scopes...)
	priced := p.ask("POST", "/api/v1/price", askedRoof).want(t, 200)
	made := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "order-0001").want(t, 201)
	if made.header.Get("Location") != fmt.Sprintf("/api/v1/orders/%d", made.order.ID) || made.order.State != "draft" || made.order.Alone.Total.Amount != priced.order.Alone.Total.Amount {
		t.Errorf("made %s at %s for %s, priced %s", made.body, made.header.Get("Location"), made.order.Alone.Total.Amount, priced.order.Alone.Total.Amount)
	}
	path := made.header.Get("Location")
	seen := p.ask("GET", path, "").want(t, 200)
	if !bytes.Equal(seen.body, made.body) {
		t.Errorf("kept as\n%s\nmade as\n%s", seen.body, made.body)
	}
	p.ask("GET", path, "", "If-None-Match", seen.header.Get("ETag")).want(t, 304)
	quoted := p.ask("POST", path+"/quote", "", "Idempotency-Key", "quote-0001", "If-Match", seen.header.Get("ETag")).want(t, 200)
	if quoted.order.State != "quoted" || len(quoted.order.Papers) != 1 {
		t.Fatalf("quoted: %s", quoted.body)
	}
	p.ask("POST", path+"/accept", quoted.yes("false"), "Idempotency-Key", "accept-000", "If-Match", quoted.header.Get("ETag")).want(t, 422)
	accepted := p.ask("POST", path+"/accept", quoted.yes("true"), "Idempotency-Key", "accept-001", "If-Match", quoted.header.Get("ETag")).want(t, 200)
	if accepted.order.State != "accepted" {
		t.Errorf("accepted: %s", accepted.body)
	}
	paper := p.ask("GET", fmt.Sprintf("/api/v1/papers/%d", quoted.order.Papers[0].ID), "").want(t, 200)
	if !bytes.HasPrefix(paper.body, []byte("%PDF-")) {
		t.Errorf("the paper begins with %.20q", paper.body)
	}
	for _, private := range []string{"cost", "margin", "landed", "floor"} {
		for _, r := range []*reply{priced, accepted, p.ask("GET", "/api/v1/coils", ""), p.ask("GET", "/api/v1/customers", "")} {
			if strings.Contains(strings.ToLower(string(r.body)), `"`+private) {
				t.Errorf("%s is told: %s", private, r.body)
			}
		}
	}
}

// yes accepts an order for the date that it was answered with.
func (r *reply) yes(consent string) string {
	return fmt.Sprintf(`{"name":"Wren Sparrow","consent":%s,"ready":%q}`, consent, r.order.Ready)
}

// Keys, versions, scopes and slips, each with the status that the description
// names.
func TestAPIRefuses(t *testing.T) {
	site := webtest.Furnished(t)
	p := newProgram(t, site, desk.Scopes...)
	p.ask("POST", "/api/v1/orders", askedRoof).want(t, 400)
	p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "no good").want(t, 400)
	p.ask("POST", "/api/v1/orders", `{"lines":`, "Idempotency-Key", "key-00001").want(t, 400)
	p.ask("POST", "/api/v1/orders", `{"lines":[],"price":1}`, "Idempotency-Key", "key-00001").want(t, 400)
	p.ask("POST", "/api/v1/orders", `{"lines":[]} {}`, "Idempotency-Key", "key-00001").want(t, 400)
	p.ask("POST", "/api/v1/price", askedRoof, "Content-Type", "text/plain").want(t, 415)
	for _, twice := range []string{`{"job":"a","job":"b","lines":[]}`, `{"lines":[{"kind":"accessory","count":1,"count":2}]}`, `{"contact":{"name":"W"},"contact":{},"lines":[]}`} {
		p.ask("POST", "/api/v1/price", twice).want(t, 400)
	}
	p.ask("POST", "/api/v1/price", `{"lines":[{"kind":"accessory","code":"SEALANT","count":1},{"kind":"accessory","code":"SEALANT","count":2}]}`).want(t, 200)
	for _, query := range []string{"customer=3", "state=draft&state=cut", "cursor=&cursor="} {
		p.ask("GET", "/api/v1/orders?"+query, "").want(t, 400)
	}
	for body, field := range map[string]string{
		`{"customer_id":999,"lines":[{"kind":"accessory","code":"SEALANT","count":1}]}`: "customer_id",
		strings.Replace(askedRoof, "CHAR", "PINK", 1):                                   "lines.0.color",
		strings.Replace(askedRoof, `"pieces":4`, `"pieces":-4`, 1):                      "lines.0.cuts.0.pieces",
		strings.Replace(drawnTrim, `"turn":80`, `"turn":179`, 1):                        "lines.0.section.legs.1.turn",
	} {
		if got := p.ask("POST", "/api/v1/price", body).want(t, 422); len(got.problem.Errors) == 0 || got.problem.Errors[0].Field != field {
			t.Errorf("want a fault at %s: %s", field, got.body)
		}
	}
	p.ask("POST", "/api/v1/price", `{"note":"`+strings.Repeat("x", 2<<20)+`","lines":[]}`).want(t, 413)
	wrong := p.ask("POST", "/api/v1/price", `{"lines":[{"kind":"formed","code":"SEAM16","material":"AZ50","gauge":"24 ga","color":"CHAR","cuts":[{"pieces":1,"length":"long"}]}]}`).want(t, 422)
	if len(wrong.problem.Errors) != 1 || wrong.problem.Errors[0].Field != "lines.0.cuts.0.length" {
		t.Errorf("wrong length: %s", wrong.body)
	}

	first := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "key-00002").want(t, 201)
	again := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "key-00002").want(t, 201)
	if !bytes.Equal(first.body, again.body) || again.header.Get("Idempotency-Replayed") != "true" || again.header.Get("ETag") != first.header.Get("ETag") || again.header.Get("Location") != first.header.Get("Location") {
		t.Errorf("sent again: %s", again.body)
	}
	if other := p.ask("POST", "/api/v1/orders", strings.Replace(askedRoof, `"count":3`, `"count":4`, 1), "Idempotency-Key", "key-00002").want(t, 422); !strings.Contains(other.problem.Detail, "Idempotency-Key") {
		t.Errorf("another body: %s", other.body)
	}
	path := first.header.Get("Location")
	p.ask("POST", path+"/quote", "", "Idempotency-Key", "key-00003").want(t, 428)
	p.ask("POST", path+"/quote", "", "Idempotency-Key", "key-00003", "If-Match", `"99"`).want(t, 412)
	p.ask("POST", path+"/accept", `{"name":"W","consent":true}`, "Idempotency-Key", "key-00003", "If-Match", first.header.Get("ETag")).want(t, 409)
	p.ask("GET", "/api/v1/orders/999", "").want(t, 404)
	p.ask("GET", "/api/v1/orders?state=lost", "").want(t, 422)
	p.ask("GET", "/api/v1/orders?cursor=!!", "").want(t, 422)

	for _, line := range web.APITable() {
		path := parameter.ReplaceAllString(line[1], "1")
		body := ""
		if line[0] == "POST" {
			body = "{}"
		}
		for _, scope := range desk.Scopes {
			q := newProgram(t, site, scope)
			if got := q.ask(line[0], path, body, "Idempotency-Key", "scope-"+key8(path+string(scope))); (got.status == 403) == (string(scope) == line[2]) {
				t.Errorf("%s %s with scope %s: %d", line[0], line[1], scope, got.status)
			}
		}
		for _, token := range []string{"", "rd_wrong"} {
			q := *p
			q.token = token
			if got := q.ask(line[0], path, body).want(t, 401); got.header.Get("WWW-Authenticate") != "Bearer" {
				t.Error("no challenge")
			}
		}
	}
	// A person's session opens no route of the API.
	if got := site.As(t, party.Owner).Get("/api/v1/orders"); got.Status != 401 {
		t.Errorf("the owner's browser got %d", got.Status)
	}
}

func key8(s string) string {
	return fmt.Sprintf("%08x", len(s)*7919) + regexp.MustCompile(`\W`).ReplaceAllString(s, "")[:8]
}

// One key sent by many at once makes one order, and all get the same answer. While
// the first is still at it, the next is told to come again; when the process that
// did it is gone, it gets the order.
func TestAPIKeyAtOnce(t *testing.T) {
	site := webtest.Furnished(t)
	p := newProgram(t, site, desk.Scopes...)
	ids := make([]int64, 10)
	var wg sync.WaitGroup
	for i := range ids {
		wg.Go(func() {
			ids[i] = p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "one-and-only").want(t, 201).order.ID
		})
	}
	wg.Wait()

	sum := sha256.Sum256([]byte("POST /api/v1/orders\x00\x00" + askedRoof))
	unanswered := desk.WithKey(t.Context(), desk.Key{Scope: "program 1", Value: "unanswered", BodyHash: hex.EncodeToString(sum[:])})
	o, err := site.Desk.TakeOrder(unanswered, site.Owner, order.Order{CustomerID: 1, Fulfil: order.PickUp, Lines: []order.Line{{Kind: order.Accessory, Code: "SEALANT", Count: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	if early := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "unanswered").want(t, 409); early.header.Get("Retry-After") != "1" {
		t.Errorf("Retry-After %q", early.header.Get("Retry-After"))
	}
	site.Pass(15 * time.Second)
	if late := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "unanswered").want(t, 200); late.order.ID != o.ID {
		t.Errorf("answered with %s", late.body)
	}
	slices.Sort(ids)
	if ids[0] == 0 || ids[0] != ids[len(ids)-1] {
		t.Errorf("one key made orders %v", ids)
	}
}

// Lists come in pages that hold each record once.
func TestAPIPages(t *testing.T) {
	site := webtest.Furnished(t)
	p := newProgram(t, site, desk.Scopes...)
	const made = 60
	for i := range made {
		p.ask("POST", "/api/v1/orders", `{"lines":[{"kind":"accessory","code":"SEALANT","count":1}]}`, "Idempotency-Key", fmt.Sprintf("order-%04d", i)).want(t, 201)
	}
	seen := map[int64]bool{}
	for path, pages := "/api/v1/orders", 1; ; pages++ {
		var list struct {
			Items []struct{ ID int64 }
			Next  string `json:"next_cursor"`
		}
		if err := json.Unmarshal(p.ask("GET", path, "").want(t, 200).body, &list); err != nil {
			t.Fatal(err)
		}
		for _, o := range list.Items {
			seen[o.ID] = true
		}
		if list.Next == "" {
			if pages != 2 {
				t.Errorf("%d pages", pages)
			}
			break
		}
		path = "/api/v1/orders?cursor=" + url.QueryEscape(list.Next)
	}
	if len(seen) != made {
		t.Errorf("%d orders of %d", len(seen), made)
	}
}

// The owner lets a program in on its page, sees the token once, and shuts it out.
func TestProgramsPage(t *testing.T) {
	site := webtest.Furnished(t)
	owner := site.As(t, party.Owner)
	page := owner.Submit(owner.Get("/shop/programs"), "#program", url.Values{"name": {"Estimator"}}).Want(422)
	page = owner.Submit(page, "#program", url.Values{"name": {"Estimator"}, "may.coils-read": {"yes"}}).Want(200)
	p := newProgram(t, site, desk.MayPrice)
	p.token = page.Text(".letters")
	p.ask("GET", "/api/v1/coils", "").want(t, 200)
	p.ask("GET", "/api/v1/orders", "").want(t, 403)
	if again := owner.Get("/shop/programs"); strings.Contains(string(again.Body), p.token) {
		t.Error("the token is shown again")
	} else {
		owner.Submit(again, "form[action=/shop/programs/1/revoke]", nil).WantRedirect("/shop/programs")
	}
	p.ask("GET", "/api/v1/coils", "").want(t, 401)
}
