package drill_test

import (
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/store"
)

// F16: the clock goes back an hour, forward a day, and over both nights on which
// it is set; the order of the log stays, due dates are the calendar's, and every
// invariant holds.
func TestClockJumps(t *testing.T) {
	url := sqliteShop(t, t.TempDir())
	clock := demo.NewClock(time.Now())
	d, s := open(t, url, desk.Options{Now: clock.Now})
	zone, err := time.LoadLocation(demo.Zone)
	if err != nil {
		t.Fatal(err)
	}
	// Daylight time runs from the second Sunday of March to the first of November
	// (15 U.S.C. 260a); the clock is set at 2:00.
	year, noon := time.Now().Year()+1, time.Now().In(zone)
	moments := []time.Time{
		noon, noon.Add(-time.Hour), noon.AddDate(0, 0, 1), noon.Add(-time.Hour),
		sunday(year, time.March, 2, zone).Add(-time.Minute), sunday(year, time.March, 2, zone).Add(time.Minute),
		sunday(year, time.November, 1, zone).Add(-time.Minute), sunday(year, time.November, 1, zone).Add(2 * time.Hour),
	}
	for _, now := range moments {
		clock.Set(now)
		bill, err := d.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: delivered(t, d)})
		if err != nil {
			t.Fatalf("at %s: %v", now, err)
		}
		// Paid at once: what is past due would rightly stop the next order.
		if _, err := d.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: firm, Amount: bill.Invoice.AmountDue, Method: books.ByCheck, Reference: "1"}); err != nil {
			t.Fatalf("at %s: %v", now, err)
		}
		y, m, day := now.In(zone).Date()
		want := time.Date(y, m, day+bill.Invoice.Terms.NetDays, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
		if got := bill.Invoice.Due.Format(time.DateOnly); got != want {
			t.Errorf("at %s: due %s, want %s", now.In(zone), got, want)
		}
	}
	err = s.Read(t.Context(), func(tx *store.Tx) error { _, _, err := tx.VerifyEvents(); return err })
	if err != nil {
		t.Error(err)
	}
	verify(t, url)
	figures.add("F16 clock jumps", "order kept, due dates right", "%d jumps, %d invoices due on the right day, verify clean", len(moments)-1, len(moments))
}

// sunday gives the n-th Sunday of a month, two hours after its midnight.
func sunday(year int, month time.Month, n int, zone *time.Location) time.Time {
	first := time.Date(year, month, 1, 0, 0, 0, 0, zone)
	return first.AddDate(0, 0, (7-int(first.Weekday()))%7+7*(n-1)).Add(2 * time.Hour)
}
