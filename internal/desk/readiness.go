package desk

import (
	"context"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// ready is the promise that follows from the end of the last cut: bundled some
// hours later for a pick-up, and at noon of the next working day when hauled.
func (s *snapshot) ready(cut time.Time, o order.Order) time.Time {
	zone := s.seller.Location()
	t := cut.Add(s.bundling()).In(zone)
	if o.Fulfil == order.PickUp {
		// To the next half hour: nobody is told 14:07.
		return t.Truncate(30 * time.Minute).Add(30 * time.Minute).UTC()
	}
	y, m, day := t.Date()
	next := time.Date(y, m, day+1, 12, 0, 0, 0, zone)
	for next.Weekday() == time.Saturday || next.Weekday() == time.Sunday {
		next = next.AddDate(0, 0, 1)
	}
	return next.UTC()
}

// cutBy undoes ready: the moment by which the last cut has to end for an order
// to be ready as promised. What is hauled is loaded the day before.
func (s *snapshot) cutBy(promise time.Time, how order.Fulfil) time.Time {
	if how != order.PickUp {
		promise = s.midnight(promise, 0)
	}
	return promise.Add(-s.bundling())
}

// midnight is the start of the shop's day of a time, or of one some days later.
func (s *snapshot) midnight(t time.Time, days int) time.Time {
	y, m, d := t.In(s.seller.Location()).Date()
	return time.Date(y, m, d+days, 0, 0, 0, 0, s.seller.Location())
}

// bundling is the time from the last cut until an order can be fetched or loaded.
func (s *snapshot) bundling() time.Duration { return time.Duration(s.seller.ReadyHours) * time.Hour }

// late reports whether a cut that ends then breaks its order's promise.
func (s *snapshot) late(o order.Order, end time.Time) bool {
	return !o.Promise.IsZero() && end.After(s.cutBy(o.Promise, o.Fulfil))
}

// promiseNow gives what can be promised to a quoted order that is accepted now:
// what it was quoted while those hours of the machine are still to be had, else
// the next. A quote holds its price, but no hours: others may take them first.
func (s *snapshot) promiseNow(o order.Order, now time.Time) (time.Time, error) {
	quoted := o.Promise
	o.Promise, o.Lines = time.Time{}, slices.Clone(o.Lines)
	lines, err := s.resolve(&o)
	if err != nil {
		return quoted, err
	}
	p := s.seated(now)
	news := p.newLines(o, lines)
	if len(news) == 0 {
		return stock.Later(quoted, s.ready(now, o)), nil
	}
	place, best, err := p.place(news)
	if fault.Is(err, fault.Conflict) {
		return quoted, nil // no room in the calendar: the shop says when
	}
	if err != nil {
		return quoted, err
	}
	o.Promise = quoted
	if kept := place.Promise([]int64{p.due(o)}); kept[0].Fit != nil {
		return quoted, nil
	}
	return stock.Later(quoted, s.ready(p.at(best.Promise), o)), nil
}

// readyNow sets in the file of a quote what can be promised if it is accepted now.
func (d *Desk) readyNow(ctx context.Context, f *OrderFile) error {
	if f.Order.State != order.Quoted || f.Order.Promise.IsZero() {
		return nil
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return err
	}
	f.Ready, err = s.promiseNow(f.Order, d.now())
	return err
}

// DateMoved is the cause of the fault of an acceptance whose date moved since it
// was shown; Ready is what can be promised now.
type DateMoved struct{ Ready time.Time }

// Error says so in one sentence.
func (m DateMoved) Error() string { return "it can be ready by " + m.Ready.Format(time.RFC3339) }

// promiseAnew promises an order that is being accepted what can be promised now.
// When that is later than the date its customer was shown a moment ago, the
// acceptance is refused: nobody accepts a date unseen. shown is zero for who
// takes what there is.
func (d *Desk) promiseAnew(tx *store.Tx, o *order.Order, shown time.Time) error {
	if o.Promise.IsZero() {
		return nil
	}
	s, err := d.snapshotIn(tx)
	if err != nil {
		return err
	}
	ready, err := s.promiseNow(*o, d.now())
	if err != nil {
		return err
	}
	if !shown.IsZero() && ready.After(shown) {
		return fault.Conflictf("the machine's hours filled up since this was quoted: it can be ready by %s now. If that suits, accept again",
			ready.In(s.seller.Location()).Format("1/2/2006 3:04 PM")).Because(DateMoved{ready})
	}
	o.Promise = ready
	return nil
}
