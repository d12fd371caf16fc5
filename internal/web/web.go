// Package web shows the desk to people: routes by role, forms, pages, sessions,
// and the answer to each fault. Only this package knows gin.
//
// A handler runs straight down: read the form, call one use case of the desk,
// show a page or redirect. It decides nothing about the shop; rules, and what a
// person may do to a record, are the desk's. Which role may open which route is
// the one table in routes.go; there is no other way in.
//
// To add a page: a struct that embeds Base and names its file, a template of
// that name in templates/pages, a handler, and its line in the table.
package web

import (
	"cmp"
	"context"
	"log/slog"
	"net/http"
	"strings"
	"sync/atomic"
	"time"

	"github.com/gin-gonic/gin"

	"ribdesk/internal/desk"
)

// Options are what the web takes from outside. Each has a working default.
type Options struct {
	Log *slog.Logger // discards

	// TrustedProxies are the addresses or networks whose X-Forwarded-For is
	// believed; none by default, or anybody could dodge the throttle.
	TrustedProxies []string

	// Dev reads templates and static files from Root at each request.
	Dev  bool
	Root string

	// MaxInFlight is how many requests are worked on at once; others wait a
	// second for a place, then get 503. 64 by default.
	MaxInFlight int

	// Patience is how long a page waits for a plan to be worked out before it
	// says that it is; 400 ms by default, not at all when negative.
	Patience time.Duration
}

// Server answers requests for a desk. It is an http.Handler.
type Server struct {
	desk     *desk.Desk
	log      *slog.Logger
	engine   *gin.Engine
	pages    *pages
	assets   *assets
	secure   bool // reached by https
	marks    bool // pages can be read in words.Marked
	guard    *http.CrossOriginProtection
	places   chan struct{}
	patience time.Duration
	metrics  *metrics

	hasOwner atomic.Bool // once true it stays so
}

// New makes a server, with all templates parsed and all routes in place; what is
// wrong with them is an error here, not on somebody's screen.
func New(d *desk.Desk, o Options) (*Server, error) {
	s := &Server{
		desk: d, log: desk.LogRequests(o.Log),
		secure: strings.HasPrefix(d.BaseURL(), "https://"), marks: o.Dev,
		guard:    http.NewCrossOriginProtection(),
		places:   make(chan struct{}, cmp.Or(o.MaxInFlight, 64)),
		patience: cmp.Or(o.Patience, 400*time.Millisecond),
	}
	s.metrics = newMetrics(func() float64 { return float64(len(s.places)) }, vitals{d, s.log})
	d.OnWatch(func(what string) { s.metrics.security.WithLabelValues(what).Inc() })
	var err error
	if s.assets, err = newAssets(o); err != nil {
		return nil, err
	}
	if s.pages, err = newPages(o, s.assets); err != nil {
		return nil, err
	}
	gin.SetMode(gin.ReleaseMode)
	s.engine = gin.New()
	s.engine.HandleMethodNotAllowed = true
	if err := s.engine.SetTrustedProxies(o.TrustedProxies); err != nil {
		return nil, err
	}
	s.engine.Use(s.follow, s.headers, s.catch, s.admit)
	s.mountAPI(apiTable())
	return s, s.mount(table())
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.engine.ServeHTTP(w, r) }

// Tidy lets the desk forget what ran out, now and every hour until ctx ends.
func (s *Server) Tidy(ctx context.Context) {
	tick := time.NewTicker(time.Hour)
	defer tick.Stop()
	for {
		if err := s.desk.Tidy(ctx); err != nil && ctx.Err() == nil {
			s.log.Error("tidying failed", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}
