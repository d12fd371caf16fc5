package web_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/drill/drilltest"
	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// F11: malformed requests over all routes never give a 5xx. The seed is fixed;
// a failure names the request.
func TestMalformedRequests(t *testing.T) {
	site := webtest.Start(t)
	dice := rand.New(rand.NewPCG(11, 2026))
	roles := []party.Role{party.Visitor, party.Owner, party.Buyer}
	var cookies [][]*http.Cookie
	var tokens []string
	for _, role := range roles {
		b := site.As(t, role)
		page := b.Get("/me")
		if role == party.Visitor {
			page = b.Get("/sign-in")
		}
		tokens = append(tokens, webtest.Attr(page.One("[name=form_token]"), "value"))
		cookies = append(cookies, b.Client.Jar.Cookies(mustParse(site.URL)))
	}
	table := web.Table()
	program := newProgram(t, site, desk.Scopes...)
	for _, line := range web.APITable() {
		table = append(table, web.Line{Method: line[0], Path: line[1]})
	}
	n := 5000
	if testing.Short() {
		n = 500
	}
	answers := map[int]int{}
	for i := range n {
		line := table[dice.IntN(len(table))]
		if line.Path == "/sign-out" || line.Path == "/sign-in" && line.Method == "POST" {
			continue // would end the session, or only meet the throttle
		}
		who := dice.IntN(len(roles))
		r := malformed(dice, line, tokens[who])
		if strings.HasPrefix(line.Path, "/api/") && dice.IntN(20) > 0 {
			r.Header.Set("Authorization", "Bearer "+program.token)
			r.Header.Set("Idempotency-Key", fmt.Sprintf("malformed-%06d", i))
			r.Header.Set("If-Match", []string{"", `"1"`, `"1-x"`, `"`, "*", junk(dice)}[dice.IntN(6)])
		}
		for _, c := range cookies[who] {
			value := c.Value
			if dice.IntN(20) == 0 {
				value = junk(dice)
			}
			r.Header.Add("Cookie", c.Name+"="+value)
		}
		w := httptest.NewRecorder()
		site.Handler.ServeHTTP(w, r)
		answers[w.Code]++
		if w.Code >= 500 {
			t.Errorf("request %d as %s: %s %s %v: %d", i, roles[who], r.Method, r.URL, r.Header, w.Code)
		}
	}
	total, failed := 0, 0
	for status, count := range answers {
		total += count
		if status >= 500 {
			failed += count
		}
	}
	drilltest.Figure(t, "F11 malformed requests", "0 of class 5xx", "%d requests over %d routes: %d of class 5xx; by status %v", total, len(table), failed, answers)
	if reached := answers[200] + answers[303] + answers[409] + answers[422]; reached < n/4 {
		t.Errorf("only %d of %d requests got as far as a handler", reached, n)
	}
}

var pieces = []string{
	"", "0", "-1", "1", "2", "999999999999999999999", "9223372036854775807", "NaN", "1e9", "12' 6-1/2\"", "½", "$1,000.00", "yes", "on",
	"<script>", "' OR 1=1 --", "\x00", "\xff\xfe", "%00", "../../etc/passwd", "{{.}}", "ﷺ", "👷", "\r\nSet-Cookie: x=y", "2026-02-30", "13/45/2026",
	strings.Repeat("9", 400), strings.Repeat("é", 5000), "owner", "trade", "draft",
}

func junk(dice *rand.Rand) string { return pieces[dice.IntN(len(pieces))] }

func malformed(dice *rand.Rand, line web.Line, token string) *http.Request {
	path := parameter.ReplaceAllStringFunc(line.Path, func(string) string {
		if dice.IntN(2) == 0 {
			return "1"
		}
		return url.PathEscape(junk(dice))
	})
	if dice.IntN(3) == 0 {
		path += "?" + url.QueryEscape(junk(dice)) + "=" + url.QueryEscape(junk(dice)) + "&q=" + url.QueryEscape(junk(dice)) + "&page=" + url.QueryEscape(junk(dice))
	}
	names := []string{"name", "email", "role", "customer", "version", "terms", "discount", "credit_limit", "state", "signed", "miles", "site", "profile", "pieces", "lines", "length", "qty", "material", "gauge", "list"}
	form := url.Values{"form_token": {token}, "form_key": {fmt.Sprintf("key-%016d", dice.Uint64()%1e15)}}
	for range dice.IntN(8) {
		form.Add(names[dice.IntN(len(names))], junk(dice))
	}
	body := form.Encode()
	if strings.HasPrefix(line.Path, "/api/") {
		body = malformedJSON(dice)
	}
	switch dice.IntN(12) {
	case 0:
		body = junk(dice)
	case 1:
		body = strings.Repeat("a=b&", 50_000)
	case 2:
		body += "&%zz=%"
	}
	method := line.Method
	if dice.IntN(25) == 0 {
		method = []string{"PUT", "PATCH", "DELETE", "OPTIONS", "HEAD", "TRACE", "CONNECT"}[dice.IntN(7)]
	}
	r := httptest.NewRequest(method, "http://desk.example.com/", strings.NewReader(body))
	r.URL = &url.URL{Scheme: "http", Host: "desk.example.com"}
	if u, err := url.Parse(path); err == nil {
		r.URL.Path, r.URL.RawQuery = u.Path, u.RawQuery
	}
	kinds := []string{"application/x-www-form-urlencoded", "application/x-www-form-urlencoded", "application/x-www-form-urlencoded",
		"multipart/form-data", "multipart/form-data; boundary=x", "application/json", "text/plain", ""}
	r.Header.Set("Content-Type", kinds[dice.IntN(len(kinds))])
	if strings.HasPrefix(line.Path, "/api/") && dice.IntN(8) > 0 {
		r.Header.Set("Content-Type", "application/json")
	}
	if dice.IntN(10) == 0 {
		r.Header.Set("Accept", junk(dice))
		r.Header.Set("Accept-Encoding", junk(dice))
		r.Header.Set("X-Part", "part-"+junk(dice))
		r.Header.Set("If-None-Match", junk(dice))
	}
	return r
}

// malformedJSON is what a program sends whose author read nothing, or too much.
func malformedJSON(dice *rand.Rand) string {
	value := func() string {
		text, _ := json.Marshal(strings.ToValidUTF8(junk(dice), "\ufffd"))
		return []string{string(text), "0", "-1", "1e400", "null", "true", "[]", "{}", `[{"kind":"formed","cuts":[{"pieces":1,"length":"9 ft"}]}]`, `[null]`, strings.Repeat("[", 200)}[dice.IntN(11)]
	}
	names := []string{"customer_id", "contact", "job", "po", "fulfil", "ship_to", "miles", "want_by", "rush", "note", "lines", "name", "consent", "sharing", "ready", "why", "reason", "price"}
	var members []string
	for range dice.IntN(5) {
		members = append(members, `"`+names[dice.IntN(len(names))]+`":`+value())
	}
	return "{" + strings.Join(members, ",") + "}"
}
