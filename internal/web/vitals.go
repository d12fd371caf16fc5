package web

import (
	"context"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"ribdesk/internal/desk"
)

// vitals collects, whenever somebody looks, what the database knows.
type vitals struct {
	desk *desk.Desk
	log  *slog.Logger
}

// vitalsWait bounds how long a look may take.
const vitalsWait = 5 * time.Second

var (
	waitingDesc = prometheus.NewDesc("ribdesk_outbox_waiting", "What waits to be sent, by what it is.", []string{"what"}, nil)
	bytesDesc   = prometheus.NewDesc("ribdesk_database_bytes", "Size of the database.", nil, nil)
	logDesc     = prometheus.NewDesc("ribdesk_database_log_bytes", "Size of SQLite's write-ahead log.", nil, nil)
)

// Describe names the metrics.
func (vitals) Describe(to chan<- *prometheus.Desc) {
	to <- waitingDesc
	to <- bytesDesc
	to <- logDesc
}

// Collect gives them; none while the database can't be asked.
func (c vitals) Collect(to chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), vitalsWait)
	defer cancel()
	v, err := c.desk.Vitals(ctx)
	if err != nil {
		c.log.Error("vitals can't be taken", "error", err)
		return
	}
	gauge := func(d *prometheus.Desc, n int64, labels ...string) {
		to <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, float64(n), labels...)
	}
	gauge(waitingDesc, v.MailsWaiting, "mails")
	gauge(waitingDesc, v.HooksWaiting, "hooks")
	gauge(bytesDesc, v.Bytes)
	gauge(logDesc, v.LogBytes)
}
