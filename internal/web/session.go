package web

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
)

// Cookies: the session's token; a visitor's mark, to which forms are bound
// before there is a session; a sentence for the next page.
const (
	sessionCookie = "desk"
	visitorCookie = "visitor"
	noticeCookie  = "said"
	halfCookie    = "half"   // a sign-in that waits for its code
	personName    = "person" // the key under which the log finds who it was
)

// browserKeeps is how long a browser keeps the session's cookie; the desk ends
// the session earlier when it isn't used.
const browserKeeps = 7 * 24 * time.Hour

// identify finds out who asks. A token that no longer holds leaves a visitor.
func (v *visit) identify() error {
	v.mark = v.s.cookie(v.c, visitorCookie)
	token := v.s.cookie(v.c, sessionCookie)
	if token == "" {
		return nil
	}
	session, err := v.desk.Resume(v.ctx(), token)
	if fault.Is(err, fault.NotFound) {
		v.s.setCookie(v.c, sessionCookie, "", -1)
		return nil
	}
	if err != nil {
		return err
	}
	v.token, v.actor = token, session.Person.Actor()
	v.c.Set(personName, v.actor.PersonID)
	v.owes, err = v.desk.OwesSecondStep(v.ctx(), session.Person)
	return err
}

// signIn hands the browser its new token; what it had before is worth nothing.
func (v *visit) startSession(token string) {
	v.s.setCookie(v.c, sessionCookie, token, browserKeeps)
	v.s.setCookie(v.c, visitorCookie, "", -1)
	v.s.setCookie(v.c, halfCookie, "", -1)
	v.token = token
}

func (v *visit) endSession() {
	v.s.setCookie(v.c, sessionCookie, "", -1)
	v.c.Header("Clear-Site-Data", `"cache", "storage"`)
	v.token = ""
}

// secret is what this browser has and no other site can know; forms prove it.
func (v *visit) secret() string {
	if v.token != "" {
		return v.token
	}
	if v.mark == "" {
		b := make([]byte, 16)
		_, _ = rand.Read(b)
		v.mark = base64.RawURLEncoding.EncodeToString(b)
		v.s.setCookie(v.c, visitorCookie, v.mark, 0)
	}
	return v.mark
}

// formToken proves that a form came from a page of ours shown to this browser.
// It reads differently each time, so that compression can't give it away.
func (v *visit) formToken() string {
	proof := formProof(v.secret())
	pad := make([]byte, len(proof))
	_, _ = rand.Read(pad)
	return base64.RawURLEncoding.EncodeToString(append(pad, xor(proof, pad)...))
}

func formProof(secret string) []byte {
	sum := sha256.Sum256([]byte("form of " + secret))
	return sum[:16]
}

func xor(a, b []byte) []byte {
	out := make([]byte, len(a))
	subtle.XORBytes(out, a, b)
	return out
}

func genuine(token, secret string) bool {
	b, err := base64.RawURLEncoding.DecodeString(token)
	proof := formProof(secret)
	if err != nil || len(b) != 2*len(proof) {
		return false
	}
	return subtle.ConstantTimeCompare(xor(b[:len(proof)], b[len(proof):]), proof) == 1
}

// Names of the hidden fields that every form has.
const (
	tokenField = "form_token"
	keyField   = "form_key"
)

// openForm reads the body of a POST and checks that it comes from a page of
// ours.
func (v *visit) openForm() error {
	r := v.c.Request
	if v.route.how&upload == 0 {
		r.Body = http.MaxBytesReader(v.c.Writer, r.Body, usualBody)
	}
	var err error
	if strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
		err = r.ParseMultipartForm(usualBody)
	} else {
		err = r.ParseForm()
	}
	if statusOf(err) == http.StatusRequestEntityTooLarge {
		return err
	}
	if err != nil {
		return refusal{http.StatusBadRequest, "Can't be read", "This form arrived damaged. Please send it again."}
	}
	token := r.PostForm.Get(tokenField)
	if token == "" {
		token = r.Header.Get("X-Form-Token")
	}
	if !genuine(token, v.secret()) {
		v.watch("form refused")
		return refusal{http.StatusForbidden, "This form is out of date", "You signed in or out since this page was opened, or your session ended. Go back, reload the page and send it again; nothing was done."}
	}
	return nil
}

// formKey gives the key of this form: whose it is, its own value, and what was
// asked.
func (v *visit) formKey() (desk.Key, error) {
	form := v.c.Request.PostForm
	value := form.Get(keyField)
	if !plainID(value) {
		return desk.Key{}, refusal{http.StatusBadRequest, "Can't be read", "This form has no key. Reload the page and send it again."}
	}
	scope := "visitor " + hex.EncodeToString(formProof(v.secret()))
	if v.actor.PersonID != 0 {
		scope = "person " + strconv.FormatInt(v.actor.PersonID, 10)
	}
	return desk.Key{Scope: scope, Value: value, BodyHash: bodyHash(v.c.Request)}, nil
}

// bodyHash stands for what a form asks, in whatever order the browser sent it.
func bodyHash(r *http.Request) string {
	h := sha256.New()
	h.Write([]byte(r.URL.Path))
	form := r.PostForm
	for _, name := range slices.Sorted(maps.Keys(form)) {
		if name == tokenField || name == keyField {
			continue
		}
		h.Write([]byte("\x00" + name))
		for _, value := range form[name] {
			h.Write([]byte("\x01" + value))
		}
	}
	if r.MultipartForm != nil {
		for _, name := range slices.Sorted(maps.Keys(r.MultipartForm.File)) {
			for _, f := range r.MultipartForm.File[name] {
				fmt.Fprintf(h, "\x02%s %s %d", name, f.Filename, f.Size)
			}
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// leaveNotice keeps a sentence for the next page.
func (v *visit) leaveNotice(sentence string) {
	v.s.setCookie(v.c, noticeCookie, base64.RawURLEncoding.EncodeToString([]byte(sentence)), time.Minute)
}

// takeNotice reads it, once.
func (v *visit) takeNotice() string {
	said := v.s.cookie(v.c, noticeCookie)
	if said == "" {
		return ""
	}
	v.s.setCookie(v.c, noticeCookie, "", -1)
	b, err := base64.RawURLEncoding.DecodeString(said)
	if err != nil {
		return ""
	}
	return string(b)
}
