package demo

import (
	"context"

	"ribdesk/internal/party"
)

// planFloor puts the work on a day's orders on the agenda, from the plan in the
// morning to the money in the afternoon.
func (l *life) planFloor(day int) {
	l.plan(l.at(day, 6, 50), l.replan)
	l.plan(l.at(day, 12, 30), l.replan)
}

// replan is the owner's look at the plan: the best one found is adopted.
func (l *life) replan(ctx context.Context) error {
	proposal, err := l.ProposePlan(ctx, l.as(party.Owner))
	if err != nil || len(proposal.Moved) == 0 {
		return err
	}
	_, err = l.AdoptPlan(ctx, l.as(party.Owner), proposal.Stamp)
	return err
}
