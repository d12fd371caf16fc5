package store_test

import (
	"path/filepath"
	"strconv"
	"testing"

	"gorm.io/gorm"

	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// A write with a row and its line in the log, against gorm inserting two such
// rows in a transaction with the same durability and nothing else.
func BenchmarkWrite(b *testing.B) {
	b.Run("desk", func(b *testing.B) {
		s := storetest.Open(b)
		for b.Loop() {
			err := s.Write(b.Context(), func(tx *store.Tx) error {
				c := party.Customer{Name: "Ridge"}
				if err := tx.AddCustomer(&c); err != nil {
					return err
				}
				return tx.Log(ann, "added", "customer", c.ID, nil)
			})
			if err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("bare", func(b *testing.B) {
		db := store.Writer(storetest.Open(b))
		type row struct {
			ID   int64
			Name string
		}
		if err := db.Exec("CREATE TABLE rows (id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT)").Error; err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			err := db.Transaction(func(tx *gorm.DB) error {
				if err := tx.Create(&row{Name: "Ridge"}).Error; err != nil {
					return err
				}
				return tx.Create(&row{Name: "Ridge"}).Error
			})
			if err != nil {
				b.Fatal(err)
			}
		}
	})
}

// The backup of a database of 10,000 customers, while nobody waits.
func BenchmarkBackup(b *testing.B) {
	s := storetest.Open(b)
	err := s.Write(b.Context(), func(tx *store.Tx) error {
		for range 10_000 {
			c := customer("Ridge")
			if err := tx.AddCustomer(&c); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	dir := b.TempDir()
	for n := 0; b.Loop(); n++ {
		if err := s.Backup(b.Context(), filepath.Join(dir, strconv.Itoa(n))); err != nil {
			b.Fatal(err)
		}
	}
}
