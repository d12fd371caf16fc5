package desk

import (
	"context"
	"time"

	"ribdesk/internal/store"
)

// outbox is a table of things on their way to somebody outside: T is a row, M
// what is sent of it. Any number of processes may work one off. Each claims what
// it sends; another takes it up only when the claim has run out, and then nobody
// knows what became of it. So nothing is lost, and what comes twice comes with
// the same id.
type outbox[T, M any] struct {
	due     func(*store.Tx) (T, bool, error)
	fresh   func(*store.Tx, T) (T, error) // the row as it is now
	compose func(*store.Tx, T) (M, error) // an error counts as a try that failed
	state   func(*T) *store.Sending
	save    func(*store.Tx, T) error
	over    func(error) bool // no further try would help
	ended   func(*T)         // what else becomes of a row that was taken or given up
	oneWay  bool             // all go to one place: after one that wasn't taken the others wait
}

const (
	sendLease    = 2 * time.Minute // a sender that is gone by then is given up
	sendFirst    = 30 * time.Second
	sendFactor   = 4
	sendTries    = 8 // the last about two days after the first
	sendFinish   = 7 * time.Second
	longestReply = 120
	outcomeTaken = "taken"
)

// workOff sends what is due, one after the other, until nothing is or ctx ends.
// An error of send is tried again later, with growing pauses, and given up in
// the end. What is being sent when ctx ends has a few seconds to finish.
func workOff[T, M any](ctx context.Context, d *Desk, box outbox[T, M], send func(context.Context, M) error) error {
	sending, done := lasting(ctx, sendFinish)
	defer done()
	for ctx.Err() == nil {
		row, m, failed, err := claim(ctx, d, box)
		if err != nil || row == nil {
			return err
		}
		if failed == nil {
			failed = send(sending, m)
		}
		if err := settleSending(ctx, d, box, *row, failed); err != nil || failed != nil && box.oneWay {
			return err
		}
	}
	return ctx.Err()
}

// lasting gives a context that ends a while after ctx does.
func lasting(ctx context.Context, while time.Duration) (context.Context, context.CancelFunc) {
	longer, cancel := context.WithCancel(context.WithoutCancel(ctx))
	stop := context.AfterFunc(ctx, func() { time.AfterFunc(while, cancel) })
	return longer, func() { stop(); cancel() }
}

// claim takes what is due longest, so that no other process sends it for a
// while, and makes its message. It gives nil when nothing is due.
func claim[T, M any](ctx context.Context, d *Desk, box outbox[T, M]) (row *T, m M, failed, err error) {
	waits := false
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		_, waits, err = box.due(tx)
		return err
	})
	if err != nil || !waits {
		return nil, m, nil, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		row, failed = nil, nil
		one, waits, err := box.due(tx)
		if err != nil || !waits {
			return err
		}
		m, failed = box.compose(tx, one)
		s := box.state(&one)
		s.Tries++
		s.NextAt, s.Outcome = tx.Now().Add(sendLease), "being sent"
		row = &one
		return box.save(tx, one)
	})
	return row, m, failed, err
}

// settleSending keeps what became of a try. That a message was taken is always
// kept; that it wasn't, only while nobody else has claimed it since.
func settleSending[T, M any](ctx context.Context, d *Desk, box outbox[T, M], tried T, failed error) error {
	// A stop of the program must not leave a message that was taken as not sent.
	return d.store.Write(context.WithoutCancel(ctx), func(tx *store.Tx) error {
		now, err := box.fresh(tx, tried)
		if err != nil {
			return err
		}
		s, was := box.state(&now), *box.state(&tried)
		switch {
		case failed == nil:
			s.State, s.Outcome = store.SendDone, outcomeTaken
			box.ended(&now)
		case s.State != store.SendWaiting || s.Tries != was.Tries:
			return nil
		case s.Tries >= sendTries || box.over(failed):
			s.State, s.Outcome = store.SendGivenUp, cut(failed.Error(), longestReply)
			box.ended(&now)
		default:
			pause := sendFirst
			for range s.Tries - 1 {
				pause *= sendFactor
			}
			s.NextAt, s.Outcome = tx.Now().Add(pause), cut(failed.Error(), longestReply)
		}
		return box.save(tx, now)
	})
}
