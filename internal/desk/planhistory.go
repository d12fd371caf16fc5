package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// PlanEntry is a line of the plan's history: what was done, when and by whom.
type PlanEntry struct {
	At       time.Time
	By       string
	What     string
	Adoption *order.Adoption // nil for what was done without a new plan
}

// planEntries is how far back the history goes on its page.
const planEntries = 60

// PlanHistory gives what was adopted and taken back, and what people did to the
// plan by themselves: runs held and let go, time taken and given back. The newest
// comes first.
func (d *Desk) PlanHistory(ctx context.Context, actor party.Actor) (out []PlanEntry, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		adoptions, err := tx.Adoptions(planEntries)
		if err != nil {
			return err
		}
		along := map[time.Time]bool{} // what came along with an adopted plan stands in its line
		for _, a := range adoptions {
			out = append(out, PlanEntry{At: a.At, By: a.By, What: a.What, Adoption: &a})
			along[a.At] = true
			along[a.UndoneAt] = true
		}
		events, err := tx.PlanEvents(planEntries)
		if err != nil {
			return err
		}
		for i, e := range events {
			if along[e.At] {
				continue
			}
			what, err := s.eventWords(tx, e, events[i+1:])
			if err != nil {
				return err
			}
			out = append(out, PlanEntry{At: e.At, By: e.PersonName, What: what})
		}
		return nil
	})
	slices.SortStableFunc(out, func(a, b PlanEntry) int { return b.At.Compare(a.At) })
	return out[:min(len(out), planEntries)], err
}

// eventWords says what an event was; earlier are those before it, the newest
// first.
func (s *snapshot) eventWords(tx *store.Tx, e store.Event, earlier []store.Event) (string, error) {
	switch e.Action {
	case "pinned", "let go":
		how := map[string]string{"pinned": "held where it stood", "let go": "let go"}[e.Action]
		o, err := tx.OrderOfLine(e.SubjectID)
		if fault.Is(err, fault.NotFound) {
			return "a run " + how, nil // its order was changed since
		}
		if err != nil {
			return "", err
		}
		code := ""
		for _, l := range o.Lines {
			if l.ID == e.SubjectID {
				code = l.Code
			}
		}
		return fmt.Sprintf("the run of %s, order %s, %s", code, o.Number, how), nil
	case "blocked time":
		if b, ok := store.BlockIn(e); ok {
			return s.blockWords(b), nil
		}
	}
	if b, ok := blockBefore(e, earlier); ok {
		return "given back: " + s.blockWords(b), nil
	}
	return "time given back", nil
}

func blockBefore(e store.Event, earlier []store.Event) (stock.Block, bool) {
	for _, old := range earlier {
		if old.SubjectKind == e.SubjectKind && old.SubjectID == e.SubjectID {
			return store.BlockIn(old)
		}
	}
	return stock.Block{}, false
}
