package web

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
)

// apiText describes the API; a test holds every route and answer to it.
//
//go:embed openapi.yaml
var apiText []byte

// apiRoute is one line of the API's table: a program needs its scope.
type apiRoute struct {
	method string
	path   string
	scope  desk.Scope
	do     handler
	keyed  bool     // carries an Idempotency-Key, so that it can be sent again
	asks   []string // what may stand behind the question mark
}

// apiTable is every way in for programs. Sessions of people don't open it, and
// tokens open nothing else.
func apiTable() []apiRoute {
	return []apiRoute{
		{"POST", "/api/v1/price", desk.MayPrice, apiPrice, false, nil},
		{"GET", "/api/v1/orders", desk.MayReadOrder, apiOrders, false, []string{"cursor", "state", "customer_id"}},
		{"POST", "/api/v1/orders", desk.MayMakeOrder, apiTakeOrder, true, nil},
		{"GET", "/api/v1/orders/:id", desk.MayReadOrder, apiOrder, false, nil},
		{"PUT", "/api/v1/orders/:id", desk.MayMakeOrder, apiReplace, true, nil},
		{"POST", "/api/v1/orders/:id/quote", desk.MayMakeOrder, apiQuote, true, nil},
		{"POST", "/api/v1/orders/:id/accept", desk.MayMakeOrder, apiAccept, true, nil},
		{"POST", "/api/v1/orders/:id/decline", desk.MayMakeOrder, apiDecline, true, nil},
		{"POST", "/api/v1/orders/:id/cancel", desk.MayMakeOrder, apiCancel, true, nil},
		{"POST", "/api/v1/orders/:id/change", desk.MayMakeOrder, apiChange, true, nil},
		{"GET", "/api/v1/papers/:id", desk.MayReadPaper, apiPaper, false, nil},
		{"GET", "/api/v1/coils", desk.MayReadCoil, apiCoils, false, []string{"cursor"}},
		{"GET", "/api/v1/customers", desk.MayReadFirm, apiCustomers, false, []string{"cursor", "search"}},
	}
}

// mountAPI puts the table in place.
func (s *Server) mountAPI(routes []apiRoute) {
	for _, r := range routes {
		s.engine.Handle(r.method, r.path, func(c *gin.Context) {
			v := &visit{s: s, c: c, route: route{method: r.method, path: r.path}, desk: s.desk}
			if err := v.runAPI(r); err != nil {
				v.fail(err)
			}
		})
	}
	s.engine.GET("/api/openapi.yaml", func(c *gin.Context) {
		(&visit{s: s, c: c}).send(http.StatusOK, "application/yaml; charset=utf-8", apiText)
	})
}

// runAPI finds out which program asks, whether it may, and does it once.
func (v *visit) runAPI(r apiRoute) error {
	token, ok := strings.CutPrefix(v.c.GetHeader("Authorization"), "Bearer ")
	if !ok {
		return v.unknownProgram()
	}
	p, err := v.desk.ProgramOf(v.ctx(), strings.TrimSpace(token))
	if fault.Is(err, fault.NotFound) {
		return v.unknownProgram()
	}
	if err != nil {
		return err
	}
	v.actor = p.Actor()
	v.c.Set(personName, v.actor.PersonID)
	if !p.May(r.scope) {
		return fault.Deniedf("this program may not do this; its owner can let it in with the scope %s", r.scope)
	}
	if err := v.checkQuery(r.asks); err != nil {
		return err
	}
	body, err := v.readBody()
	if err != nil {
		return err
	}
	if !r.keyed {
		return r.do(v)
	}
	return v.onceForProgram(p, body, r.do)
}

// checkQuery refuses what a route doesn't ask for behind the question mark: a slip
// in the name of a filter would otherwise list everything.
func (v *visit) checkQuery(asks []string) error {
	for name := range v.c.Request.URL.Query() {
		if !slices.Contains(asks, name) {
			return refusal{http.StatusBadRequest, "Can't be read", fmt.Sprintf("Nothing here is asked for by the name %.40q.", name)}
		}
	}
	return v.onlyOnce()
}

func (v *visit) unknownProgram() error {
	v.watch("token refused")
	v.c.Header("WWW-Authenticate", "Bearer")
	return refusal{http.StatusUnauthorized, "Not let in", "Send a valid token in the header Authorization: Bearer. The owner gives them under Shop, Programs."}
}

// readBody reads what was sent, and leaves it to be read by the handler too.
func (v *visit) readBody() ([]byte, error) {
	r := v.c.Request
	if r.Method == http.MethodGet {
		return nil, nil
	}
	body, err := io.ReadAll(http.MaxBytesReader(v.c.Writer, r.Body, usualBody))
	if statusOf(err) == http.StatusRequestEntityTooLarge {
		return nil, err
	}
	if err != nil {
		return nil, refusal{http.StatusBadRequest, "Can't be read", "The request broke off."}
	}
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if len(body) > 0 && kind != "application/json" {
		return nil, refusal{http.StatusUnsupportedMediaType, "Not JSON", "Send the body as application/json."}
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	return body, nil
}

// onceForProgram does a request at most one time for its key. Sent again it gets
// the answer that it got before, or would have got: the record that it made.
func (v *visit) onceForProgram(p desk.Program, body []byte, do handler) error {
	value := v.c.GetHeader("Idempotency-Key")
	if !plainID(value) {
		return refusal{http.StatusBadRequest, "No key", "Send a header Idempotency-Key of 8 to 64 letters, digits, - or _, another one for each thing to be done."}
	}
	sum := sha256.Sum256(append([]byte(v.c.Request.Method+" "+v.c.Request.URL.Path+"\x00"+v.c.GetHeader("If-Match")+"\x00"), body...))
	key := desk.Key{Scope: "program " + strconv.FormatInt(p.ID, 10), Value: value, BodyHash: hex.EncodeToString(sum[:])}
	done, err := v.desk.Answered(v.ctx(), key)
	if err != nil {
		return keyTaken(err)
	}
	if done != nil {
		return v.answerAgain(key, done)
	}
	ctx := v.ctx()
	v.setCtx(desk.WithKey(ctx, key))
	v.key = &key
	err = do(v)
	v.setCtx(ctx)
	var replay desk.Replay
	if errors.As(err, &replay) {
		return v.answerAgain(key, &replay.Answer)
	}
	return keyTaken(err)
}

// keyTaken says of a key that stands for another request what a program can make
// use of.
func keyTaken(err error) error {
	if fault.Is(err, fault.Invalid) && fault.All(err)[0].Field == "key" {
		return refusal{http.StatusUnprocessableEntity, "Another request", "This Idempotency-Key was used for a request with another body. Send another key for each thing to be done."}
	}
	return err
}

// A request that comes a second time waits a moment for the answer to the first.
const (
	answerLook = 20 * time.Millisecond
	answerWait = time.Second
)

// answerAgain gives the answer that was kept. While the first request is still
// being worked on there is none: then 409. Where the process ended before it kept
// one, the answer is the record as it is now.
func (v *visit) answerAgain(key desk.Key, a *desk.Answer) error {
	for end := time.Now().Add(answerWait); v.desk.StillRunning(*a) && time.Now().Before(end); time.Sleep(answerLook) {
		var err error
		if a, err = v.desk.Answered(v.ctx(), key); err != nil {
			return err
		}
	}
	if v.desk.StillRunning(*a) {
		v.c.Header("Retry-After", "1")
		return refusal{http.StatusConflict, "Still at work", "The first request with this key is still being worked on. Send it again in a moment."}
	}
	v.s.metrics.replays.Inc()
	v.c.Header("Idempotency-Replayed", "true")
	if a.Status == 0 {
		return v.sendOrder(http.StatusOK, a.SubjectID)
	}
	var kept keptAnswer
	if err := json.Unmarshal(a.Body, &kept); err != nil {
		return err
	}
	v.c.Header("ETag", kept.Tag)
	if a.Location != "" {
		v.c.Header("Location", a.Location)
	}
	v.send(a.Status, "application/json", kept.Body)
	return nil
}

// keptAnswer is what an answer needs beside status and place.
type keptAnswer struct {
	Tag  string          `json:"tag"`
	Body json.RawMessage `json:"body"`
}

// decode reads the body into one of the API's types; what it has no field for is
// refused, so that a slip in a name isn't taken for silence.
func (v *visit) decode(into any) error {
	body, err := io.ReadAll(v.c.Request.Body)
	if err != nil {
		return err
	}
	if name := namedTwice(body); name != "" {
		return refusal{http.StatusBadRequest, "Can't be read", fmt.Sprintf("The body gives %.40q twice.", name)}
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		var known *fault.Fault
		if errors.As(err, &known) {
			return known
		}
		return refusal{http.StatusBadRequest, "Can't be read", "The body isn't the JSON that is described: " + plainError(err) + "."}
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return refusal{http.StatusBadRequest, "Can't be read", "There is something behind the JSON."}
	}
	return nil
}

// namedTwice gives a name that one object of a JSON text has more than once, of
// which readers of JSON take the one or the other; "" for none.
func namedTwice(text []byte) string {
	type level struct {
		names map[string]bool // nil in an array
		value bool            // a value comes next, not a name
	}
	var open []level
	for d := json.NewDecoder(bytes.NewReader(text)); ; {
		token, err := d.Token()
		if err != nil {
			return "" // at the end, or where decoding says what is wrong
		}
		in := len(open) - 1
		switch name, isText := token.(string); {
		case token == json.Delim('}') || token == json.Delim(']'):
			open = open[:in]
			continue
		case in >= 0 && open[in].names != nil && !open[in].value && isText:
			if open[in].names[name] {
				return name
			}
			open[in].names[name], open[in].value = true, true
			continue
		}
		if in >= 0 {
			open[in].value = false
		}
		switch token {
		case json.Delim('{'):
			open = append(open, level{names: map[string]bool{}})
		case json.Delim('['):
			open = append(open, level{})
		}
	}
}

// plainError is what the reader of JSON says, without the names of our types.
func plainError(err error) string {
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		return fmt.Sprintf("%s can't be a %s", kind.Field, kind.Value)
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return "it ends too soon"
	}
	return strings.TrimPrefix(err.Error(), "json: ")
}

// tagOf is the strong validator of an order as it is answered: its version, and
// of a quote the date it can be promised for, which moves without the order.
func tagOf(f desk.OrderFile) string {
	tag := strconv.FormatInt(f.Order.Version, 10)
	if !f.Ready.IsZero() {
		tag += "-" + strconv.FormatInt(f.Ready.Unix(), 36)
	}
	return `"` + tag + `"`
}

// matched checks that the version which the program has seen is the present one:
// else 428 or 412. A date that moved is no change of the order; who accepts sends
// the date they saw.
func (v *visit) matched(version int64) error {
	want := v.c.GetHeader("If-Match")
	if want == "" {
		return refusal{http.StatusPreconditionRequired, "Say what you saw", "Send the header If-Match with the ETag of the order as you saw it."}
	}
	number, _, _ := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(want, `"`), `"`), "-")
	if want[0] != '"' || number != strconv.FormatInt(version, 10) {
		return refusal{http.StatusPreconditionFailed, "Changed meanwhile", "The order was changed since you read it. Read it again and decide anew."}
	}
	return nil
}
