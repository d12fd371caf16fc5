package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"sort"
	"sync"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// snapshot is everything an answer at the counter needs, read at one moment:
// the house's habits, rates, catalogue, coils, calendar and run plan. It is
// never changed once made, so any number of answers share one.
type snapshot struct {
	stamp int64 // id of the last event when it was read
	floor int64 // the stamp at which coils, orders and plan were last read
	day   string

	seller        party.Seller
	sellerVersion int64

	lifting        load.Lift // how pieces are lifted in this shop
	liftingVersion int64
	liftLimit      load.LiftLimit
	rates          price.Shop
	ratesFrom      string

	materials   map[string]stock.Material
	colours     map[string]stock.Colour
	profiles    map[string]stock.Profile
	shapes      map[string]stock.Shape
	accessories map[string]stock.Accessory
	vehicles    map[string]stock.Vehicle
	machines    []stock.Machine
	supplies    []stock.Supply

	minuteCents, footCents int64 // what changeover time and scrap cost a plan

	choices   []MetalChoice // what can be asked for, of any product
	metalsFor *sync.Map     // of them those of a product, as they were asked for
	coils     []stock.Coil
	blocks    []stock.Block
	places    []order.Placed                // not done, by machine and sequence
	open      []order.Order                 // accepted and planned, with their lines
	lines     map[int64]plannedLine         // the lines of open, by id
	promises  map[int64][]order.Reservation // coil promised to lines
	blanks    []order.SheetBlank            // pieces promised from sheets
	piles     []stock.Pile
	made      map[int64]map[int64]int // pieces made of a begun line, by row of its cut list

	seats *seats // shared by the snapshots that follow each other
}

// plannedLine is a line with the order it belongs to.
type plannedLine struct {
	order.Line
	of *order.Order
}

// snapshotNow gives a snapshot that is true at this moment. Every write leaves an
// event in the log, in the same transaction; so as long as the last event is the
// same, and it is the same day, the one read before is still true, in this
// process and in any other. Where there are newer events, they tell what must be
// read again.
func (d *Desk) snapshotNow(ctx context.Context) (s *snapshot, err error) {
	var stamp int64
	err = d.store.Glance(ctx, func(tx *store.Tx) error {
		stamp, err = tx.Stamp()
		return err
	})
	if s = d.snap.Load(); err != nil || s.holds(stamp, d.now()) {
		return s, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		s, err = d.snapshotIn(tx)
		return err
	})
	return s, err
}

// snapshotIn is snapshotNow where something else is read at the same moment.
func (d *Desk) snapshotIn(tx *store.Tx) (*snapshot, error) {
	stamp, err := tx.Stamp()
	if err != nil {
		return nil, err
	}
	fresh, err := d.snap.Load().renewed(tx, stamp, d.now())
	if err != nil {
		return nil, err
	}
	d.snap.Store(fresh)
	return fresh, nil
}

// renewed gives the snapshot as it is at a stamp: itself, or a copy with the
// part read again that newer events touch. A snapshot is never written to: any
// number of answers share it.
func (s *snapshot) renewed(tx *store.Tx, stamp int64, now time.Time) (*snapshot, error) {
	if s.holds(stamp, now) {
		return s, nil
	}
	touched := everythingRead
	if s != nil && s.day == s.dayOf(now) && s.stamp < stamp {
		events, err := tx.Since(s.stamp)
		if err != nil {
			return nil, err
		}
		touched = touchedBy(events)
	}
	if touched == everythingRead {
		fresh, err := readSnapshot(tx, now)
		if err == nil {
			fresh.stamp, fresh.floor = stamp, stamp
		}
		return fresh, err
	}
	fresh := *s
	fresh.stamp = stamp
	if touched == theFloor {
		fresh.floor = stamp
		return &fresh, fresh.readFloor(tx, now)
	}
	return &fresh, nil
}

// holds reports whether the snapshot is still true at a stamp and a time.
func (s *snapshot) holds(stamp int64, now time.Time) bool {
	return s != nil && s.stamp == stamp && s.day == s.dayOf(now)
}

// part is what of a snapshot an event makes untrue, the larger the more.
type part int

const (
	nothing part = iota
	theFloor
	everythingRead
)

// asking are the steps of an order before it is accepted, and its early ends:
// such orders aren't in a snapshot. An order that is reopened becomes a draft.
var asking = map[string]bool{
	"asked": true, "changed": true, "revoked link": true, "sent mail again": true,
	string(order.Draft): true, string(order.Quoted): true, string(order.Declined): true, string(order.Lapsed): true,
}

// touchedBy gives the largest part that one of the events makes untrue.
func touchedBy(events []store.Happened) part {
	touched := nothing
	for _, e := range events {
		touched = max(touched, partTouched(e))
	}
	return touched
}

// partTouched errs on the side of reading too much.
func partTouched(e store.Happened) part {
	switch e.SubjectKind {
	case "person", "customer", "paper", "load", "stop", "invoice", "memo", "payment", "take-off", "quiet address":
		return nothing
	case "order":
		if asking[e.Action] {
			return nothing
		}
		return theFloor
	case "coil", "pile", "plan", "block":
		return theFloor
	}
	return everythingRead
}

func (s *snapshot) dayOf(t time.Time) string { return dayIn(t, s.seller.Location()) }

func dayIn(t time.Time, zone *time.Location) string { return t.In(zone).Format(time.DateOnly) }

func readSnapshot(tx *store.Tx, now time.Time) (*snapshot, error) {
	s := &snapshot{seller: party.UsualSeller(), seats: &seats{}}
	var err error
	if s.sellerVersion, err = tx.Setting(sellerSetting, &s.seller); err != nil {
		return nil, err
	}
	if err := s.readLifting(tx); err != nil {
		return nil, err
	}
	s.day = s.dayOf(now)
	if err := s.readRates(tx); err != nil {
		return nil, err
	}
	if err := s.readShelves(tx); err != nil {
		return nil, err
	}
	s.minuteCents, s.footCents = s.costOfMinute(), s.costOfFoot()
	return s, s.readFloor(tx, now)
}

// readRates reads the sheet in force; a shop without one can't price, and says
// so when asked to.
func (s *snapshot) readRates(tx *store.Tx) error {
	sheet, err := tx.RatesOn(s.day)
	if fault.Is(err, fault.NotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	s.ratesFrom = sheet.Effective
	if err := json.Unmarshal(sheet.Body, &s.rates); err != nil {
		return fmt.Errorf("rates of %s: %w", sheet.Effective, err)
	}
	return nil
}

func (s *snapshot) readShelves(tx *store.Tx) (err error) {
	if s.materials, err = current[stock.Material](tx); err != nil {
		return err
	}
	if s.colours, err = current[stock.Colour](tx); err != nil {
		return err
	}
	if s.profiles, err = current[stock.Profile](tx); err != nil {
		return err
	}
	if s.shapes, err = current[stock.Shape](tx); err != nil {
		return err
	}
	if s.accessories, err = current[stock.Accessory](tx); err != nil {
		return err
	}
	if s.vehicles, err = current[stock.Vehicle](tx); err != nil {
		return err
	}
	machines, err := current[stock.Machine](tx)
	if err != nil {
		return err
	}
	s.machines = byCode(machines)
	supplies, err := current[stock.Supply](tx)
	if err != nil {
		return err
	}
	s.supplies = byCode(supplies)
	return nil
}

func (s *snapshot) readFloor(tx *store.Tx, now time.Time) (err error) {
	if s.coils, err = tx.Coils(); err != nil {
		return err
	}
	s.choices, s.metalsFor = s.metals(), &sync.Map{}
	if s.blocks, err = tx.Blocks(now.AddDate(0, 0, -1)); err != nil {
		return err
	}
	if s.places, err = tx.Plan(); err != nil {
		return err
	}
	s.open, err = tx.Orders(store.OrderFilter{States: []order.State{order.Accepted, order.Planned}, Lines: true, Oldest: true, Limit: maxOpenOrders})
	if err != nil {
		return err
	}
	s.lines = map[int64]plannedLine{}
	var ids []int64
	for i := range s.open {
		for _, l := range s.open[i].Lines {
			s.lines[l.ID] = plannedLine{l, &s.open[i]}
			ids = append(ids, l.ID)
		}
	}
	return s.readMetal(tx, ids)
}

// readMetal reads which coils are promised to the open lines, and what is made
// of those that have begun.
func (s *snapshot) readMetal(tx *store.Tx, ids []int64) error {
	s.promises, s.made, s.blanks = map[int64][]order.Reservation{}, map[int64]map[int64]int{}, nil
	var err error
	if s.piles, err = tx.Piles(); err != nil || len(ids) == 0 {
		return err
	}
	if len(s.piles) > 0 {
		if s.blanks, err = tx.SheetBlanks(ids...); err != nil {
			return err
		}
	}
	promises, err := tx.Reservations(ids...)
	if err != nil {
		return err
	}
	for _, r := range promises {
		s.promises[r.LineID] = append(s.promises[r.LineID], r)
	}
	var begun []int64
	for _, p := range s.places {
		if !p.BegunAt.IsZero() {
			begun = append(begun, p.LineID)
		}
	}
	if len(begun) == 0 {
		return nil
	}
	records, err := tx.CutRecords(begun...)
	for _, r := range records {
		if s.made[r.LineID] == nil {
			s.made[r.LineID] = map[int64]int{}
		}
		s.made[r.LineID][r.CutID] += r.Pieces
	}
	return err
}

// maxOpenOrders bounds what one plan looks at; more than a year's work for one machine.
const maxOpenOrders = 5000

// current gives a shelf by code, without what is retired.
func current[T stock.Item](tx *store.Tx) (map[string]T, error) {
	items, err := store.Shelf[T](tx)
	if err != nil {
		return nil, err
	}
	shelf := make(map[string]T, len(items))
	for _, it := range items {
		if !it.Retired {
			shelf[it.Item.Key()] = it.Item
		}
	}
	return shelf, nil
}

func byCode[T stock.Item](shelf map[string]T) []T {
	list := make([]T, 0, len(shelf))
	for _, it := range shelf {
		list = append(list, it)
	}
	sort.Slice(list, func(i, j int) bool { return list[i].Key() < list[j].Key() })
	return list
}

// machineFor gives the machine that makes a line: the first former that runs
// the profile from a strip of this width, or the first folder for trim.
func (s *snapshot) machineFor(l order.Line) (stock.Machine, bool) {
	for _, m := range s.machines {
		switch l.Kind {
		case order.Formed:
			if m.Makes(l.Code) && l.Strip <= m.MaxStrip {
				return m, true
			}
		case order.Trim:
			if m.Folder && l.Strip <= m.MaxStrip && l.Longest() <= m.MaxFold {
				return m, true
			}
		}
	}
	return stock.Machine{}, false
}

// supplyOf gives how a strip is bought.
func (s *snapshot) supplyOf(strip stock.Strip) (stock.Supply, bool) {
	for _, sup := range s.supplies {
		if sup.Strip == strip {
			return sup, true
		}
	}
	return stock.Supply{}, false
}

// serving gives the coils that a line can be cut from.
func (s *snapshot) serving(l order.Line) []stock.Coil {
	return slices.DeleteFunc(slices.Clone(s.coils), func(c stock.Coil) bool { return !serves(c.Strip, l) })
}

// coilsOf gives the coils of a strip, in the store's order.
func (s *snapshot) coilsOf(strip stock.Strip) []stock.Coil {
	var out []stock.Coil
	for _, c := range s.coils {
		if c.Strip == strip {
			out = append(out, c)
		}
	}
	return out
}
