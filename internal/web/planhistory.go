package web

import (
	"time"

	"ribdesk/internal/desk"
)

// historyPage is what was done to the plan, and by whom.
type historyPage struct {
	Base
	Entries []desk.PlanEntry
	zone    *time.Location
}

func (historyPage) file() string { return "plan-history" }

// Time writes a moment as the lists have it.
func (p *historyPage) Time(t time.Time) string { return planTime(t, p.zone) }

// What is an entry as a sentence.
func (*historyPage) What(e desk.PlanEntry) string { return sentence(e.What) }

func showPlanHistory(v *visit) error {
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	p := &historyPage{
		Base: Base{Title: "What was done to the plan", Sheet: "Run plan", Tabs: v.planTabs("History"), Block: Block{Thing: "Run plan", State: "history"}},
		zone: seller.Location(),
	}
	if p.Entries, err = v.desk.PlanHistory(v.ctx(), v.actor); err != nil {
		return err
	}
	return v.show(p)
}
