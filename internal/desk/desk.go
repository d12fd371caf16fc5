// Package desk holds the use cases: each thing that a person can ask of the
// shop is one method of Desk, which loads what it needs, lets the pure rooms
// decide, and saves the outcome in one transaction together with a line in the
// log. It knows no pages, forms or statuses.
//
// The acting party is an argument of every use case, and what a role may do to
// a record is decided here; which role may open which page is the web's table.
package desk

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"io"
	"log/slog"
	"reflect"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Desk is the shop at work.
type Desk struct {
	store    *store.Store
	now      func() time.Time
	log      *slog.Logger
	random   io.Reader
	baseURL  string
	mailFrom string

	setupCode func() string // see FirstOwner
	watched   func(string)  // see OnWatch
	hashing   chan struct{} // one seat for each password being hashed
	snap      atomic.Pointer[snapshot]
	worth     worths   // what an hour of a machine earns, by order
	searches  searches // for plans: under way, and shown not long ago
	looked    looks    // records of the owner's figures
}

// Options are what a desk takes from outside. Each has a working default.
type Options struct {
	Now      func() time.Time // time.Now
	Log      *slog.Logger     // discards
	Random   io.Reader        // crypto/rand; tokens, codes and salts come from it
	MailFrom string           // the address that mail comes from; "" turns mail off
	BaseURL  string           // where the pages are reached, for links on papers: "https://desk.example.com"
}

// New makes a desk over an open store, and sets the store's clock to its own.
func New(s *store.Store, o Options) *Desk {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Random == nil {
		o.Random = rand.Reader
	}
	s.Clock = o.Now
	d := &Desk{store: s, now: o.Now, log: LogRequests(o.Log), random: o.Random, baseURL: o.BaseURL, mailFrom: o.MailFrom}
	d.setupCode = sync.OnceValue(func() string { return d.code(12) })
	d.hashing = make(chan struct{}, max(2, runtime.NumCPU()))
	d.searches.seats = make(chan struct{}, max(1, runtime.NumCPU()/2))
	return d
}

// BaseURL gives the address that links on papers start with, without a slash at
// the end.
func (d *Desk) BaseURL() string { return d.baseURL }

// Now gives the desk's time.
func (d *Desk) Now() time.Time { return d.now() }

// Ready reports whether the database can be written.
func (d *Desk) Ready(ctx context.Context) error { return d.store.Ready(ctx) }

// allow refuses an actor in none of the roles.
func allow(actor party.Actor, roles ...party.Role) error {
	for _, r := range roles {
		if actor.Role == r {
			return nil
		}
	}
	return fault.Deniedf("your role doesn't include this")
}

// codeLetters leaves out what is mistaken for something else: 0 O, 1 I L, and so on.
const codeLetters = "23456789ABCDEFGHJKMNPQRSTVWXYZ"

// code gives n random letters and digits that a person can read out.
func (d *Desk) code(n int) string {
	b := make([]byte, 0, n)
	for len(b) < n {
		// A byte beyond the last whole multiple would favour some letters.
		if r := d.bytes(1)[0]; int(r) < 256/len(codeLetters)*len(codeLetters) {
			b = append(b, codeLetters[int(r)%len(codeLetters)])
		}
	}
	return string(b)
}

// bytes gives n random bytes. A machine without randomness can't go on safely.
func (d *Desk) bytes(n int) []byte {
	b := make([]byte, n)
	if _, err := io.ReadFull(d.random, b); err != nil {
		panic("no randomness: " + err.Error())
	}
	return b
}

// changes gives the fields in which two values of one type differ, each with
// what it was and what it is, for the log. Fields are named as in JSON.
func changes(before, after any) map[string][2]any {
	was, is := fields(before), fields(after)
	diff := map[string][2]any{}
	for name, v := range is {
		if !reflect.DeepEqual(was[name], v) {
			diff[name] = [2]any{was[name], v}
		}
	}
	return diff
}

func fields(v any) map[string]any {
	text, err := json.Marshal(v)
	if err != nil {
		panic("a record for the log has no JSON: " + err.Error())
	}
	var m map[string]any
	if err := json.Unmarshal(text, &m); err != nil {
		panic("a record for the log is no JSON object: " + err.Error())
	}
	return m
}
