package desk

import (
	"context"
	"fmt"
	"reflect"
	"slices"
	"sync"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
)

// proposalHolds is how long a proposal can be adopted as it was shown; after
// that its first runs would start in the past.
const proposalHolds = 15 * time.Minute

// foundAgain is how long a plan that took long to work out is shown as it was
// found, when it is asked for again and nothing changed.
const foundAgain = 5 * time.Minute

// maxSearches is how many plans are worked out or kept at a time.
const maxSearches = 8

// searches are those for plans. A search goes on when whoever asked for it left,
// and is found again by what it was asked for.
type searches struct {
	mu    sync.Mutex
	list  []*search     // the oldest first
	last  SearchReport  // of the last one that ended
	seats chan struct{} // one for each search that may run at a time
}

// search is one plan being worked out.
type search struct {
	change   PlanChange
	floor    int64 // of the shop it was worked out for
	began    time.Time
	lines    int
	patience bool // somebody had to wait for it
	done     chan struct{}
	proposal Proposal // as ended and err, once done is closed
	ended    time.Time
	err      error
}

// SearchReport says how a search for a plan goes, or went.
type SearchReport struct {
	Lines int // it plans
	Since time.Time
	Took  time.Duration // 0 while it goes on
}

// Underway tells of a plan that is still worked out.
type Underway struct {
	SearchReport
	Last SearchReport // of the search before; Took is 0 when there was none
}

// ProposePlan works out the best plan found for all open lines. Nothing is
// changed. What has begun or is about to stays where it is.
func (d *Desk) ProposePlan(ctx context.Context, actor party.Actor) (Proposal, error) {
	return d.ProposeChange(ctx, actor, PlanChange{})
}

// ProposeChange works out what a change would do to the plan, before it is
// accepted: what moves, and whose promise breaks.
func (d *Desk) ProposeChange(ctx context.Context, actor party.Actor, c PlanChange) (Proposal, error) {
	return d.proposeUsing(ctx, actor, c, reuse{})
}

// proposeUsing is ProposeChange with a plan that was found before, if it may be used.
func (d *Desk) proposeUsing(ctx context.Context, actor party.Actor, c PlanChange, use reuse) (Proposal, error) {
	found, err := d.beginSearch(ctx, actor, c, false, use)
	if err != nil {
		return Proposal{}, err
	}
	select {
	case <-found.done:
		return found.proposal, found.err
	case <-ctx.Done():
		return Proposal{}, ctx.Err()
	}
}

// LookForChange is ProposeChange for somebody who waits only so long: after that
// it says how the search goes, and asking the same again finds it, or the plan.
func (d *Desk) LookForChange(ctx context.Context, actor party.Actor, c PlanChange, patience time.Duration) (Proposal, *Underway, error) {
	found, err := d.beginSearch(ctx, actor, c, true, reuse{within: foundAgain, took: time.Second})
	if err != nil {
		return Proposal{}, nil, err
	}
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case <-found.done:
	case <-ctx.Done():
		return Proposal{}, nil, ctx.Err()
	case <-timer.C:
	}
	if found.over() {
		return found.proposal, nil, found.err
	}
	d.searches.mu.Lock()
	defer d.searches.mu.Unlock()
	found.patience = true
	return Proposal{}, &Underway{SearchReport: SearchReport{Lines: found.lines, Since: found.began}, Last: d.searches.last}, nil
}

// beginSearch finds a search for the same of the same shop, where again allows
// that, or begins one.
func (d *Desk) beginSearch(ctx context.Context, actor party.Actor, c PlanChange, again bool, use reuse) (*search, error) {
	if err := c.allow(actor); err != nil {
		return nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	now := d.now()
	changed, undoes, also, err := d.with(ctx, actor, s, c, now)
	if err != nil {
		return nil, err
	}
	d.searches.mu.Lock()
	defer d.searches.mu.Unlock()
	if again {
		if old := d.searches.find(c, s.floor, now); old != nil {
			return old, nil
		}
	}
	n := &search{change: c, floor: s.floor, began: now, lines: changed.toPlan(c), done: make(chan struct{})}
	if !d.searches.keep(n) {
		return nil, fault.New(fault.Busy, "", "Several plans are being worked out. Try again in a moment.")
	}
	go d.run(context.WithoutCancel(ctx), n, func(ctx context.Context) (Proposal, error) {
		proposal, err := d.workOut(ctx, changed, c, now, use)
		if err != nil {
			return proposal, err
		}
		proposal.undoes, proposal.What, proposal.Also = undoes, s.words(c, undoes), also
		proposal.Moved, proposal.Shifted = s.moved(changed, proposal.Places)
		proposal.Slips = s.slips(changed, s.places, proposal.Places, now)
		proposal.Before, _, _ = s.ahead(now)
		return proposal, nil
	})
	return n, nil
}

// run works a plan out when a seat is free: searches leave half of the processors
// to the pages. Timing a kept order anew takes no time, and no seat.
func (d *Desk) run(ctx context.Context, n *search, work func(context.Context) (Proposal, error)) {
	if !n.change.keeps() {
		d.searches.seats <- struct{}{}
		defer func() { <-d.searches.seats }()
	}
	began := d.now()
	defer func() {
		if broken := recover(); broken != nil {
			n.err = fmt.Errorf("work out a plan: %v", broken)
		}
		d.searches.mu.Lock()
		defer d.searches.mu.Unlock()
		n.ended = d.now()
		if !n.change.keeps() {
			d.searches.last = SearchReport{Lines: n.lines, Since: began, Took: n.ended.Sub(began)}
		}
		close(n.done)
	}()
	n.proposal, n.err = work(ctx)
}

// find gives the search for a change in the same shop that goes on, or that
// somebody waited for not long ago.
func (l *searches) find(c PlanChange, floor int64, now time.Time) *search {
	for _, n := range l.list {
		if n.floor != floor || !reflect.DeepEqual(n.change, c) {
			continue
		}
		if !n.over() || n.patience && n.err == nil && now.Sub(n.ended) < foundAgain {
			return n
		}
	}
	return nil
}

// keep adds a search in the place of the oldest that is over; false when all go
// on.
func (l *searches) keep(n *search) bool {
	if len(l.list) >= maxSearches {
		i := slices.IndexFunc(l.list, (*search).over)
		if i < 0 {
			return false
		}
		l.list = slices.Delete(l.list, i, i+1)
	}
	l.list = append(l.list, n)
	return true
}

func (n *search) over() bool {
	select {
	case <-n.done:
		return true
	default:
		return false
	}
}

// shown gives the proposal with a stamp that can still be adopted as it was
// shown, the newest first; nil when there is none.
func (l *searches) shown(c PlanChange, stamp int64, now time.Time) *Proposal {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, n := range slices.Backward(l.list) {
		if n.over() && n.err == nil && n.proposal.Stamp == stamp && now.Sub(n.proposal.At) < proposalHolds && reflect.DeepEqual(n.change, c) {
			return &n.proposal
		}
	}
	return nil
}

// asProposed gives the proposal that was shown with a stamp, by this process or by
// another, or works it out anew when it is too old.
func (d *Desk) asProposed(ctx context.Context, actor party.Actor, c PlanChange, stamp int64) (Proposal, error) {
	if shown := d.searches.shown(c, stamp, d.now()); shown != nil {
		return *shown, c.allow(actor)
	}
	return d.proposeUsing(ctx, actor, c, reuse{within: proposalHolds})
}

// CheckChange refuses a change that can't be: nothing is worked out, and faults
// are at the fields of the change.
func (d *Desk) CheckChange(ctx context.Context, actor party.Actor, c PlanChange) error {
	if err := c.allow(actor); err != nil {
		return err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return err
	}
	_, _, _, err = d.with(ctx, actor, s, c, d.now())
	return err
}

// StillHolds refuses a proposal that was worked out too long ago to be adopted.
func (d *Desk) StillHolds(worked time.Time) error {
	if old := d.now().Sub(worked); old >= proposalHolds {
		return fault.Conflictf("this plan was worked out %d minutes ago, and its first runs would start in the past; look at the new one", int(old.Minutes()))
	}
	return nil
}

// toPlan counts the lines that a change plans.
func (s *snapshot) toPlan(c PlanChange) int {
	n := len(s.places)
	if !c.keeps() {
		n += len(s.unplaced())
	}
	return n
}
