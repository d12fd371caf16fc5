package web

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/words"
)

// visit is one request on its way to an answer: who asks, what they sent, and
// the desk to ask.
type visit struct {
	s     *Server
	c     *gin.Context
	route route
	desk  *desk.Desk
	actor party.Actor
	token string    // of the session; "" for a visitor
	owes  bool      // must set the second step up before anything else
	key   *desk.Key // of a program's request
	mark  string    // a visitor's cookie that forms are bound to
	read  []*Field  // the fields that were read, to show again
	found fault.List

	reader words.Reader // in whose language and unit of length it is answered
}

// answer runs one route: who is it, may they, is the form genuine, do it. What
// goes wrong anywhere becomes a page in fail.
func (s *Server) answer(c *gin.Context, r route) {
	v := &visit{s: s, c: c, route: r, desk: s.desk, actor: party.Actor{Role: party.Visitor}}
	v.reader.Language = v.chosen()
	if err := v.run(); err != nil {
		v.fail(err)
	}
}

func (v *visit) run() error {
	if v.route.how&bare != 0 {
		return v.route.do(v)
	}
	if err := v.onlyOnce(); err != nil {
		return err
	}
	if err := v.identify(); err != nil {
		return err
	}
	if done, err := v.firstRun(); done || err != nil {
		return err
	}
	if err := v.readAs(v.actor.CustomerID); err != nil {
		return err
	}
	if !slices.Contains(v.route.admits, v.actor.Role) {
		return v.refuse()
	}
	if v.owes && v.route.how&owing == 0 {
		return v.redirectSaying("/me/second", "The owner wants a second step at sign-in of everybody who sees the books. Set yours up, then go on.")
	}
	if v.c.Request.Method != http.MethodPost || v.route.method == "" {
		return v.route.do(v)
	}
	if err := v.openForm(); err != nil {
		return err
	}
	return v.once()
}

// onlyOnce refuses a name that stands behind the question mark more than once:
// what reads the first and what reads the last would go by different values
// (ASVS 5.0, 15.3.7).
func (v *visit) onlyOnce() error {
	for _, values := range v.c.Request.URL.Query() {
		if len(values) > 1 {
			return refusal{http.StatusBadRequest, "Can't be read", "The address says one thing twice."}
		}
	}
	return nil
}

// refuse answers somebody whom the route doesn't admit.
func (v *visit) refuse() error {
	if v.actor.Role != party.Visitor {
		return fault.Deniedf("This page isn't part of your role. Ask the owner if it should be.")
	}
	if v.c.Request.Method == http.MethodPost || v.wantsJSON() {
		return refusal{http.StatusUnauthorized, "Please sign in", "You aren't signed in, or your session has ended. Sign in and send this again."}
	}
	return v.redirect("/sign-in?next=" + url.QueryEscape(v.c.Request.URL.RequestURI()))
}

// firstRun leads everybody to the first-run page while there is no account.
func (v *visit) firstRun() (done bool, err error) {
	if v.s.hasOwner.Load() || v.route.how&early != 0 {
		return false, nil
	}
	needs, err := v.desk.NeedsOwner(v.ctx())
	if err != nil {
		return false, err
	}
	if needs {
		return true, v.redirect("/first-run")
	}
	v.s.hasOwner.Store(true)
	return false, nil
}

// ctx is the request's context: it ends when the client goes away, and carries
// the request's id and key for the desk.
func (v *visit) ctx() context.Context { return v.c.Request.Context() }

func (v *visit) setCtx(ctx context.Context) { v.c.Request = v.c.Request.WithContext(ctx) }

// id reads a number in the path; anything else isn't there.
func (v *visit) id(name string) (int64, error) {
	id, err := strconv.ParseInt(v.c.Param(name), 10, 64)
	if err != nil || id <= 0 {
		return 0, fault.NotFoundf("there is nothing at this address")
	}
	return id, nil
}

// query reads a value behind the question mark, at most 200 characters of it.
func (v *visit) query(name string) string {
	s := v.c.Query(name)
	if len(s) > 200 {
		s = strings.ToValidUTF8(s[:200], "")
	}
	return s
}

// redirect sends the browser on after a form was done (303, so that reloading
// asks for nothing again). path is one of ours.
func (v *visit) redirect(path string) error {
	v.c.Redirect(http.StatusSeeOther, path)
	return nil
}

// redirectSaying does so with a sentence for the next page, in the language of
// this one.
func (v *visit) redirectSaying(path, format string, args ...any) error {
	v.leaveNotice(v.reader.T(format, args...))
	return v.redirect(path)
}

// wantsJSON reports whether the client is a program.
func (v *visit) wantsJSON() bool {
	return strings.HasPrefix(v.c.Request.URL.Path, "/api/") ||
		v.c.NegotiateFormat(gin.MIMEHTML, gin.MIMEJSON) == gin.MIMEJSON
}

// local gives path if it leads nowhere but to a page of ours, else "/".
func local(path string) string {
	u, err := url.Parse(path)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsAny(path, "\\\r\n\t") {
		return "/"
	}
	return path
}

// once does a POST whose form carries a key at most one time: sent again, it
// gets the answer it got before.
func (v *visit) once() error {
	if v.route.how&unkeyed != 0 {
		return v.route.do(v)
	}
	key, err := v.formKey()
	if err != nil {
		return err
	}
	if done, err := v.desk.Answered(v.ctx(), key); err != nil || done != nil {
		return v.replay(done, err)
	}
	v.setCtx(desk.WithKey(v.ctx(), key))
	err = v.route.do(v)
	var replay desk.Replay
	if errors.As(err, &replay) {
		return v.replay(&replay.Answer, nil)
	}
	return err
}

// replay answers a form that was done already: with the answer that was kept,
// else by showing the record it made.
func (v *visit) replay(a *desk.Answer, err error) error {
	if err != nil {
		return err
	}
	v.s.metrics.replays.Inc()
	v.s.log.InfoContext(v.ctx(), "sent twice", "route", v.route.path, "subject", a.SubjectKind, "id", a.SubjectID)
	if a.Status != 0 && a.Location != "" {
		return v.redirect(a.Location)
	}
	return v.redirect(recordPath(a.SubjectKind, a.SubjectID))
}

// recordPath gives the page of a record as the log names it.
func recordPath(kind string, id int64) string {
	n := strconv.FormatInt(id, 10)
	switch kind {
	case "person":
		return "/shop/people/" + n
	case "customer":
		return "/customers/" + n
	case "order":
		return "/orders/" + n
	case "coil":
		return "/coils/" + n
	case "pile":
		return "/coils/sheets"
	case "load":
		return "/loads/" + n
	case "invoice":
		return "/books/invoices/" + n
	case "payment":
		return "/books/payments/" + n
	case "memo", "bank", "close":
		return "/books"
	case "program", "hook":
		return "/shop/programs"
	case "quiet address":
		return "/shop/mail"
	case "rates":
		return "/rates"
	case "setting":
		return "/shop/settings"
	}
	if path, ok := shelfPath(kind); ok {
		return path
	}
	return "/"
}
