package desk_test

import (
	"strings"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// After a restore of yesterday's backup the desk goes on behind the numbers that
// somebody has on paper; verify knows why some are missing, and for no others.
func TestSkipNumbers(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		ctx := t.Context()
		w.invoice(t, w.delivered(t, rivalFirm, 1).ID) // INV-00001, order 1001, ticket T1001
		for _, wrong := range []struct {
			number, reason string
			kind           fault.Kind
		}{
			{"INV-00001", "lost", fault.Conflict}, {"INV-00000", "lost", fault.Invalid}, {"INV-99999", "lost", fault.Invalid}, {"INV-7", "lost", fault.Invalid},
			{"1001", "lost", fault.Conflict}, {"Z1", "lost", fault.Invalid}, {"", "lost", fault.Invalid}, {"INV-00007", " ", fault.Invalid},
		} {
			if _, err := w.SkipNumbers(ctx, boss, []string{wrong.number}, wrong.reason); !fault.Is(err, wrong.kind) {
				t.Errorf("%q because %q: %v", wrong.number, wrong.reason, err)
			}
		}
		if _, err := w.SkipNumbers(ctx, keeper, []string{"INV-00007"}, "lost"); !fault.Is(err, fault.Denied) {
			t.Errorf("the bookkeeper: %v", err)
		}
		if _, err := w.SkipNumbers(ctx, boss, []string{"INV-00007", "Z1"}, "lost"); err == nil {
			t.Error("half of it was done")
		}
		skipped := must[[]desk.Skipped](t)(w.SkipNumbers(ctx, boss, []string{"INV-00007", "1010", "T1004"}, "disk lost on March 3"))
		if len(skipped) != 3 || skipped[0] != (desk.Skipped{First: "INV-00002", Last: "INV-00007", Count: 6}) || skipped[1].First != "1002" {
			t.Errorf("skipped %+v", skipped)
		}
		o := w.delivered(t, rivalFirm, 1)
		if bill := w.invoice(t, o.ID); o.Number != "1011" || bill.Invoice.Number != "INV-00008" {
			t.Errorf("it goes on with order %s and invoice %s", o.Number, bill.Invoice.Number)
		}
		if wrong := verified(t, w.Desk)["numbers"].Wrong; len(wrong) > 0 {
			t.Errorf("verify: %v", wrong)
		}
	})
}

func TestVerifyFindsDamageAroundGaps(t *testing.T) {
	w := newWorks(t)
	w.invoice(t, w.delivered(t, rivalFirm, 1).ID)
	must[[]desk.Skipped](t)(w.SkipNumbers(t.Context(), boss, []string{"INV-00007"}, "lost"))
	w.findsDamages(t, []damage{
		{"a number that was skipped is there", []string{"UPDATE number_gaps SET first = 1"}, "numbers", "INV-00001 was skipped, and is there"},
		{"a gap is shorter", []string{"UPDATE number_gaps SET last = 5"}, "numbers", "number 6 of the series “INV-”"},
		{"a gap is gone", []string{"DELETE FROM number_gaps"}, "numbers", "number 2 of the series “INV-”"},
	})
}

// Of several servers on one database any may be asked to make the first account,
// with the code that any of them wrote to its log; once, and within a day.
func TestSetupCodeOfAnotherServer(t *testing.T) {
	storetest.Each(t, func(t *testing.T, store *store.Store) {
		now := time.Date(2026, 3, 2, 14, 0, 0, 0, time.UTC)
		clock := func() time.Time { return now }
		one, other := desk.New(store, desk.Options{Now: clock}), desk.New(store, desk.Options{Now: clock})
		code := must[string](t)(one.OfferSetup(t.Context()))
		if code == other.SetupCode() {
			t.Fatal("two servers have one code")
		}
		must[string](t)(other.OfferSetup(t.Context()))
		now = now.Add(25 * time.Hour)
		_, err := other.FirstOwner(t.Context(), code, "Ann", "ann@example.com", goodPassword)
		wantFault(t, err, fault.Invalid, "code")
		must[string](t)(one.OfferSetup(t.Context()))
		if _, err := other.FirstOwner(t.Context(), strings.ToLower(code), "Ann", "ann@example.com", goodPassword); err != nil {
			t.Fatal(err)
		}
		_, err = desk.New(store, desk.Options{Now: clock}).FirstOwner(t.Context(), code, "Bo", "bo@example.com", goodPassword)
		wantFault(t, err, fault.Invalid, "code") // nobody's any more
	})
}
