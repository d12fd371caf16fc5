package desk

import (
	"context"
	"fmt"
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// Service is a machine's next service: what it has run since the last one, and
// when the plan takes it past its interval.
type Service struct {
	Machine  stock.Machine
	Since    time.Time // end of the last service; zero when none is on file
	Feet     measure.Length
	Minutes  int          // by the estimates of what it finished
	Due      time.Time    // the start of the line that passes the interval; zero when none in the plan does
	Over     bool         // the interval is passed already
	Taken    *stock.Block // time that is taken for it
	Proposed *stock.Block // else time to take
}

// Hours writes the machine hours since the last service.
func (s Service) Hours() string { return fmt.Sprintf("%d:%02d", s.Minutes/60, s.Minutes%60) }

// Services tells of each machine with a service interval when it is due. A
// service is a block of that kind; the last one that is over is where counting
// starts.
func (d *Desk) Services(ctx context.Context, actor party.Actor) (out []Service, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	now := d.now()
	for _, m := range s.machines {
		if m.ServiceFeet == 0 && m.ServiceHours == 0 {
			continue
		}
		one := Service{Machine: m}
		err := d.store.Read(ctx, func(tx *store.Tx) (err error) {
			if one.Since, err = tx.LastService(m.Code, now); err == nil {
				one.Feet, one.Minutes, err = tx.RunSince(m.Code, one.Since)
			}
			return err
		})
		if err != nil {
			return nil, err
		}
		s.lookAhead(&one, now)
		out = append(out, one)
	}
	return out, nil
}

// lookAhead goes through the plan until the interval is passed, and proposes the
// first opening of that day, or of the next day the machine is open.
func (s *snapshot) lookAhead(one *Service, now time.Time) {
	feet, minutes := one.Feet, one.Minutes
	one.Over = passed(one.Machine, feet, minutes)
	if one.Over {
		one.Due = now
	}
	for _, at := range s.placesOn(one.Machine.Code) {
		l := s.rest(s.lines[at.LineID].Line)
		feet, minutes = feet+l.Feet(), minutes+int(at.End.Sub(at.Start)/time.Minute)
		if one.Due.IsZero() && passed(one.Machine, feet, minutes) {
			one.Due = at.Start
		}
	}
	for _, b := range s.blocksOf(one.Machine.Code) {
		if b.Kind == stock.Service && b.To.After(now) && one.Taken == nil {
			one.Taken = &b
		}
	}
	if one.Due.IsZero() || one.Taken != nil {
		return
	}
	zone := s.seller.Location()
	from := dayStart(one.Due, zone)
	if !from.After(now) {
		from = now.Truncate(time.Hour).Add(time.Hour)
	}
	for _, span := range stock.Open(one.Machine.Week, s.blocksOf(one.Machine.Code), from, from.AddDate(0, 0, 14), zone) {
		long := time.Duration(max(30, one.Machine.ServiceMinutes)) * time.Minute
		one.Proposed = &stock.Block{Machine: one.Machine.Code, From: span.From, To: span.From.Add(long), Kind: stock.Service, Reason: "Service by the interval"}
		return
	}
}

// passed reports whether so much work is past a machine's interval.
func passed(m stock.Machine, feet measure.Length, minutes int) bool {
	return m.ServiceFeet > 0 && feet > measure.Foot.Times(m.ServiceFeet) || m.ServiceHours > 0 && minutes > 60*m.ServiceHours
}
