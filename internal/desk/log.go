package desk

import (
	"context"
	"log/slog"

	"ribdesk/internal/store"
)

// requestLog adds the id of the request being served to what is logged.
type requestLog struct{ slog.Handler }

// LogRequests gives a logger whose lines tell which request they belong to.
func LogRequests(log *slog.Logger) *slog.Logger {
	if log == nil {
		return slog.New(slog.DiscardHandler)
	}
	if _, done := log.Handler().(requestLog); done {
		return log
	}
	return slog.New(requestLog{log.Handler()})
}

// Handle writes one line.
func (h requestLog) Handle(ctx context.Context, r slog.Record) error {
	if id := store.RequestID(ctx); id != "" {
		r.AddAttrs(slog.String("request_id", id))
	}
	return h.Handler.Handle(ctx, r)
}

// WithAttrs keeps the wrapping.
func (h requestLog) WithAttrs(attrs []slog.Attr) slog.Handler {
	return requestLog{h.Handler.WithAttrs(attrs)}
}

// WithGroup keeps the wrapping.
func (h requestLog) WithGroup(name string) slog.Handler {
	return requestLog{h.Handler.WithGroup(name)}
}

// watch logs what bears on who gets in and what they may do, with the mark by which
// such lines are found. args are names and values; no password, code or token is
// among them.
func (d *Desk) watch(ctx context.Context, level slog.Level, what string, args ...any) {
	if d.watched != nil {
		d.watched(what)
	}
	d.log.Log(ctx, level, what, append(args, SecurityMark, true)...)
}

// SecurityMark is on each line of the log that bears on security.
const SecurityMark = "security"

// OnWatch has each such line told to who counts them; set it before the desk is
// used.
func (d *Desk) OnWatch(told func(what string)) { d.watched = told }
