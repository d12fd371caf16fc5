package web

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/party"
)

// refusal is an answer that belongs to the web alone: no such page, a form that
// can't be read.
type refusal struct {
	status   int
	heading  string
	sentence string
}

func (r refusal) Error() string { return r.sentence }

// show answers with a page.
func (v *visit) show(p page) error { return v.showAs(http.StatusOK, p) }

// showAs renders a page to memory and then sends it: a fault in a template is
// an error page, not half a page.
func (v *visit) showAs(status int, p page) error {
	if err := v.dress(p.base()); err != nil {
		return err
	}
	body, err := v.s.pages.render(p, v.c.GetHeader("X-Part"), p.base().Lang())
	if err != nil {
		return err
	}
	v.send(status, "text/html; charset=utf-8", body)
	return nil
}

// again shows a form once more with all that was typed, what is wrong with it
// beside each field, and a list on top. Faults that aren't about what was typed
// are returned to become a page of their own.
func (v *visit) again(p page, err error) error {
	kind := fault.KindOf(err)
	if kind != fault.Invalid && kind != fault.Conflict && kind != fault.Busy && kind != fault.Storage {
		return err
	}
	b := p.base()
	for _, f := range fault.All(err) {
		b.Errors = append(b.Errors, v.place(f))
	}
	v.retryAfter(err)
	return v.showAs(statusOf(err), p)
}

// place puts a fault beside the field it belongs to.
func (v *visit) place(f *fault.Fault) Problem {
	for _, field := range v.read {
		if field.Name == f.Field {
			if field.Error == "" {
				field.Error = v.sentence(f)
			}
			return Problem{Field: field.ID(), Label: field.Label, Sentence: v.sentence(f)}
		}
	}
	return Problem{Sentence: v.sentence(f)}
}

// sentence is what a fault says, in the reader's language.
func (v *visit) sentence(f *fault.Fault) string { return sentence(v.reader.Read(f.Said())) }

// sentence starts with a capital and ends with a stop.
func sentence(s string) string {
	if s == "" {
		return s
	}
	first, size := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(first)) + s[size:]
	if !strings.ContainsAny(s[len(s)-1:], ".?!") {
		s += "."
	}
	return s
}

// fail turns any error into an answer. It is the only place where faults become
// statuses.
func (v *visit) fail(err error) {
	status, p := v.errorPage(err)
	if status >= http.StatusInternalServerError {
		v.s.log.ErrorContext(v.ctx(), "failed", "route", v.route.path, "error", fmt.Sprintf("%+v", err), "cause", errors.Unwrap(err))
	}
	switch {
	case status == http.StatusForbidden && fault.Is(err, fault.Denied):
		v.watch("refused")
	case status == http.StatusNotFound && strings.Contains(v.route.path, "/:token"):
		v.watch("unknown link")
	case status == http.StatusNotFound && v.actor.Role == party.Buyer && strings.Contains(v.route.path, "/:"):
		v.watch("asked for what isn't theirs, or isn't there")
	}
	v.retryAfter(err)
	if v.wantsJSON() {
		v.problem(status, p, err)
		return
	}
	if err := v.showAs(status, p); err != nil {
		v.s.log.ErrorContext(v.ctx(), "the error page failed", "error", err)
		v.send(status, "text/plain; charset=utf-8", []byte(p.Sentence+"\n"))
	}
}

// watch logs what bears on security. Which record was asked for isn't in it: a
// path can hold a private link.
func (v *visit) watch(what string) {
	v.s.metrics.security.WithLabelValues(what).Inc()
	v.s.log.WarnContext(v.ctx(), what, "person", v.actor.PersonID, "role", v.actor.Role, "method", v.route.method, "route", v.route.path,
		"address", v.c.ClientIP(), desk.SecurityMark, true)
}

func (v *visit) errorPage(err error) (int, *errorPage) {
	p := &errorPage{Base: Base{Title: "Something went wrong"}}
	status := statusOf(err)
	var ours refusal
	switch {
	case errors.As(err, &ours):
		p.Title, p.Sentence = ours.heading, ours.sentence
	case status == http.StatusRequestEntityTooLarge:
		p.Title, p.Sentence = "Too large", "What was sent is larger than this page takes."
	default:
		p.Title, p.Sentence = headings[status], v.sentence(fault.All(err)[0])
	}
	p.Block = Block{Thing: p.Title, State: strconv.Itoa(status)}
	return status, p
}

var headings = map[int]string{
	http.StatusUnprocessableEntity: "This can't be used as it is",
	http.StatusNotFound:            "Nothing here",
	http.StatusConflict:            "Not in this state",
	http.StatusForbidden:           "Not for this role",
	http.StatusTooManyRequests:     "Too many tries",
	http.StatusServiceUnavailable:  "Not just now",
	http.StatusInternalServerError: "Something went wrong",
}

func statusOf(err error) int {
	var ours refusal
	if errors.As(err, &ours) {
		return ours.status
	}
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return http.StatusRequestEntityTooLarge
	}
	switch fault.KindOf(err) {
	case fault.Invalid:
		return http.StatusUnprocessableEntity
	case fault.NotFound:
		return http.StatusNotFound
	case fault.Conflict:
		return http.StatusConflict
	case fault.Denied:
		return http.StatusForbidden
	case fault.Busy:
		var wait desk.RetryAfter
		if errors.As(err, &wait) {
			return http.StatusTooManyRequests
		}
		return http.StatusServiceUnavailable
	case fault.Storage:
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// retryAfter says when to come back, where that helps.
func (v *visit) retryAfter(err error) {
	var wait desk.RetryAfter
	switch {
	case errors.As(err, &wait):
		seconds := (time.Duration(wait) + time.Second - 1) / time.Second
		v.c.Header("Retry-After", strconv.Itoa(int(seconds)))
	case fault.Is(err, fault.Busy):
		v.c.Header("Retry-After", "1")
	case fault.Is(err, fault.Storage):
		v.c.Header("Retry-After", "30")
	}
}

// dateMovedType names the problem that carries a new date, where it is described.
const dateMovedType = "/api/openapi.yaml#/components/schemas/DateMoved"

// problem is an error for a program, as RFC 9457 describes it.
func (v *visit) problem(status int, p *errorPage, err error) {
	type member struct {
		Field  string `json:"field"`
		Detail string `json:"detail"`
	}
	body := struct {
		Type     string     `json:"type"`
		Title    string     `json:"title"`
		Status   int        `json:"status"`
		Detail   string     `json:"detail"`
		Instance string     `json:"instance"`
		Errors   []member   `json:"errors,omitempty"`
		Ready    *time.Time `json:"ready,omitempty"`
	}{Type: "about:blank", Title: p.Title, Status: status, Detail: p.Sentence, Instance: v.requestID()}
	var moved desk.DateMoved
	if errors.As(err, &moved) {
		ready := moved.Ready.UTC()
		body.Type, body.Title, body.Ready = dateMovedType, "The date moved", &ready
	}
	for _, f := range fault.All(err) {
		if f.Field != "" {
			body.Errors = append(body.Errors, member{apiField(f.Field), v.sentence(f)})
		}
	}
	v.sendJSON(status, "application/problem+json", body)
}

func (v *visit) sendJSON(status int, kind string, value any) {
	body, err := json.Marshal(value)
	if err != nil {
		v.s.log.ErrorContext(v.ctx(), "answer has no JSON", "error", err)
		status, body = http.StatusInternalServerError, []byte(`{"title":"Something went wrong","status":500}`)
	}
	v.send(status, kind, body)
}

var zippers = sync.Pool{New: func() any { return gzip.NewWriter(nil) }}

// worthZipping is about one network packet.
const worthZipping = 1400

// send writes a whole answer, compressed where the client takes it.
func (v *visit) send(status int, kind string, body []byte) {
	h := v.c.Writer.Header()
	h.Set("Content-Type", kind)
	h.Add("Vary", "Accept-Encoding")
	if len(body) >= worthZipping && takesGzip(v.c.Request) {
		var b bytes.Buffer
		z := zippers.Get().(*gzip.Writer)
		z.Reset(&b)
		_, err := z.Write(body)
		if cerr := z.Close(); err == nil && cerr == nil {
			h.Set("Content-Encoding", "gzip")
			body = b.Bytes()
		}
		zippers.Put(z)
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	v.c.Writer.WriteHeader(status)
	_, _ = v.c.Writer.Write(body) // a client that went away is no fault of ours
}

func takesGzip(r *http.Request) bool {
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		coding, weight, weighed := strings.Cut(strings.TrimSpace(part), ";q=")
		if coding == "gzip" {
			q, err := strconv.ParseFloat(weight, 64)
			return !weighed || err == nil && q > 0
		}
	}
	return false
}

// sendFile sends a file made here, for reading (inline) or keeping. name must be
// plain; anything else in it is replaced.
func (v *visit) sendFile(kind, name string, inline bool, body []byte) error {
	how := "attachment"
	if inline {
		how = "inline"
	}
	v.c.Header("Content-Disposition", how+`; filename="`+plainName(name)+`"`)
	v.send(http.StatusOK, kind, body)
	return nil
}

func plainName(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_.", r) {
			return r
		}
		return '-'
	}, s)
}
