package web_test

import (
	"strings"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// The counter hears how a customer stands while asking, before anything is kept;
// the customer and a visitor hear nothing of it.
func TestCounterSaysHowTheCustomerStands(t *testing.T) {
	site := webtest.Furnished(t)
	change := func(do func(*party.Customer)) party.Customer {
		t.Helper()
		f, err := site.Desk.CustomerFile(t.Context(), site.Owner, 1)
		if err != nil {
			t.Fatal(err)
		}
		do(&f.Customer)
		c, err := site.Desk.ChangeCustomer(t.Context(), site.Owner, f.Customer)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	c := change(func(c *party.Customer) { c.CreditLimit, c.Terms.NetDays = money.Cents(1_000_000, money.USD), 30 })
	counter := site.As(t, party.Counter)
	slip := func() string {
		t.Helper()
		values := ask(seam, charcoal, "4 @ 12 ft")
		values.Set("customer", c.Name)
		return priced(t, counter, values).Want(200).Text("#slip")
	}
	if got := slip(); !strings.Contains(got, "Credit used $0.00 of $10,000.00") || !strings.Contains(got, "Left after this $9,") || strings.Contains(got, "Can't buy") {
		t.Errorf("with room: %s", got)
	}
	change(func(c *party.Customer) { c.CreditLimit = money.Cents(100, money.USD) })
	if got := slip(); !strings.Contains(got, "Can't buy this on account: over the credit limit of $1.00") || !strings.Contains(got, "Left after this -$") {
		t.Errorf("beyond the limit: %s", got)
	}
	change(func(c *party.Customer) { c.Hold, c.HoldReason = true, "two checks came back" })
	if got := slip(); !strings.Contains(got, "on hold: two checks came back") {
		t.Errorf("on hold: %s", got)
	}
	for _, role := range []party.Role{party.Buyer, party.Visitor} {
		if got := priced(t, site.As(t, role), ask(seam, charcoal, "4 @ 12 ft")).Want(200).Text("#slip"); strings.Contains(got, "redit") || strings.Contains(got, "hold:") {
			t.Errorf("%s hears: %s", role, got)
		}
	}
	orders, err := site.Desk.Orders(t.Context(), site.Owner, desk.OrderFilter{})
	if err != nil || len(orders) != 0 {
		t.Errorf("asking kept %d orders: %v", len(orders), err)
	}
}
