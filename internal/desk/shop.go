package desk

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

const sellerSetting = "seller"

// Seller gives the shop's own settings and their version.
func (d *Desk) Seller(ctx context.Context) (party.Seller, int64, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return party.Seller{}, 0, err
	}
	return s.seller, s.sellerVersion, nil
}

// SaveSeller changes the shop's own settings.
func (d *Desk) SaveSeller(ctx context.Context, actor party.Actor, s party.Seller, seen int64) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	if err := s.Check(); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return tx.SaveSetting(actor, sellerSetting, s, seen) })
}

// Shelf gives every item of a kind, retired ones last.
func Shelf[T stock.Item](ctx context.Context, d *Desk) (items []store.Shelved[T], err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		items, err = store.Shelf[T](tx)
		return err
	})
	return items, err
}

// FromShelf gives one item with its version.
func FromShelf[T stock.Item](ctx context.Context, d *Desk, code string) (item store.Shelved[T], err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		item, err = store.FromShelf[T](tx, code)
		return err
	})
	return item, err
}

// PutOnShelf adds (id 0) or changes an item of the catalogue.
func PutOnShelf[T stock.Item](ctx context.Context, d *Desk, actor party.Actor, item store.Shelved[T]) (saved store.Shelved[T], err error) {
	if err := allow(actor, party.Owner); err != nil {
		return item, err
	}
	if err := item.Item.Check(); err != nil {
		return item, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		saved, err = store.PutOnShelf(tx, actor, item)
		return err
	})
	return saved, err
}

// Rates gives what things cost and earn today, and since when.
func (d *Desk) Rates(ctx context.Context) (price.Shop, string, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return price.Shop{}, "", err
	}
	return s.rates, s.ratesFrom, nil
}

// RateSheets gives all sheets, past and to come, the newest first.
func (d *Desk) RateSheets(ctx context.Context) (sheets []store.RateSheet, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		sheets, err = tx.RateSheets()
		return err
	})
	return sheets, err
}

// SetRates adds a sheet of rates that holds from a day on. The sheets before it
// stay: an old price replays from its own stored inputs.
func (d *Desk) SetRates(ctx context.Context, actor party.Actor, rates price.Shop, from time.Time, note string) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	rates.Stock = nil // metals come from supplies and coils, order by order
	if err := rates.Check(); err != nil {
		return err
	}
	body, err := json.Marshal(rates)
	if err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		_, err := tx.AddRates(actor, store.RateSheet{Effective: from.Format(time.DateOnly), Body: body, Note: note})
		return err
	})
}

// StaleCost is a cost of the catalogue that is older than the shop allows.
type StaleCost struct {
	Shelf string // supplies or accessories
	Code  string
	Name  string
	Day   string
	Age   int // days
}

// usualStaleDays is when a cost is old where the rates don't say.
const usualStaleDays = 90

// StaleCosts gives the supplies and accessories whose cost nobody looked at for
// longer than the rates' policy allows, the oldest first.
func (d *Desk) StaleCosts(ctx context.Context, actor party.Actor) ([]StaleCost, error) {
	if err := allow(actor, party.Owner); err != nil {
		return nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	limit := s.rates.Policy.StaleDays
	if limit == 0 {
		limit = usualStaleDays
	}
	today := dayStart(d.now(), s.seller.Location())
	var list []StaleCost
	note := func(shelf, code, name, day string) {
		dated, err := time.Parse(time.DateOnly, day)
		if err != nil {
			return // no day was given: nothing to count from
		}
		if age := int(today.Sub(dated).Hours() / 24); age > limit {
			list = append(list, StaleCost{shelf, code, name, day, age})
		}
	}
	for _, sup := range s.supplies {
		note("supplies", sup.Code, sup.Name, sup.CostDay)
	}
	for _, a := range byCode(s.accessories) {
		note("accessories", a.Code, a.Name, a.CostDay)
	}
	slices.SortStableFunc(list, func(a, b StaleCost) int { return b.Age - a.Age })
	return list, nil
}
