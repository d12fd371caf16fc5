package desk

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/nest"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// shortTimes is how many times its worth a missing piece weighs.
const shortTimes = 60

// allocSettings make an allocation the same each time it is worked out.
var allocSettings = nest.Settings{Iterations: 20_000, Seed: 1}

// Allocation is which coil each open piece would be cut from, group by group of
// equal strip, beside what is promised now.
type Allocation struct {
	Stamp  int64 // of the moment it was made from; adopting needs it unchanged
	Groups []AllocationGroup
	Before Tally
	After  Tally
}

// Tally is what a way of allocating comes to.
type Tally struct {
	Coils int            // used
	Scrap measure.Length // threading, tails and ends too short to keep
	Mixed int            // orders cut from more than one paint lot
	Short measure.Length // of pieces that no coil is there for
}

func (t *Tally) add(u Tally) {
	t.Coils += u.Coils
	t.Scrap += u.Scrap
	t.Mixed += u.Mixed
	t.Short += u.Short
}

// AllocationGroup is one strip's coils and pieces.
type AllocationGroup struct {
	Strip    stock.Strip
	Name     string
	Problem  nest.CoilProblem
	Result   *nest.CoilResult
	Before   Tally
	After    Tally
	Moves    []CoilMove
	Warnings []string
	promises []order.Reservation
	lines    []int64
}

// CoilMove is a line whose pieces come from other coils than before.
type CoilMove struct {
	Number  string // of the order
	Name    string
	Was, Is string // tags, "" for none
}

// Allocate works out the coils of all open orders anew. Nothing is changed.
// Trim keeps the coil it is promised: its blanks are nested by the trim plan.
func (d *Desk) Allocate(ctx context.Context, actor party.Actor) (Allocation, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return Allocation{}, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return Allocation{}, err
	}
	return d.allocateNow(ctx, s, false)
}

// cutFloor is what is promised and made of the open lines.
type cutFloor struct {
	promises map[int64][]order.Reservation // by line
	sheets   []order.SheetPromise          // of any line
	made     map[int64]int                 // by row of a cut list
	lots     map[int64]map[string]bool     // lots an order is cut from already, by order
	hold     bool                          // lines that have begun keep their coils
}

func (f *cutFloor) read(tx *store.Tx, s *snapshot) error {
	f.promises, f.made, f.lots = map[int64][]order.Reservation{}, map[int64]int{}, map[int64]map[string]bool{}
	var ids []int64
	for id := range s.lines {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	promises, err := tx.Reservations(ids...)
	if err != nil {
		return err
	}
	for _, r := range promises {
		f.promises[r.LineID] = append(f.promises[r.LineID], r)
	}
	if f.sheets, err = tx.SheetPromises(); err != nil {
		return err
	}
	records, err := tx.CutRecords(ids...)
	if err != nil || len(records) == 0 {
		return err
	}
	coils, err := tx.AllCoils()
	if err != nil {
		return err
	}
	lot := map[int64]string{}
	for _, c := range coils {
		lot[c.ID] = c.Lot
	}
	for _, r := range records {
		f.made[r.CutID] += r.Pieces
		if r.CoilID == 0 {
			continue
		}
		of := s.lines[r.LineID].of.ID
		if f.lots[of] == nil {
			f.lots[of] = map[string]bool{}
		}
		f.lots[of][lot[r.CoilID]] = true
	}
	return nil
}

// begun reports whether a piece of a line is made.
func (f *cutFloor) begun(l order.Line) bool {
	return slices.ContainsFunc(l.Cuts, func(c order.CutItem) bool { return f.made[c.ID] > 0 })
}

// left gives a line with the pieces that are still to be made.
func (f *cutFloor) left(l order.Line) order.Line {
	l.Cuts = slices.Clone(l.Cuts)
	for i := range l.Cuts {
		l.Cuts[i].Qty -= f.made[l.Cuts[i].ID]
	}
	l.Cuts = slices.DeleteFunc(l.Cuts, func(c order.CutItem) bool { return c.Qty <= 0 })
	return l
}

// unserved gives a line with the pieces that are neither made nor promised.
func (f *cutFloor) unserved(l order.Line) order.Line {
	cuts := served{}
	cuts.add(f.promises[l.ID])
	for _, sheet := range f.sheets {
		cuts.addBlanks(sheet.Blanks)
	}
	return cuts.rest(f.left(l))
}

func (s *snapshot) allocate(ctx context.Context, f cutFloor) (Allocation, error) {
	out := Allocation{Stamp: s.stamp}
	for _, g := range s.allocationGroups(f) {
		r, err := nest.Allocate(ctx, &g.Problem, allocSettings)
		if err != nil {
			return out, err
		}
		g.Result = r
		s.settleGroup(&g, f)
		if f.hold && g.takesCoil(f) {
			continue
		}
		out.Before.add(g.Before)
		out.After.add(g.After)
		out.Groups = append(out.Groups, g)
	}
	return out, nil
}

// allocationGroups makes one problem of each strip that open formed lines need,
// in the order of the lines.
func (s *snapshot) allocationGroups(f cutFloor) []AllocationGroup {
	var groups []AllocationGroup
	at := map[stock.Strip]int{}
	for i := range s.open {
		o := &s.open[i]
		for _, l := range o.Lines {
			if l.Kind != order.Formed || f.hold && f.begun(l) {
				continue
			}
			if l = f.left(l); len(l.Cuts) == 0 {
				continue
			}
			n, ok := at[l.Metal()]
			if !ok {
				n = len(groups)
				at[l.Metal()] = n
				groups = append(groups, s.newGroup(l))
			}
			g := &groups[n]
			g.lines = append(g.lines, l.ID)
			for _, c := range l.Cuts {
				g.Problem.Lines = append(g.Problem.Lines, nest.Line{ID: cutID(c.ID), Order: o.Number, Length: eighths(c.Length), Qty: int64(c.Qty)})
			}
		}
	}
	for i := range groups {
		s.addCoils(&groups[i], f)
	}
	return groups
}

func cutID(id int64) string { return strconv.FormatInt(id, 10) }

// eighths is the named place where a piece becomes whole eighths of an inch: up.
func eighths(l measure.Length) int64 { return int64(l.Up(measure.Eighth) / measure.Eighth) }

func (s *snapshot) newGroup(l order.Line) AllocationGroup {
	strip := l.Metal()
	m, _ := s.machineFor(l)
	g := AllocationGroup{Strip: strip, Name: RackStrip{Strip: strip, Material: s.materials[strip.Material], Colour: s.colours[strip.Colour]}.Name()}
	g.Problem.ID, g.Problem.Kind = g.Name, "coil"
	const mill = 1000 // thousandths in a cent
	cut := s.seller.Cutting
	p := nest.CoilParams{
		LeadIn: eighths(m.LeadIn), LeadOut: eighths(m.LeadOut), ScrapMax: eighths(cut.ScrapEnd), UsefulMin: eighths(cut.UsefulEnd),
		Mat: s.matOf(strip), AwkwardPct: int64(cut.AwkwardPct), Keep: cut.RackCents * mill, Change: s.minuteCents * int64(cut.ThreadMin) * mill, LotSplit: cut.LotCents * mill,
	}
	p.Short = max(1, p.Mat*shortTimes)
	g.Problem.Params = p
	if sup, ok := s.supplyOf(strip); ok {
		g.Problem.BuyLength = int64(s.coilLength(sup) / measure.Eighth)
	}
	return g
}

// matOf is what an eighth of an inch of a strip is worth in thousandths of a
// cent: as it is bought today, else as its coils cost.
func (s *snapshot) matOf(strip stock.Strip) int64 {
	var foot money.Rate
	if sup, ok := s.supplyOf(strip); ok {
		foot = sup.PerPound.Add(sup.Freight).Mul(s.stripWeight(s.materials[strip.Material], strip))
	} else if coils := s.coilsOf(strip); len(coils) > 0 {
		foot = coils[0].PerFoot()
	}
	const perEighth = 100_000 / 96 // thousandths of a cent in a dollar, over eighths in a foot
	return max(1, int64(foot.Mul(money.Int(perEighth)).Float()))
}

// coilLength is how much strip a coil holds as it is usually bought; 0 when no
// weight is known.
func (s *snapshot) coilLength(sup stock.Supply) measure.Length {
	perFoot := s.stripWeight(s.materials[sup.Strip.Material], sup.Strip).Float()
	if sup.CoilLb <= 0 || perFoot <= 0 {
		return 0
	}
	return measure.FromFeet(float64(sup.CoilLb) / perFoot).Down(measure.Foot)
}

// addCoils puts in the coils of a group's strip, each as long as lines outside
// the group leave it.
func (s *snapshot) addCoils(g *AllocationGroup, f cutFloor) {
	own := map[int64]measure.Length{}
	for _, id := range g.lines {
		for _, r := range f.promises[id] {
			own[r.CoilID] += r.Length
		}
	}
	for _, c := range s.coilsOf(g.Strip) {
		room := c.Free() + own[c.ID]
		if room <= 0 {
			continue
		}
		g.Problem.Coils = append(g.Problem.Coils, nest.Coil{
			ID: c.Tag, Length: int64(room / measure.Eighth), Lot: c.Lot, Remnant: c.Remnant || c.OnHand < c.Original, Mounted: c.Mounted != "",
		})
	}
}

// settleGroup turns a group's plan into promises and says what changes.
func (s *snapshot) settleGroup(g *AllocationGroup, f cutFloor) {
	coil := map[string]stock.Coil{}
	tag := map[int64]string{}
	for _, c := range s.coilsOf(g.Strip) {
		coil[c.Tag], tag[c.ID] = c, c.Tag
	}
	before := &groupTally{g: g, coil: coil}
	for _, id := range g.lines {
		for _, r := range f.promises[id] {
			for _, c := range r.Cuts {
				before.cut(tag[r.CoilID], cutID(c.CutID), int64(c.Qty))
			}
		}
	}
	after := &groupTally{g: g, coil: coil}
	for _, c := range g.Result.Cuts {
		after.cut(c.Coil, c.Line, c.Qty)
	}
	g.Before, g.After = before.sum(), after.sum()
	g.promises = s.promisesOf(g, after)
	for _, id := range g.lines {
		was, is := before.tags(s.lines[id].Line), after.tags(s.lines[id].Line)
		if was != is {
			g.Moves = append(g.Moves, CoilMove{Number: s.lines[id].of.Number, Name: s.lines[id].Name, Was: was, Is: is})
		}
	}
	s.warnOfLots(g, f)
}

// takesCoil reports whether a line would be left with less coil than it is
// promised. Somebody may choose that; nobody's promise goes by itself.
func (g *AllocationGroup) takesCoil(f cutFloor) bool {
	left := map[int64]int{} // by cut
	for _, id := range g.lines {
		for _, r := range f.promises[id] {
			for _, c := range r.Cuts {
				left[c.CutID] += c.Qty
			}
		}
	}
	for _, r := range g.promises {
		for _, c := range r.Cuts {
			left[c.CutID] -= c.Qty
		}
	}
	for _, n := range left {
		if n > 0 {
			return true
		}
	}
	return false
}

// promisesOf gives the reservations that a plan comes to. Each coil's lead is
// kept with the first line cut from it, so that nobody else is promised it.
func (s *snapshot) promisesOf(g *AllocationGroup, t *groupTally) (out []order.Reservation) {
	led := map[string]bool{}
	for _, id := range g.lines {
		l := s.lines[id]
		for _, c := range g.Problem.Coils {
			r := order.Reservation{CoilID: t.coil[c.ID].ID, LineID: id}
			for _, cut := range l.Cuts {
				if n := t.at(c.ID, cutID(cut.ID)); n > 0 {
					r.Cuts = append(r.Cuts, order.CutShare{CutID: cut.ID, Qty: int(n), Length: cut.Length})
					r.Length += cut.Length.Times(int(n))
				}
			}
			if r.Length == 0 {
				continue
			}
			if !led[c.ID] {
				led[c.ID] = true
				r.Length += measure.Length(g.lead(c)) * measure.Eighth
			}
			out = append(out, r)
		}
	}
	return out
}

func (g *AllocationGroup) lead(c nest.Coil) int64 {
	if c.Mounted {
		return g.Problem.Params.LeadOut
	}
	return g.Problem.Params.LeadIn + g.Problem.Params.LeadOut
}

// warnOfLots says which orders mix paint lots, also with what is cut of them
// already.
func (s *snapshot) warnOfLots(g *AllocationGroup, f cutFloor) {
	byNumber := map[string]int64{}
	for i := range s.open {
		byNumber[s.open[i].Number] = s.open[i].ID
	}
	for _, o := range g.Result.Orders {
		lots := slices.Clone(o.Lots)
		for lot := range f.lots[byNumber[o.Order]] {
			if !slices.Contains(lots, lot) {
				lots = append(lots, lot)
			}
		}
		slices.Sort(lots)
		if len(lots) > 1 && len(o.Lots) > 0 {
			g.Warnings = append(g.Warnings, fmt.Sprintf("Order %s comes from paint lots %s: shades may differ; keep the lots on separate slopes or walls.", o.Order, strings.Join(lots, ", ")))
		}
	}
}

// allocateNow works out the coils of all open orders from what a snapshot shows.
// With hold a line that has begun keeps its coil, as it is on the machine, and a
// strip stays as it is where the new choice would take coil from somebody.
func (d *Desk) allocateNow(ctx context.Context, s *snapshot, hold bool) (Allocation, error) {
	f := cutFloor{hold: hold}
	if err := d.store.Read(ctx, func(tx *store.Tx) error { return f.read(tx, s) }); err != nil {
		return Allocation{}, err
	}
	return s.allocate(ctx, f)
}

// keepAllocation replaces the promises of an allocation's lines and gives what is
// left to lines that lack coil, in the transaction of its caller.
func keepAllocation(tx *store.Tx, actor party.Actor, a Allocation) error {
	if err := replacePromises(tx, a); err != nil {
		return err
	}
	if err := tx.Log(actor, "allocated coil", "coil", 0, map[string]any{"before": a.Before, "after": a.After}); err != nil {
		return err
	}
	return promiseAll(tx, actor)
}

// AdoptAllocation promises the coils as proposed, when nothing changed since:
// all promises of open formed lines are replaced in one transaction, so no foot
// is promised twice at any moment. Trim that lacks coil gets what is left.
func (d *Desk) AdoptAllocation(ctx context.Context, actor party.Actor, stamp int64) (Allocation, error) {
	a, err := d.Allocate(ctx, actor)
	if err != nil {
		return a, err
	}
	stale := fault.Conflictf("something changed since this was worked out; look at the new one")
	if a.Stamp != stamp {
		return a, stale
	}
	return a, d.store.Write(ctx, func(tx *store.Tx) error {
		now, err := tx.Stamp()
		if err != nil {
			return err
		}
		if now != stamp {
			return stale
		}
		return keepAllocation(tx, actor, a)
	})
}

func replacePromises(tx *store.Tx, a Allocation) error {
	for _, g := range a.Groups {
		if err := tx.Release(g.lines...); err != nil {
			return err
		}
	}
	for _, g := range a.Groups {
		for _, r := range g.promises {
			if err := tx.Reserve(r); err != nil {
				return err
			}
		}
	}
	return nil
}

// promiseAll gives every open order what the racks still have for it.
func promiseAll(tx *store.Tx, actor party.Actor) error {
	open, err := tx.Orders(store.OrderFilter{States: []order.State{order.Accepted, order.Planned}, Lines: true, Oldest: true, Limit: maxOpenOrders})
	if err != nil {
		return err
	}
	for i := range open {
		if err := promiseCoil(tx, actor, &open[i]); err != nil {
			return err
		}
	}
	return nil
}
