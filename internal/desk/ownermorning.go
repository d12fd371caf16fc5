package desk

import (
	"cmp"
	"context"
	"slices"
	"time"

	"ribdesk/internal/figures"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

func sortHanded(list []figures.HandOver) {
	slices.SortFunc(list, func(a, b figures.HandOver) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.OrderID, b.OrderID)) })
}

// Morning is what waits for the owner.
type Morning struct {
	Asks         []store.OrderHead // asked from outside, to be priced
	Messages     []store.OrderHead // whose customer waits for an answer
	Broken       []Promised        // promises that are past, or that the plan misses
	Undecided    []Undecided       // exceptions of hand-overs
	Unplanned    []store.OrderHead // accepted, in no run plan
	Short        []Shortage        // strip that open orders lack
	Overdue      []Owed            // the latest first
	ToInvoice    []Ready           // handed over, not invoiced
	Certificates []Expiring        // that run out soon, or just did
	Services     []Service         // that are over or due within a week
}

// Promised is an order with a promise that doesn't hold.
type Promised struct {
	store.OrderHead
	Ready time.Time     // as the plan stands now; zero when it isn't that which breaks it
	Late  time.Duration // by how much Ready misses the promise
	Past  bool          // the promise is over already
}

// Undecided is something that wasn't as it should be at a hand-over.
type Undecided struct {
	store.OrderHead
	Exception order.Exception
	At        time.Time
}

// Expiring is a resale certificate near its end.
type Expiring struct {
	store.CertificateOf
	Over bool
}

// How far ahead the morning looks.
const (
	certificateDays = 30
	serviceDays     = 7
)

// Morning gives what the owner should see to first.
func (d *Desk) Morning(ctx context.Context, actor party.Actor) (m Morning, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return m, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return m, err
	}
	owed, err := d.Receivables(ctx, actor)
	if err != nil {
		return m, err
	}
	m.keepOverdue(owed)
	if m.Short, err = d.Shortages(ctx, actor); err != nil {
		return m, err
	}
	if err := m.keepServices(ctx, d, actor); err != nil {
		return m, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error { return m.read(tx, s, d.now()) })
	return m, err
}

func (m *Morning) keepOverdue(r Receivables) {
	for _, o := range r.Owed {
		if o.DaysLate > 0 {
			m.Overdue = append(m.Overdue, o)
		}
	}
	for _, one := range r.Ready {
		if one.Why == "" {
			m.ToInvoice = append(m.ToInvoice, one)
		}
	}
}

func (m *Morning) keepServices(ctx context.Context, d *Desk, actor party.Actor) error {
	all, err := d.Services(ctx, actor)
	for _, one := range all {
		if one.Taken == nil && (one.Over || !one.Due.IsZero() && one.Due.Before(d.now().AddDate(0, 0, serviceDays))) {
			m.Services = append(m.Services, one)
		}
	}
	return err
}

func (m *Morning) read(tx *store.Tx, s *snapshot, now time.Time) error {
	list, err := tx.OrderHeads()
	if err != nil {
		return err
	}
	heads := map[int64]store.OrderHead{}
	for _, h := range list {
		heads[h.ID] = h
	}
	asks, err := tx.AskedOutside()
	if err != nil {
		return err
	}
	for _, id := range asks {
		m.Asks = append(m.Asks, heads[id])
	}
	waiting, err := tx.Unanswered()
	if err != nil {
		return err
	}
	for _, id := range waiting {
		if heads[id].State.Open() {
			m.Messages = append(m.Messages, heads[id])
		}
	}
	m.lookAtPromises(s, list, now)
	m.lookAtPlan(s, heads)
	if err := m.readUndecided(tx, heads); err != nil {
		return err
	}
	today := dayStart(now, s.seller.Location())
	certificates, err := tx.Expiring(today.AddDate(0, 0, -certificateDays), today.AddDate(0, 0, certificateDays))
	for _, c := range certificates {
		m.Certificates = append(m.Certificates, Expiring{c, c.Expires.Before(today)})
	}
	return err
}

// lookAtPromises finds orders whose day is over, and those that the plan misses
// as it stands from now on.
func (m *Morning) lookAtPromises(s *snapshot, list []store.OrderHead, now time.Time) {
	_, _, slips := s.ahead(now)
	missed := map[int64]Promise{}
	for _, p := range slips {
		missed[p.OrderID] = p
	}
	today := s.dayOf(now)
	for _, h := range list {
		if !slices.Contains(committed, h.State) || h.Promise.IsZero() {
			continue
		}
		slip, misses := missed[h.ID]
		if past := s.dayOf(h.Promise) < today; past || misses {
			m.Broken = append(m.Broken, Promised{OrderHead: h, Ready: slip.Ready, Late: slip.Late(), Past: past})
		}
	}
	slices.SortStableFunc(m.Broken, func(a, b Promised) int { return a.Promise.Compare(b.Promise) })
}

func (m *Morning) lookAtPlan(s *snapshot, heads map[int64]store.OrderHead) {
	seen := map[int64]bool{}
	for _, l := range s.unplaced() {
		if !seen[l.OrderID] {
			seen[l.OrderID] = true
			m.Unplanned = append(m.Unplanned, heads[l.OrderID])
		}
	}
}

func (m *Morning) readUndecided(tx *store.Tx, heads map[int64]store.OrderHead) error {
	stops, err := tx.AllStops()
	for _, s := range stops {
		for _, e := range s.Exceptions {
			if !s.SignedAt.IsZero() && e.Decision == "" && e.Kind != "over" {
				m.Undecided = append(m.Undecided, Undecided{heads[s.OrderID], e, s.SignedAt})
			}
		}
	}
	return err
}
