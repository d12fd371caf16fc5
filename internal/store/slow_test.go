package store_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// Slow statements are told of as they are, but without the values in them.
func TestSlowStatements(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := customer("Secret Roofing")
		write(t, s, func(tx *store.Tx) error { return tx.AddCustomer(&c) })
		var told []string
		s.Slow(1, func(_ context.Context, took time.Duration, statement string) {
			if took <= 0 {
				t.Errorf("took %s", took)
			}
			told = append(told, statement)
		})
		write(t, s, func(tx *store.Tx) error {
			c.Name = "Private Roofing"
			return tx.ChangeCustomer(&c)
		})
		read(t, s, func(tx *store.Tx) error { _, err := tx.Customers("secret", 0, 10); return err })
		all := strings.Join(told, "\n")
		for _, want := range []string{"UPDATE", "SELECT", "customers"} {
			if !strings.Contains(all, want) {
				t.Errorf("no %s among %s", want, all)
			}
		}
		if strings.Contains(strings.ToLower(all), "secret") || strings.Contains(all, "Private") {
			t.Errorf("values are told: %s", all)
		}
		told = nil
		s.Slow(time.Hour, func(context.Context, time.Duration, string) { t.Error("told of a quick statement") })
		read(t, s, func(tx *store.Tx) error { _, err := tx.Customer(c.ID); return err })
	})
}
