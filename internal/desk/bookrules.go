package desk

import (
	"context"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// BooksRules are the shop's habits about money.
type BooksRules struct {
	LateDays int      `json:"late_days"` // no more on account while anything is later than this
	RemitTo  []string `json:"remit_to"`  // where to pay, as printed; the shop's address when empty
	LateFee  string   `json:"late_fee"`  // printed only where the shop has agreed on one

	// ReturnFee is what a payment that the bank returns usually costs its payer, 0
	// for nothing; each case decides anew.
	ReturnFee money.Amount `json:"return_fee"`
}

// usualBooksRules is where a new shop starts.
func usualBooksRules() BooksRules { return BooksRules{LateDays: 30} }

const booksSetting = "books"

func readBooksRules(tx *store.Tx) (BooksRules, error) {
	rules := usualBooksRules()
	_, err := tx.Setting(booksSetting, &rules)
	return rules, err
}

// Check refuses what can't be rules.
func (r BooksRules) Check() error {
	var l fault.List
	if r.LateDays < 0 || r.LateDays > 365 {
		l.Addf("late_days", "give 0 to 365 days")
	}
	if r.ReturnFee.Sign() < 0 {
		l.Addf("return_fee", "the fee must be above 0, or empty for none")
	}
	if len(r.RemitTo) > 6 {
		l.Addf("remit_to", "use at most 6 lines")
	}
	for _, line := range r.RemitTo {
		if len([]rune(line)) > 120 {
			l.Addf("remit_to", "use at most 120 characters a line")
		}
	}
	if len([]rune(r.LateFee)) > 120 {
		l.Addf("late_fee", "use at most 120 characters")
	}
	return l.Err()
}

// BooksRules gives the shop's habits about money and their version.
func (d *Desk) BooksRules(ctx context.Context) (r BooksRules, version int64, err error) {
	r = usualBooksRules()
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		version, err = tx.Setting(booksSetting, &r)
		return err
	})
	return r, version, err
}

// SaveBooksRules changes the shop's habits about money.
func (d *Desk) SaveBooksRules(ctx context.Context, actor party.Actor, r BooksRules, seen int64) error {
	if err := keepsBooks(actor); err != nil {
		return err
	}
	var kept []string
	for _, line := range r.RemitTo {
		if line = strings.TrimSpace(line); line != "" {
			kept = append(kept, line)
		}
	}
	r.RemitTo, r.LateFee = kept, strings.TrimSpace(r.LateFee)
	if err := r.Check(); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return tx.SaveSetting(actor, booksSetting, r, seen) })
}
