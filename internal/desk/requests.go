package desk

import (
	"context"
	"time"

	"ribdesk/internal/store"
)

// Key, Answer and Replay make a request safe to send twice: the first use case
// under WithKey spends the key in its own transaction, and the same request
// sent again gets Replay, which holds the answer.
type (
	Key    = store.Key
	Answer = store.Answer
	Replay = store.Replay
)

// WithKey makes the use case that follows spend the key.
func WithKey(ctx context.Context, k Key) context.Context { return store.WithKey(ctx, k) }

// WithRequest marks ctx with the id of the request, for the log.
func WithRequest(ctx context.Context, id string) context.Context { return store.WithRequest(ctx, id) }

// Answered gives what was answered to a spent key, nil for a fresh one.
func (d *Desk) Answered(ctx context.Context, k Key) (a *Answer, err error) {
	err = d.store.Glance(ctx, func(tx *store.Tx) error {
		a, err = tx.AnswerTo(k)
		return err
	})
	return a, err
}

// KeepAnswer records the answer to a spent key.
func (d *Desk) KeepAnswer(ctx context.Context, k Key, status int, location string, body []byte) error {
	return d.store.Write(ctx, func(tx *store.Tx) error { return tx.KeepAnswer(k, status, location, body) })
}

// answerDue is how long a request may take from its work until its answer is kept; a
// process that hasn't kept it by then is gone.
const answerDue = 15 * time.Second

// StillRunning reports whether a request that spent its key may yet keep its
// answer.
func (d *Desk) StillRunning(a Answer) bool { return a.Status == 0 && d.now().Sub(a.At) < answerDue }

// keysLast is how long a spent key is remembered.
const keysLast = 72 * time.Hour

// Tidy forgets sessions that ran out, old keys and old counts of sign-ins.
func (d *Desk) Tidy(ctx context.Context) error {
	return d.store.Write(ctx, func(tx *store.Tx) error {
		now := tx.Now()
		if err := tx.ForgetSessions(now.Add(-sessionIdle), now.Add(-sessionLasts)); err != nil {
			return err
		}
		if err := tx.ForgetHalfSessions(now.Add(-codeWait)); err != nil {
			return err
		}
		if err := tx.ForgetKeys(now.Add(-keysLast)); err != nil {
			return err
		}
		return tx.ForgetOldTries(now.Add(-24 * time.Hour))
	})
}
