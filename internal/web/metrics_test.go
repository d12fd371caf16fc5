package web_test

import (
	"net/http/httptest"
	"strings"
	"testing"

	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// The counters name routes by their pattern, methods and routes that clients make
// up add no series, and the pages' own address doesn't serve them.
func TestMetrics(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	b.Get("/customers/1").Want(200)
	b.Get("/customers/2").Want(404)
	b.Get("/made-up-1")
	b.Get("/made-up-2")
	b.Get("/metrics").Want(404)
	site.As(t, party.Driver).Get("/shop/people").Want(403)
	w := httptest.NewRecorder()
	site.Handler.(*web.Server).Metrics().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	text := w.Body.String()
	for _, want := range []string{
		`ribdesk_requests_total{method="GET",route="/customers/:id",status="200"} 1`,
		`ribdesk_requests_total{method="GET",route="/customers/:id",status="404"} 1`,
		`ribdesk_requests_total{method="GET",route="none",status="404"} 3`,
		`ribdesk_request_seconds_count{method="GET",route="/customers/:id"} 2`,
		"# HELP ribdesk_request_seconds ", "# TYPE ribdesk_request_seconds histogram", "go_goroutines ", "process_open_fds ",
		`ribdesk_security_total{what="signed in"} 2`, `ribdesk_security_total{what="refused"} 1`,
		`ribdesk_outbox_waiting{what="mails"} 0`, `ribdesk_outbox_waiting{what="hooks"} 0`, "ribdesk_database_bytes ", "ribdesk_database_log_bytes ",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(text, "made-up") || w.Code != 200 {
		t.Errorf("%d: an address a client made up has a series", w.Code)
	}
}
