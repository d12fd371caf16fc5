package web

import (
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"ribdesk/internal/desk"
)

// requestIDName is where a request's id is kept, and the header it is sent in.
const requestIDName = "X-Request-Id"

// follow gives each request an id and logs its end. A client's own id is taken
// over if it is plain.
func (s *Server) follow(c *gin.Context) {
	start := time.Now()
	id := c.GetHeader(requestIDName)
	if !plainID(id) {
		id = randomHex(12)
	}
	c.Header(requestIDName, id)
	c.Request = c.Request.WithContext(desk.WithRequest(c.Request.Context(), id))
	c.Next()
	s.metrics.answered(c.Request.Method, c.FullPath(), c.Writer.Status(), time.Since(start))
	if c.FullPath() == "/healthz" || c.FullPath() == "/readyz" {
		return
	}
	s.log.InfoContext(c.Request.Context(), "request", "method", c.Request.Method, "route", c.FullPath(),
		"status", c.Writer.Status(), "bytes", c.Writer.Size(), "ms", float64(time.Since(start).Microseconds())/1000,
		"person", c.GetInt64(personName), "address", c.ClientIP())
}

func plainID(s string) bool {
	if len(s) < 8 || len(s) > 64 {
		return false
	}
	for _, r := range s {
		if (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '-' && r != '_' {
			return false
		}
	}
	return true
}

func randomHex(n int) string {
	b := make([]byte, n)
	_, _ = rand.Read(b) // crypto/rand never fails
	return hex.EncodeToString(b)
}

func (v *visit) requestID() string { return v.c.Writer.Header().Get(requestIDName) }

// policy allows what comes from here and nothing else; no inline script or style.
const policy = "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// headers are on every answer, errors too.
func (s *Server) headers(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(self), geolocation=(), microphone=(), payment=()")
	h.Set("Cache-Control", "no-store") // assets say otherwise
	if len(c.Request.TransferEncoding) > 0 {
		// It may have named a length too, and a proxy in front may have gone by
		// that one: nothing behind it is taken for a request (RFC 9112, 6.1).
		h.Set("Connection", "close")
	}
	if s.secure {
		h.Set("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
	}
}

// catch turns a panic into the neutral page; the log gets the rest.
func (s *Server) catch(c *gin.Context) {
	defer func() {
		p := recover()
		if p == nil {
			return
		}
		if p == http.ErrAbortHandler {
			panic(p)
		}
		s.metrics.panics.Inc()
		s.log.ErrorContext(c.Request.Context(), "panic", "route", c.FullPath(), "panic", fmt.Sprint(p), "stack", string(debug.Stack()))
		if c.Writer.Written() {
			return
		}
		c.Writer.Header().Del("Content-Disposition")
		v := &visit{s: s, c: c, desk: s.desk}
		v.fail(fmt.Errorf("panic: %v", p))
	}()
	c.Next()
}

// limits on what a form may send.
const (
	usualBody  = 1 << 20
	uploadBody = 10 << 20
)

// admit lets in as many requests as can be worked on, bounds their bodies, and
// refuses posts from other sites.
func (s *Server) admit(c *gin.Context) {
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, uploadBody)
	if err := s.guard.Check(c.Request); err != nil {
		s.metrics.security.WithLabelValues("cross-site post refused").Inc()
		s.log.WarnContext(c.Request.Context(), "cross-site post refused", "route", c.FullPath(), "origin", c.GetHeader("Origin"), desk.SecurityMark, true)
		s.stop(c, refusal{http.StatusForbidden, "Not from here", "This form was sent from another site, so it wasn't done."})
		return
	}
	if c.FullPath() == "/healthz" { // says that the process lives, however busy
		c.Next()
		return
	}
	wait := time.NewTimer(time.Second)
	defer wait.Stop()
	select {
	case s.places <- struct{}{}:
		defer func() { <-s.places }()
		c.Next()
	case <-wait.C:
		c.Header("Retry-After", "2")
		s.stop(c, refusal{http.StatusServiceUnavailable, "Busy", "Too many people at once. Please try again in a moment."})
	case <-c.Request.Context().Done():
		c.Abort()
	}
}

// stop answers before any route was chosen: without a person.
func (s *Server) stop(c *gin.Context, r refusal) {
	c.Abort()
	v := &visit{s: s, c: c, desk: s.desk}
	v.fail(r)
}

// cookieName makes a cookie unusable by other hosts and over plain http, where
// the desk is served by https; on loopback it stays plain.
func (s *Server) cookieName(name string) string {
	if s.secure {
		return "__Host-" + name
	}
	return name
}

func (s *Server) setCookie(c *gin.Context, name, value string, maxAge time.Duration) {
	age := int(maxAge / time.Second)
	if maxAge < 0 {
		age = -1
	}
	http.SetCookie(c.Writer, &http.Cookie{
		Name: s.cookieName(name), Value: value, Path: "/", MaxAge: age,
		Secure: s.secure, HttpOnly: true, SameSite: http.SameSiteLaxMode,
	})
}

func (s *Server) cookie(c *gin.Context, name string) string {
	k, err := c.Request.Cookie(s.cookieName(name))
	if err != nil || len(k.Value) > 1000 || strings.ContainsAny(k.Value, "\r\n") {
		return ""
	}
	return k.Value
}
