package demo

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// planFloor puts the work on a day's orders on the agenda, from the plan in the
// morning to the load for the next day.
func (l *life) planFloor(day int) {
	l.plan(l.at(day, 6, 30), l.haulToday)
	l.plan(l.at(day, 6, 50), l.replan)
	for hour := 7; hour < 18; hour++ {
		l.plan(l.at(day, hour, 48), l.slit)
		l.plan(l.at(day, hour, 50), l.cutWhatIsDue)
		l.plan(l.at(day, hour, 52), l.replan)
	}
	for _, hour := range []int{8, 12, 17} {
		l.plan(l.at(day, hour, 35), l.buy)
	}
	l.plan(l.at(day, 8, 10), l.fromShelf)
	l.plan(l.at(day, 13, 30), l.collect)
	l.plan(l.at(day, 15, 45), l.buildTrips)
}

// replan is the owner's look at the plan: when something waits for a place, or
// stands where it can't begin any more, the best plan found is adopted.
func (l *life) replan(ctx context.Context) error {
	needed, err := l.needsPlan(ctx)
	if err != nil || !needed {
		return err
	}
	proposal, err := l.ProposePlan(ctx, l.as(party.Owner))
	if err != nil || len(proposal.Moved) == 0 {
		return err
	}
	_, err = l.AdoptPlan(ctx, l.as(party.Owner), proposal.Stamp)
	return err
}

// slit is the owner's look at how the trim is best slit, when the folder's sheet
// has trim without coil: the best plan found is adopted, which promises it.
func (l *life) slit(ctx context.Context) error {
	sheet, err := l.Sheet(ctx, l.as(party.Operator), folder)
	if err != nil || !lacksCoil(sheet, l.clock.Now().Add(12*time.Hour)) {
		return err
	}
	plan, err := l.TrimPlan(ctx, l.as(party.Owner))
	if err != nil {
		return err
	}
	_, err = l.AdoptTrimPlan(ctx, l.as(party.Owner), plan.Stamp)
	return err
}

func lacksCoil(sheet desk.Sheet, until time.Time) bool {
	for _, run := range sheet.Runs {
		for _, row := range run.Rows {
			if row.Place.Start.After(until) {
				continue
			}
			for _, c := range row.Cuts {
				left := c.Left()
				for _, p := range row.Promises {
					left -= promised(p, c.ID)
				}
				if left > 0 {
					return true
				}
			}
		}
	}
	return false
}

func (l *life) needsPlan(ctx context.Context) (bool, error) {
	now := l.clock.Now()
	plan, err := l.RunPlan(ctx, now, now.AddDate(0, 0, 14))
	if err != nil || len(plan.Unplaced) > 0 {
		return true, err
	}
	for _, run := range plan.Runs {
		for _, line := range run.Lines {
			if line.Place.BegunAt.IsZero() && line.Place.Start.Before(now) {
				return true, nil
			}
		}
	}
	return false, nil
}

// buy orders the coil that open orders lack; it comes as soon as its supplier
// says.
func (l *life) buy(ctx context.Context) error {
	short, err := l.Shortages(ctx, l.as(party.Owner))
	if err != nil {
		return err
	}
	for _, one := range short {
		if one.Supply.Code == "" || l.ordered[one.Strip] {
			continue
		}
		l.ordered[one.Strip] = true
		comes := l.at(l.workday(l.day(l.clock.Now())+one.Supply.LeadDays), 6, 45)
		l.plan(comes, func(ctx context.Context) error {
			delete(l.ordered, one.Strip)
			for n := range max(1, one.Coils) {
				lot := fmt.Sprintf("L-2%d%d", 300+l.day(l.clock.Now()), n)
				err := l.receive(ctx, rack{material: one.Strip.Material, gauge: one.Strip.Gauge, width: one.Strip.Width.String(), colour: one.Strip.Colour, pounds: int64(one.Supply.CoilLb - l.r.IntN(90)), lot: lot})
				if err != nil {
					return err
				}
			}
			return nil
		})
	}
	return nil
}

// cutWhatIsDue is the operator's work up to now: every line whose time in the
// plan is over is made, and about half of the one that is on the machine.
func (l *life) cutWhatIsDue(ctx context.Context) error {
	now := l.clock.Now()
	for _, machine := range []string{former, gutter, folder} {
		sheet, err := l.Sheet(ctx, l.as(party.Operator), machine)
		if err != nil {
			return err
		}
		for _, run := range sheet.Runs {
			for _, row := range run.Rows {
				if row.Place.Start.After(now) {
					continue
				}
				share := 1.0
				if row.Place.End.After(now) {
					share = float64(now.Sub(row.Place.Start)) / float64(row.Place.End.Sub(row.Place.Start))
				}
				if err := l.makeLine(ctx, sheet, row, share); err != nil {
					return fmt.Errorf("order %s, %s: %w", row.Number, row.Line.Name, err)
				}
			}
		}
	}
	return nil
}

// makeLine cuts a share of what is left of a line, from the coils promised to it.
func (l *life) makeLine(ctx context.Context, sheet desk.Sheet, row desk.SheetRow, share float64) error {
	begun := !row.Place.BegunAt.IsZero()
	for _, c := range row.Cuts {
		left := c.Left()
		if share < 1 {
			left = int(float64(c.Qty)*share) - c.Made
		}
		for _, p := range row.Promises {
			n := min(left, promised(p, c.ID))
			if n <= 0 {
				continue
			}
			if !begun && !sheet.Machine.Folder {
				if err := l.thread(ctx, sheet, p.CoilID); err != nil {
					return err
				}
				begun = true
			}
			_, err := l.RecordMade(ctx, l.as(party.Operator), desk.Made{
				Key: fmt.Sprintf("demo-%d-%d-%d", c.ID, c.Made, p.CoilID), LineID: row.Line.ID, CutID: c.ID, CoilID: p.CoilID, Pieces: n,
			})
			if err != nil {
				return err
			}
			left -= n
			c.Made += n
		}
	}
	return nil
}

func promised(p order.Reservation, cutID int64) (n int) {
	for _, c := range p.Cuts {
		if c.CutID == cutID {
			n += c.Qty
		}
	}
	return n
}

// thread puts a coil on the machine and books the lead-in that it costs, as far
// as nobody counts on it.
func (l *life) thread(ctx context.Context, sheet desk.Sheet, coilID int64) error {
	coil, ok := sheet.Coils[coilID]
	if !ok || coil.Mounted == sheet.Machine.Code {
		return nil
	}
	if err := l.MountCoil(ctx, l.as(party.Operator), coilID, sheet.Machine.Code); err != nil {
		return err
	}
	card, err := l.CoilCard(ctx, coilID)
	if err != nil {
		return err
	}
	lead := min(sheet.Machine.LeadIn, card.Coil.Free()-4*measure.Foot)
	if lead <= 0 {
		return nil
	}
	return l.Scrap(ctx, l.as(party.Operator), coilID, lead, "lead-in")
}

// inState lists the orders in a state, the oldest first.
func (l *life) inState(ctx context.Context, state order.State) ([]order.Order, error) {
	return l.Orders(ctx, l.as(party.Owner), desk.OrderFilter{States: []order.State{state}, Lines: true, Oldest: true, Limit: 500})
}

// fromShelf readies the orders that need no machine.
func (l *life) fromShelf(ctx context.Context) error {
	accepted, err := l.inState(ctx, order.Accepted)
	if err != nil {
		return err
	}
	for _, o := range accepted {
		if o.Feet() > 0 {
			continue
		}
		if _, err := l.PickFromShelf(ctx, l.as(party.Counter), o.ID); err != nil {
			return err
		}
	}
	return nil
}

// checkOff picks an order's bundles off its ticket.
func (l *life) checkOff(ctx context.Context, id int64) error {
	f, err := l.OrderFile(ctx, l.as(party.Operator), id)
	if err != nil {
		return err
	}
	if _, err := l.IssuePickTicket(ctx, l.as(party.Operator), id); err != nil {
		return err
	}
	for _, b := range f.Bundles {
		if _, err := l.CheckOff(ctx, l.as(party.Operator), id, b.Code); err != nil {
			return err
		}
	}
	return nil
}

// collect is customers who come for what they ordered, most within a day.
func (l *life) collect(ctx context.Context) error {
	cut, err := l.inState(ctx, order.Cut)
	if err != nil {
		return err
	}
	for _, o := range cut {
		if o.Fulfil != order.PickUp || l.r.IntN(3) == 0 {
			continue
		}
		if err := l.checkOff(ctx, o.ID); err != nil {
			return err
		}
		_, err := l.PickUp(ctx, l.as(party.Counter), o.ID, desk.HandOver{Key: "pick-up " + o.Number, Receiver: o.Contact.Name, Signature: signature(o.ID), At: l.clock.Now()})
		if err != nil {
			return err
		}
	}
	return nil
}

// buildTrips loads what is cut for tomorrow: long pieces go on the trailer.
func (l *life) buildTrips(ctx context.Context) error {
	cut, err := l.inState(ctx, order.Cut)
	if err != nil {
		return err
	}
	loads := map[string][]int64{}
	weighs := map[string]float64{}
	for _, o := range cut {
		if o.Fulfil == order.PickUp {
			continue
		}
		f, err := l.OrderFile(ctx, l.as(party.Driver), o.ID)
		if err != nil {
			return err
		}
		if len(f.Bundles) == 0 || f.Bundles[0].LoadID != 0 {
			continue // on a load already
		}
		on := vehicles[0]
		if o.Longest() > on.Deck {
			on = vehicles[1]
		}
		lb := 0.0
		for _, b := range f.Bundles {
			lb += b.Pounds.Float()
		}
		if len(loads[on.Code]) == 3 || weighs[on.Code]+lb > 0.7*float64(on.Payload) {
			continue // the day after
		}
		loads[on.Code] = append(loads[on.Code], o.ID)
		weighs[on.Code] += lb
	}
	for _, v := range vehicles {
		if len(loads[v.Code]) == 0 {
			continue
		}
		if err := l.buildTrip(ctx, v, loads[v.Code]); err != nil {
			return err
		}
	}
	return nil
}

func (l *life) buildTrip(ctx context.Context, v stock.Vehicle, orders []int64) error {
	ahead := l.day(l.clock.Now()) + 1
	for l.workday(ahead) != ahead {
		ahead++
	}
	day := l.at(ahead, 0, 0)
	day = time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC)
	driver := l.as(party.Driver)
	trip := order.Trip{Day: day, Vehicle: v.Code, Driver: driver.Name, DriverID: driver.PersonID}
	var fits []int64
	for _, id := range orders {
		ok, err := l.mayHaul(ctx, trip, append(slices.Clone(fits), id))
		if err != nil {
			return err
		}
		if ok {
			fits = append(fits, id)
		}
	}
	if len(fits) == 0 {
		return nil
	}
	if _, err := l.BuildTrip(ctx, driver, trip, fits); err != nil {
		return err
	}
	for _, id := range fits {
		if err := l.checkOff(ctx, id); err != nil {
			return err
		}
	}
	return nil
}

// mayHaul tries a load on and reports whether the rules let it on the road.
func (l *life) mayHaul(ctx context.Context, trip order.Trip, orders []int64) (bool, error) {
	trip, err := l.BuildTrip(ctx, l.as(party.Driver), trip, orders)
	if err != nil {
		return false, err
	}
	f, err := l.TripFile(ctx, l.as(party.Driver), trip.ID)
	if err != nil {
		return false, err
	}
	refused := slices.ContainsFunc(f.Load.Verdicts, func(v load.Verdict) bool { return v.Severity == load.Refuse })
	return !refused, l.DropTrip(ctx, l.as(party.Driver), trip.ID)
}

// haulToday sends the day's loads off; their stops follow in the morning. What
// the rules refuse to let on the road is taken off again.
func (l *life) haulToday(ctx context.Context) error {
	y, m, d := l.clock.Now().In(l.zone).Date()
	today := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	trips, err := l.Trips(ctx, today.AddDate(0, 0, -10))
	if err != nil {
		return err
	}
	for _, t := range trips {
		if t.State != order.Building || t.Day.After(today) {
			continue
		}
		loaded, err := l.LoadTrip(ctx, l.as(party.Driver), t.ID, t.Version, "")
		if fault.Is(err, fault.Conflict) {
			if err := l.DropTrip(ctx, l.as(party.Driver), t.ID); err != nil {
				return err
			}
			continue
		}
		if err != nil {
			return err
		}
		first := 100
		if l.clock.Now().YearDay() == l.now.YearDay() {
			first = 300 // out for longer, so that a demo always has a load on the road
		}
		for i, stop := range loaded.Stops {
			at := l.clock.Now().Add(time.Duration(first+i*85+l.r.IntN(30)) * time.Minute)
			l.plan(at, func(ctx context.Context) error { return l.handOver(ctx, stop) })
		}
	}
	return nil
}

// handOver is the driver at a stop: most are signed for, some left with leave,
// and now and then a piece is damaged.
func (l *life) handOver(ctx context.Context, stop order.Stop) error {
	f, err := l.OrderFile(ctx, l.as(party.Driver), stop.OrderID)
	if err != nil {
		return err
	}
	h := desk.HandOver{Key: "stop " + stop.Ticket, StopID: stop.ID, Receiver: f.Order.Contact.Name, Signature: signature(stop.ID), At: l.clock.Now()}
	switch l.r.IntN(8) {
	case 0:
		h.Receiver, h.Signature, h.Unattended = "", nil, f.Order.Contact.Name+", by phone"
	case 1:
		b := f.Bundles[0]
		h.Exceptions = []order.Exception{{BundleID: b.ID, Kind: "damaged", Pieces: 1, CutID: b.Items[0].CutID, Note: "edge bent under the strap"}}
	}
	_, err = l.Deliver(ctx, l.as(party.Driver), h)
	return err
}
