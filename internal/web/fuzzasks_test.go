package web_test

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/drill/drilltest"
	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// hostile gives what people, programs and people who mean harm put into a field.
func hostile(dice *rand.Rand) string {
	junk := make([]byte, dice.IntN(24)) // mostly no UTF-8
	for i := range junk {
		junk[i] = byte(dice.IntN(256))
	}
	all := []string{
		"", " ", "0", "-1", "1", "12", "1.5", "1e9", "1e99", "-0", "NaN", "Inf", "0x10", "1_000", "1,000", "9223372036854775807", "9223372036854775808", "99999999999999999999999999", "0.00000000000000000001",
		"Barn", strings.Repeat("x", 81), strings.Repeat("9", 400), strings.Repeat("ab ", 7000), "<b>", "<script>alert(1)</script>", "\"><img src=x>", "{{.}}", "%s%n%d", "'; DROP TABLE orders; --", "../../etc/passwd",
		"\x00", "a\x00b", "\r\nSet-Cookie: x=y", "\u202eRTL", "\ufeff", "e\u0301", "𝟙𝟚", "½", "１２", "\xff\xfe", "\xed\xa0\x80", string(junk), string(junk),
		"3/20/2026", "2026-02-30", "13/13/2026", "0001-01-01", "9999-12-31", "12/31/99999",
		"someone@example.com", "a@", "@b", "+1 555 0100", "true", "yes", "null", "[]", "{}", "12' 6-1/2\"",
	}
	return all[dice.IntN(len(all))]
}

// fuzzedCuts makes a cut list, by rows that are right, nearly right, or anything.
func fuzzedCuts(dice *rand.Rand) string {
	pick := func(of ...string) string { return of[dice.IntN(len(of))] }
	length := func() string {
		return pick("12' 6-1/2\"", "12-6 1/2", "150.5 in", "12,54 ft", "3.82 m", "3820", "-4", "0", "999999999999999999999", "1/0", "12 6", "½", "’12′", "1e9 ft", "12' 6-1/2\" x", "", hostile(dice))
	}
	number := func() string { return pick("1", "4", "20", "0", "-1", "1000001", "four", hostile(dice)) }
	var rows []string
	for range dice.IntN(6) {
		rows = append(rows, pick(number()+pick(" @ ", " x ", "\t", " ", "(")+length(), length()+pick(" x ", " qty ", " (")+number(), length(), hostile(dice))+pick("", "", " #"+hostile(dice)))
	}
	return strings.Join(rows, pick("\n", "\r\n", "\r"))
}

// fuzzed makes a form of the counter: now and then with every field in it wrong.
func fuzzed(dice *rand.Rand) url.Values {
	form := url.Values{}
	pick := func(of ...string) string { return of[dice.IntN(len(of))] }
	for i := range dice.IntN(4) + 1 {
		pre := fmt.Sprintf("lines.%d.", i)
		form.Set(pre+"make", pick(seam, seam, rib, "trim:RIDGE", "accessory:SEALANT", "formed:", "formed:NONE", ":", hostile(dice)))
		form.Set(pre+"metal", pick(charcoal, charcoal, "CU|16 oz|BARE", "||", "AZ50|24 ga|NONE", "AZ50|99 ga|CHAR", hostile(dice)))
		form.Set(pre+"cuts", fuzzedCuts(dice))
		form.Set(pre+"count", pick("4", hostile(dice)))
		form.Set(pre+"rib", pick("plain", "pencil", "none", hostile(dice)))
	}
	form.Set("rows", pick("1", "2", "4", "31", "-1", "x"))
	form.Set("fulfil", pick("pick-up", "delivery", "on-site", "", hostile(dice)))
	for _, name := range []string{"job", "po", "note", "contact.name", "contact.email", "contact.phone", "ship_to", "city", "state", "postal", "site", "customer", "on_file", "miles", "want_by", "rush", "sharing", "roof"} {
		switch dice.IntN(5) {
		case 0:
			form.Set(name, hostile(dice))
		case 1:
			if dice.IntN(8) == 0 {
				form[name] = []string{hostile(dice), hostile(dice)} // sent twice
			}
		}
	}
	form.Set("order", pick("", "", "1", "-1", "99999", hostile(dice)))
	form.Set("version", pick("", "1", hostile(dice)))
	form.Set("do", pick("price", "add", "remove:1", "remove:x", "hold", "keep", "quote", "by:2026-03-20", "by:0000-99-99", hostile(dice)))
	return form
}

// fuzzedList makes the form by which a list of somebody else's is brought in.
func fuzzedList(dice *rand.Rand) url.Values {
	pick := func(of ...string) string { return of[dice.IntN(len(of))] }
	text := fuzzedCuts(dice)
	if dice.IntN(2) == 0 {
		text = pick("Qty\tLength\tMark\n", "pieces,length\n", "") + strings.ReplaceAll(text, " @ ", pick("\t", ",", ";"))
	}
	form := url.Values{"text": {text}, "do": {pick("read", "look", "use", "note", hostile(dice))}}
	for _, name := range []string{"bare", "dash", "point"} {
		form.Set(name, pick("ask", "in", "ft", "yes", hostile(dice)))
	}
	if dice.IntN(4) == 0 {
		form.Set("ask", fuzzed(dice).Encode())
	}
	return form
}

// fuzzAsks sends n fuzzed forms to the counter as a visitor and as the counter:
// never an answer of class 5xx, and each refusal says why at its field. It gives
// the answers by class, and how long the slowest took.
func fuzzAsks(t testing.TB, n int) (map[int]int, time.Duration) {
	site := webtest.Furnished(t)
	dice := rand.New(rand.NewPCG(2026, 3))
	answers := map[int]int{}
	var slowest time.Duration
	for _, role := range []party.Role{party.Visitor, party.Counter} {
		b := site.As(t, role)
		token := webtest.Attr(b.Get("/counter").One("#ask [name=form_token]"), "value")
		for i := range n / 2 {
			form, path := fuzzed(dice), []string{"/counter/price", "/counter"}[dice.IntN(2)]
			if i%5 == 4 {
				form, path = fuzzedList(dice), "/counter/list"
			}
			form.Set("form_token", token)
			form.Set("form_key", fmt.Sprintf("fuzzed-%08d", i))
			start := time.Now()
			page := b.Post(path, form)
			slowest = max(slowest, time.Since(start))
			answers[page.Status/100*100]++
			judge(t, page, form)
		}
		for _, query := range []string{"state", "q", "before", "by", "from"} {
			for range n / 40 {
				for _, at := range []string{"/orders", "/counter", "/search"} {
					judge(t, b.Get(at+"?"+query+"="+url.QueryEscape(fuzzedCuts(dice))), nil)
				}
			}
		}
	}
	return answers, slowest
}

// judge looks at an answer to something fuzzed: it may refuse, but with a
// sentence, and with one beside each field that it names.
func judge(t testing.TB, page *webtest.Page, form url.Values) {
	t.Helper()
	if page.Status >= 500 {
		t.Errorf("%s answers %d to %q", page.Asked, page.Status, form)
	}
	if page.Status < 400 || page.Status >= 500 {
		return
	}
	problems := page.All(".problems li")
	if len(problems) == 0 && page.Text("main") == "" {
		t.Errorf("%s answers %d to %q without a word", page.Asked, page.Status, form)
	}
	for _, p := range problems {
		if strings.TrimSpace(webtest.Text(p)) == "" {
			t.Errorf("%s says nothing about %q", page.Asked, form)
		}
		for _, a := range webtest.Find(p, "a") {
			id := strings.TrimPrefix(webtest.Attr(a, "href"), "#")
			if beside := errorAt(page, id); beside == "" {
				t.Errorf("%s: nothing stands at %s, only on top %q, to %.600q", page.Asked, id, webtest.Text(p), fmt.Sprint(form))
			}
		}
	}
	if page.Status == http.StatusUnprocessableEntity && len(problems) > 0 && page.Text(".error") == "" && page.Text(".problems a") != "" {
		t.Errorf("%s names fields but has no message at any of them, to %q", page.Asked, form)
	}
}

// errorAt gives the message at a field.
func errorAt(page *webtest.Page, id string) string {
	var texts []string
	for _, n := range page.All("p") {
		if webtest.Attr(n, "id") == id+"-error" {
			texts = append(texts, webtest.Text(n))
		}
	}
	return strings.Join(texts, " ")
}

// F10: fuzzed cut lists, typed and pasted. The full size takes minutes.
func TestFuzzedAsks(t *testing.T) {
	n := drilltest.Times(160, 10_000)
	answers, slowest := fuzzAsks(t, n)
	drilltest.Figure(t, "F10 fuzzed cut lists, typed and pasted", "0 of class 5xx, none over 2 s",
		"%d forms: %d done, %d led on, %d refused, %d of class 5xx, the slowest %d ms", n, answers[200], answers[300], answers[400], answers[500], slowest.Milliseconds())
	if drilltest.Full() && slowest > 2*time.Second {
		t.Errorf("one took %s", slowest)
	}
}
