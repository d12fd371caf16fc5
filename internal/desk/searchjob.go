package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"time"

	"ribdesk/internal/plan"
	"ribdesk/internal/store"
)

// Where several servers share one database, each search for a plan stands there:
// one server works it out, and whichever is asked next shows how it goes or what
// was found, so that what is adopted at one is what was shown at another. A
// search whose server is gone is begun anew.
const (
	searchBeat  = time.Second     // a server at work says so this often
	searchLease = 5 * time.Second // and is gone when it hasn't for so long
	searchLook  = 200 * time.Millisecond
)

// reuse says which plan that was found before, in this process or another, may be
// shown for the same question: how old it may be, and how long it must have taken.
type reuse struct{ within, took time.Duration }

func (u reuse) allows(old store.PlanSearch, now time.Time) bool {
	return len(old.Result) > 0 && now.Sub(old.Began) < u.within && old.Seen.Sub(old.Began) >= u.took
}

// goesOn reports whether a server is at work on a search.
func goesOn(search store.PlanSearch, now time.Time) bool {
	return len(search.Result) == 0 && now.Sub(search.Seen) <= searchLease
}

// errOther says that a search in the database is none for what is asked.
var errOther = errors.New("this search is for another plan")

// solver gives the best plan for a problem.
type solver func(context.Context, plan.Problem) (plan.Result, error)

// solve looks for the best plan, here.
func solve(ctx context.Context, p plan.Problem) (plan.Result, error) {
	return plan.Solve(ctx, p, plan.Settings{Iterations: planIterations(len(p.Lines)), Seed: 1})
}

// workOut proposes a change with the plan that some server finds or found for the
// same shop, and else works it out.
func (d *Desk) workOut(ctx context.Context, s *snapshot, c PlanChange, now time.Time, use reuse) (Proposal, error) {
	if c.keeps() {
		return s.propose(ctx, c, now, solve)
	}
	key, err := hashed(c)
	if err != nil {
		return Proposal{}, err
	}
	old, found, err := d.searchOf(key)
	if err != nil {
		return Proposal{}, err
	}
	if found && (goesOn(old, now) || use.allows(old, now)) {
		p, err := s.propose(ctx, c, old.Began, d.follow(old))
		if !errors.Is(err, errOther) {
			return p, err
		}
	}
	return s.propose(ctx, c, now, d.lead(key, now))
}

func hashed(v any) (string, error) {
	text, err := json.Marshal(v)
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), err
}

// searchOf reads a search, whatever request it serves.
func (d *Desk) searchOf(key string) (search store.PlanSearch, found bool, err error) {
	err = d.store.Read(context.Background(), func(tx *store.Tx) error {
		search, found, err = tx.PlanSearch(key)
		return err
	})
	return search, found, err
}

// follow waits for the plan that a server works out.
func (d *Desk) follow(search store.PlanSearch) solver {
	return func(ctx context.Context, p plan.Problem) (r plan.Result, err error) {
		if problem, err := hashed(p); err != nil || problem != search.Problem {
			return r, errors.Join(err, errOther)
		}
		for len(search.Result) == 0 {
			if !goesOn(search, d.now()) {
				return r, errOther
			}
			time.Sleep(searchLook)
			again, found, err := d.searchOf(search.Change)
			if err != nil {
				return r, err
			}
			if !found || again.Problem != search.Problem || !again.Began.Equal(search.Began) {
				return r, errOther
			}
			search = again
		}
		return r, json.Unmarshal(search.Result, &r)
	}
}

// lead works a plan out and tells the other servers, as well as that can be: where
// nothing can be written, each looks for itself. The search stands in the database
// under no request: it spends nobody's key.
func (d *Desk) lead(key string, began time.Time) solver {
	return func(ctx context.Context, p plan.Problem) (r plan.Result, err error) {
		search := store.PlanSearch{Change: key, Began: began}
		if search.Problem, err = hashed(p); err != nil {
			return r, err
		}
		d.tellSearch(func(tx *store.Tx) error { return tx.SavePlanSearch(search) })
		func() {
			defer d.beat(search)() // also when it breaks down
			r, err = solve(ctx, p)
		}()
		if err == nil {
			search.Result, err = json.Marshal(r)
		}
		if err != nil {
			d.tellSearch(func(tx *store.Tx) error { return tx.DropPlanSearch(key) })
			return r, err
		}
		d.tellSearch(func(tx *store.Tx) error { return tx.SavePlanSearch(search) })
		return r, nil
	}
}

// beat tells that a search goes on, until it is stopped.
func (d *Desk) beat(search store.PlanSearch) (stop func()) {
	ended, quiet := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(quiet)
		beat := time.NewTicker(searchBeat)
		defer beat.Stop()
		for {
			select {
			case <-ended:
				return
			case <-beat.C:
				d.tellSearch(func(tx *store.Tx) error { return tx.SavePlanSearch(search) })
			}
		}
	}()
	return func() { close(ended); <-quiet }
}

func (d *Desk) tellSearch(write func(*store.Tx) error) {
	ctx := context.Background()
	if err := d.store.Write(ctx, write); err != nil {
		d.log.WarnContext(ctx, "search for a plan not told to other servers", "error", err)
	}
}
