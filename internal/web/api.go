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
	"strconv"
	"strings"

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
	keyed  bool // carries an Idempotency-Key, so that it can be sent again
}

// apiTable is every way in for programs. Sessions of people don't open it, and
// tokens open nothing else.
func apiTable() []apiRoute {
	return []apiRoute{
		{"POST", "/api/v1/price", desk.MayPrice, apiPrice, false},
		{"GET", "/api/v1/orders", desk.MayReadOrder, apiOrders, false},
		{"POST", "/api/v1/orders", desk.MayMakeOrder, apiTakeOrder, true},
		{"GET", "/api/v1/orders/:id", desk.MayReadOrder, apiOrder, false},
		{"PUT", "/api/v1/orders/:id", desk.MayMakeOrder, apiReplace, true},
		{"POST", "/api/v1/orders/:id/quote", desk.MayMakeOrder, apiQuote, true},
		{"POST", "/api/v1/orders/:id/accept", desk.MayMakeOrder, apiAccept, true},
		{"POST", "/api/v1/orders/:id/decline", desk.MayMakeOrder, apiDecline, true},
		{"POST", "/api/v1/orders/:id/cancel", desk.MayMakeOrder, apiCancel, true},
		{"POST", "/api/v1/orders/:id/change", desk.MayMakeOrder, apiChange, true},
		{"GET", "/api/v1/papers/:id", desk.MayReadPaper, apiPaper, false},
		{"GET", "/api/v1/coils", desk.MayReadCoil, apiCoils, false},
		{"GET", "/api/v1/customers", desk.MayReadFirm, apiCustomers, false},
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
	body, err := v.readBody()
	if err != nil {
		return err
	}
	if !r.keyed {
		return r.do(v)
	}
	return v.onceForProgram(p, body, r.do)
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
	if done, err := v.desk.Answered(v.ctx(), key); err != nil || done != nil {
		return v.answerAgain(done, err)
	}
	ctx := v.ctx()
	v.setCtx(desk.WithKey(ctx, key))
	v.key = &key
	err := do(v)
	v.setCtx(ctx)
	var replay desk.Replay
	if errors.As(err, &replay) {
		return v.answerAgain(&replay.Answer, nil)
	}
	return err
}

// answerAgain gives the answer that was kept; where the process ended before it
// was, the record as it is now.
func (v *visit) answerAgain(a *desk.Answer, err error) error {
	if err != nil {
		return err
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
	d := json.NewDecoder(v.c.Request.Body)
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
