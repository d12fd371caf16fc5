package web

import (
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

// metrics count what the server does, by the pattern of a route and never by an
// address: there are as many series as lines in the table.
type metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
	replays  prometheus.Counter
	panics   prometheus.Counter
	security *prometheus.CounterVec
}

func newMetrics(working func() float64, more ...prometheus.Collector) *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "ribdesk_requests_total", Help: "Requests answered, by method, route and status."}, []string{"method", "route", "status"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "ribdesk_request_seconds", Help: "How long answers took, by method and route.",
			Buckets: []float64{.005, .01, .025, .05, .1, .25, .5, 1, 2.5, 10}}, []string{"method", "route"}),
		replays: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "ribdesk_replays_total", Help: "Forms sent again that were done already."}),
		panics: prometheus.NewCounter(prometheus.CounterOpts{
			Name: "ribdesk_panics_total", Help: "Faults in the program that were caught."}),
		security: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "ribdesk_security_total", Help: "Lines of the log with the mark of security, by what they say."}, []string{"what"}),
	}
	busy := prometheus.NewGaugeFunc(prometheus.GaugeOpts{
		Name: "ribdesk_requests_working", Help: "Requests being worked on now."}, working)
	m.registry.MustRegister(m.requests, m.seconds, m.replays, m.panics, m.security, busy,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	m.registry.MustRegister(more...)
	return m
}

// answered notes the end of a request. What fits no route counts as "none", and a
// method that the table has no line for as "other": clients make neither up.
func (m *metrics) answered(method, route string, status int, took time.Duration) {
	if route == "" {
		route = "none"
	}
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut:
	default:
		method = "other"
	}
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Inc()
	m.seconds.WithLabelValues(method, route).Observe(took.Seconds())
}

// Metrics answers with the counters in the text form of Prometheus. It asks
// nobody who they are: serve it where only the shop's own machines reach.
func (s *Server) Metrics() http.Handler {
	return promhttp.HandlerFor(s.metrics.registry, promhttp.HandlerOpts{})
}
