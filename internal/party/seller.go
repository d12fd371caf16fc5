package party

import (
	"sync"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Seller is the shop itself: what its papers say of it and the habits that
// belong to the house rather than to a machine or a price.
type Seller struct {
	Name         string         `json:"name"`
	Legal        string         `json:"legal"`        // legal name on papers
	Registration string         `json:"registration"` // legal registration id
	TaxNumber    string         `json:"tax_number"`
	Address      Address        `json:"address"`
	Phone        string         `json:"phone"`
	Email        string         `json:"email"`
	Zone         string         `json:"zone"` // IANA name
	Currency     money.Currency `json:"currency"`
	Style        measure.Style  `json:"style"` // how lengths are written
	Unit         measure.Unit   `json:"unit"`  // what a bare number means
	Sheet        string         `json:"sheet"` // "Letter" or "A4"
	QuoteDays    int            `json:"quote_days"`
	Terms        string         `json:"terms"`         // printed on quotes
	TermsVersion string         `json:"terms_version"` // named in an acceptance
	FrozenHours  int            `json:"frozen_hours"`  // the plan stays as it is this far ahead
	ReadyHours   int            `json:"ready_hours"`   // from the last cut to ready for pick-up or load
	LateCents    int64          `json:"late_cents"`    // value of a minute late, for the plan
	BundlePounds int            `json:"bundle_pounds"` // heaviest bundle
	Cancelling   string         `json:"cancelling"`    // note printed with a shared-set-up price
	Cutting      Cutting        `json:"cutting"`
}

// UsualSeller is where a new shop starts.
func UsualSeller() Seller {
	return Seller{
		Name: "The shop", Legal: "The shop", Zone: "America/Chicago", Currency: money.USD, Address: Address{Country: "US"},
		Style: measure.StyleFeetInches, Unit: measure.Inches, Sheet: "Letter", QuoteDays: 15, FrozenHours: 4, ReadyHours: 2, LateCents: 5,
		BundlePounds: 2000, TermsVersion: "1", Cutting: UsualCutting(),
		Terms: "Cut to length: no cancellation or return once cutting has begun. Prices follow coil cost until accepted. The customer checks lengths and quantities; fasteners, sealant, engineering and installation are not included unless listed.",
	}
}

// MaxQuoteDays is how long a quote may stay open: a firm offer between
// merchants can't be held for more than three months (UCC 2-205).
const MaxQuoteDays = 90

// Location gives the shop's time zone; UTC when the name isn't known.
func (s Seller) Location() *time.Location {
	if l, ok := zones.Load(s.Zone); ok {
		return l.(*time.Location)
	}
	l, err := time.LoadLocation(s.Zone)
	if err != nil {
		return time.UTC
	}
	zones.Store(s.Zone, l)
	return l
}

// zones keeps the time zones that were loaded: they lie in files, and every date
// on a page asks for one.
var zones sync.Map

// Check refuses what can't be a shop.
func (s Seller) Check() error {
	var l fault.List
	checkText(&l, "name", s.Name, 1, 80)
	checkText(&l, "legal", s.Legal, 1, 120)
	if _, err := time.LoadLocation(s.Zone); err != nil || s.Zone == "" {
		l.Addf("zone", "“%s” isn't a time zone; write it like America/Chicago", s.Zone)
	}
	if len(s.Currency) != 3 {
		l.Addf("currency", "give the currency as three letters, like USD")
	}
	if s.Sheet != "Letter" && s.Sheet != "A4" {
		l.Addf("sheet", "choose Letter or A4")
	}
	if s.QuoteDays < 1 || s.QuoteDays > MaxQuoteDays {
		l.Addf("quote_days", "a quote stays open 1 to %d days: a firm offer can't be held longer than three months", MaxQuoteDays)
	}
	if s.FrozenHours < 0 || s.FrozenHours > 14*24 {
		l.Addf("frozen_hours", "give 0 to 336 hours")
	}
	if s.ReadyHours < 0 || s.ReadyHours > 14*24 {
		l.Addf("ready_hours", "give 0 to 336 hours")
	}
	if s.LateCents < 0 || s.LateCents > 10_000 {
		l.Addf("late_cents", "give 0 to 10,000 cents")
	}
	if s.BundlePounds < 50 || s.BundlePounds > 20_000 {
		l.Addf("bundle_pounds", "give 50 to 20,000 lb")
	}
	s.Cutting.check(&l)
	return l.Err()
}
