package desk

import (
	"context"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// mostSkipped bounds a gap: more is a slip in a number.
const mostSkipped = 10_000

// Skipped is a run of numbers that were passed over.
type Skipped struct {
	First, Last string // as they stand on paper
	Count       int64
}

// skippable are the series whose numbers customers hold in their hands.
var skippable = []numbering{
	orderNumbers, loadNumbers, ticketNumbers,
	bookNumbers(invoicePrefix), bookNumbers(memoPrefix), bookNumbers(statementPrefix), bookNumbers(paymentPrefix),
	bookNumbers(financePrefix), bookNumbers(retentionPrefix), bookNumbers(returnFeePrefix), bookNumbers(refundPrefix),
}

// SkipNumbers passes over numbers that were handed out by a database that is lost:
// after yesterday's backup was restored, today's would be given again. seen holds
// the highest number of each series that is on paper. Each gap is kept with its
// reason, so that what isn't there is explained for good. Owners do that, or
// whoever runs the machine.
func (d *Desk) SkipNumbers(ctx context.Context, actor party.Actor, seen []string, reason string) (skipped []Skipped, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return nil, err
	}
	if reason = strings.TrimSpace(reason); reason == "" {
		return nil, fault.Invalidf("reason", "say why these numbers are gone")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		skipped = nil
		for _, number := range seen {
			s, err := skipPast(tx, actor, strings.TrimSpace(number), reason)
			if err != nil {
				return err
			}
			skipped = append(skipped, s)
		}
		return nil
	})
	return skipped, err
}

// skipPast moves the series of one number past it.
func skipPast(tx *store.Tx, actor party.Actor, number, reason string) (out Skipped, err error) {
	next, err := tx.NextNumbers()
	if err != nil {
		return out, err
	}
	for _, s := range skippable {
		n, ok := s.read(number)
		if !ok || n < 1 {
			continue
		}
		first := max(1, next[s.series])
		switch {
		case n < first:
			return out, fault.Conflictf("%s isn't beyond what this database gave; it goes on with %s", number, s.write(first))
		case n-first >= mostSkipped:
			return out, fault.Invalidf("number", "%s is %d numbers ahead; that looks like a slip", number, n-first+1)
		}
		if err := tx.SkipNumbers(store.NumberGap{Series: s.series, First: first, Last: n, Reason: reason, MadeBy: actor.Name}); err != nil {
			return out, err
		}
		out = Skipped{First: s.write(first), Last: number, Count: n - first + 1}
		return out, tx.Log(actor, "skipped numbers", "series", 0, map[string]any{"from": out.First, "to": out.Last, "reason": reason})
	}
	return out, fault.Invalidf("number", "“%s” is no number of an order, load, ticket, invoice, credit memo, statement or payment", number)
}

// skippedOf gives, for each series, which numbers were passed over.
func skippedOf(tx *store.Tx) (map[string]map[int64]bool, error) {
	gaps, err := tx.NumberGaps()
	out := map[string]map[int64]bool{}
	for _, g := range gaps {
		if out[g.Series] == nil {
			out[g.Series] = map[int64]bool{}
		}
		for n := g.First; n <= g.Last; n++ {
			out[g.Series][n] = true
		}
	}
	return out, err
}
