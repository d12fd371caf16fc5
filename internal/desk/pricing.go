package desk

import (
	"encoding/json"
	"fmt"
	"math"
	"sort"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/plan"
	"ribdesk/internal/price"
	"ribdesk/internal/stock"
)

// stripWeight is the named place where a computed weight of strip becomes a
// rate: pounds per foot to six places.
func (s *snapshot) stripWeight(m stock.Material, strip stock.Strip) money.Rate {
	return money.FromFloat(m.Sheet(gaugeThickness(m, strip.Gauge)).PoundsPerFoot(strip.Width)).Shorten(6)
}

// input makes the price room's input of an order whose lines were resolved.
func (s *snapshot) input(o *order.Order, lines []made, buyer buyer) (price.Input, error) {
	if len(s.rates.Centers) == 0 {
		return price.Input{}, fault.Conflictf("the shop has no rates yet; the owner enters them on the Rates sheet")
	}
	in := price.Input{Rules: price.Rules, Shop: s.rates}
	in.Order = price.Order{ID: o.Number, Day: price.Day(s.day), Class: buyer.class, Rush: o.Rush, Discount: o.Discount, Certificate: buyer.certificate}
	in.Shop.Currency = s.seller.Currency
	in.Shop.Stock = nil
	used := map[string]bool{}
	for i, m := range lines {
		if m.line.Kind != order.Accessory {
			st := s.priceStock(m)
			if !used[st.ID] {
				used[st.ID] = true
				in.Shop.Stock = append(in.Shop.Stock, st)
			}
		}
		in.Order.Items = append(in.Order.Items, s.items(i, m)...)
	}
	in.Order.Bundles = s.bundlesFor(lines)
	s.addSetups(&in, lines)
	s.addTrimSetups(&in, lines)
	s.keepTaxes(&in, *o)
	trip := &price.Trip{Miles: money.NewRate(o.MilesTenths, -1)}
	switch {
	case o.Fulfil == order.Haul && s.rates.Delivery != nil:
		in.Order.Delivery = trip
	case o.Fulfil == order.OnSite && s.rates.Onsite != nil:
		in.Order.Onsite = trip
	case o.Fulfil != order.PickUp:
		return in, fault.Invalidf("fulfil", "the shop has no rate for %s; choose pick-up", o.Fulfil)
	}
	keepCenters(&in)
	return in, nil
}

// keepCenters leaves out the centers an order doesn't touch, so that a stored
// input is no longer than it must be.
func keepCenters(in *price.Input) {
	need := map[string]bool{}
	for _, it := range in.Order.Items {
		if it.Formed != nil {
			need[it.Formed.Center] = true
		}
		if it.Trim != nil {
			need[it.Trim.Center] = true
		}
	}
	for _, st := range in.Order.Setups {
		need[st.Center] = true
	}
	if in.Shop.Onsite != nil {
		need[in.Shop.Onsite.Center] = true
	}
	var kept []price.Center
	for _, c := range in.Shop.Centers {
		if need[c.ID] {
			kept = append(kept, c)
		}
	}
	in.Shop.Centers = kept
}

// buyer is what the customer file says for a price.
type buyer struct {
	class       string
	certificate *price.Certificate
}

// buyerOf reads class and certificate; the certificate is the one that holds
// today in the state the goods go to, which is the shop's own for a pick-up.
func (s *snapshot) buyerOf(c party.Customer, certificates []party.Certificate, o order.Order, now time.Time) buyer {
	b := buyer{class: c.Class}
	state := s.destination(o)
	for _, cert := range certificates {
		if cert.Covers(state, dayStart(now, s.seller.Location())) {
			b.certificate = &price.Certificate{Number: cert.Number, State: cert.State, Signed: price.Day(cert.Signed.Format(time.DateOnly)), Expires: price.Day(cert.Expires.Format(time.DateOnly))}
			break
		}
	}
	return b
}

// dayStart gives the local day of a moment as a date.
func dayStart(t time.Time, zone *time.Location) time.Time {
	y, m, d := t.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// priceStock is the strip at what it costs to buy again, else at what the
// newest coil on hand cost.
func (s *snapshot) priceStock(m made) price.Stock {
	strip := m.line.Metal()
	st := price.Stock{ID: strip.String(), Label: m.material.Name + " " + strip.Gauge + ", " + strip.Width.Across().String() + " strip, " + s.colours[strip.Colour].Name, Width: strip.Width}
	st.Measured = s.stripWeight(m.material, strip)
	if m.bought {
		st.Price, st.Per, st.Freight = m.supply.PerPound, price.PerPound, m.supply.Freight
		st.Scrap, st.Dated = m.supply.Scrap, price.Day(m.supply.CostDay)
		st.Weight, st.Damaged = money.Int(int64(m.supply.CoilLb)), m.supply.Damaged
		st.Loss = m.supply.Loss
		return st
	}
	var newest stock.Coil
	for _, c := range s.coilsOf(strip) {
		if newest.ID == 0 || c.Received.After(newest.Received) {
			newest = c
		}
	}
	st.Price, st.Per, st.Feet, st.Dated = newest.Landed.Rate(), price.PerCoil, newest.Original, price.Day(newest.Received.Format(time.DateOnly))
	return st
}

// items turns a line into items of the price: one for a cut list of a formed
// profile, one per length for trim, one for an accessory.
func (s *snapshot) items(i int, m made) []price.Item {
	l := m.line
	id := itemID(i)
	switch l.Kind {
	case order.Accessory:
		a := s.accessories[l.Code]
		return []price.Item{{ID: id, Label: l.Name, Group: "accessory", Bought: &price.Bought{Pieces: l.Count, Each: a.Cost.Rate(), Weight: a.Weight, Dated: price.Day(a.CostDay)}}}
	case order.Trim:
		var out []price.Item
		for j, c := range l.Cuts {
			out = append(out, price.Item{ID: fmt.Sprintf("%s.%d", id, j), Label: l.Name, Group: "trim", Trim: &price.Trim{
				Center: m.machine.Code, Stock: l.Metal().String(), Pieces: c.Qty, Length: c.Length, Girth: l.Girth,
				Bends: m.blank.Bends, Hems: m.blank.Hemmed, Slit: m.machine.Slit, Bend: m.machine.Bend.Div(sixty), Hem: m.machine.Hem.Div(sixty),
				Handling: m.machine.Handling.Add(m.machine.Shear).Div(sixty), Allowance: m.machine.Allowance, Credit: trimCredit,
			}})
		}
		return out
	}
	f := &price.Formed{
		Center: m.machine.Code, Stock: l.Metal().String(), Speed: m.machine.Speed, Shear: m.machine.Shear,
		Handling: m.machine.Handling, Allowance: m.machine.Allowance,
	}
	for j, c := range l.Cuts {
		f.Cuts = append(f.Cuts, price.Cut{ID: fmt.Sprint(j), Label: c.Length.FeetInches(16), Pieces: c.Qty, Length: c.Length})
	}
	return []price.Item{{ID: id, Label: l.Name, Group: string(s.profiles[l.Code].Use), Formed: f}}
}

// trimCredit is the share of its cost that a blank left over keeps; half, as an
// offcut may or may not find an order (common practice, no published source).
var trimCredit = money.Must("0.5")

// addTrimSetups puts the folder's set-ups into the trim that needs them: lines
// of one metal that follow each other need one between them, and a line of
// several lengths needs it once. Nobody else shares them.
func (s *snapshot) addTrimSetups(in *price.Input, lines []made) {
	var group []int
	for i, m := range lines {
		if m.line.Kind == order.Trim {
			group = append(group, i)
		}
	}
	if len(group) == 0 {
		return
	}
	setups := inRunOrder(group, lines)
	for k, uses := range walk(planRule(lines[group[0]].machine), plan.Setup{}, setups) {
		minutes := int64(0)
		for _, f := range uses {
			if f.first == k {
				minutes += f.minutes
			}
		}
		in.Order.Items[itemAt(in, itemID(group[k])+".0")].Trim.Setup = money.Int(minutes)
	}
}

// inRunOrder sorts lines as they would run one after the other, and gives what
// each needs set up.
func inRunOrder(group []int, lines []made) []plan.Setup {
	sort.SliceStable(group, func(a, b int) bool {
		return setupKey(setupOf(*lines[group[a]].line)) < setupKey(setupOf(*lines[group[b]].line))
	})
	setups := make([]plan.Setup, len(group))
	for k, i := range group {
		setups[k] = setupOf(*lines[i].line)
	}
	return setups
}

func itemID(line int) string { return fmt.Sprintf("l%d", line) }

// bundlesFor is how many bundles an order makes by the shop's weight limit.
func (s *snapshot) bundlesFor(lines []made) int {
	sum := money.Rate{}
	for _, m := range lines {
		if m.line.Kind != order.Accessory {
			sum = sum.Add(m.line.Pounds)
		}
	}
	if sum.Sign() == 0 {
		return 0
	}
	limit := money.Int(int64(max(1, s.seller.BundlePounds)))
	return max(1, int(math.Ceil(sum.Div(limit).Shorten(6).Float())))
}

// addSetups lists the changeovers that the order needs when it comes to machines
// that stand in nothing it can use. Each counted part of the rule is a set-up,
// used by the order's lines until that part is changed again.
func (s *snapshot) addSetups(in *price.Input, lines []made) {
	byMachine := map[string][]int{}
	for i, m := range lines {
		if m.line.Kind == order.Formed {
			byMachine[m.machine.Code] = append(byMachine[m.machine.Code], i)
		}
	}
	for _, machine := range s.machines {
		group := byMachine[machine.Code]
		if len(group) == 0 {
			continue
		}
		setups := inRunOrder(group, lines)
		rule := planRule(machine)
		for k, uses := range walk(rule, plan.Setup{}, setups) {
			item := &in.Order.Items[itemAt(in, itemID(group[k]))]
			for _, f := range uses {
				id := f.id(machine.Code)
				item.Formed.Setups = append(item.Formed.Setups, id)
				if f.first == k {
					in.Order.Setups = append(in.Order.Setups, price.Setup{
						ID: id, Label: f.label(), Center: machine.Code, Minutes: money.Int(f.minutes),
						Lead: leadOf(machine, f), Stock: item.Formed.Stock,
					})
				}
			}
		}
	}
}

// leadOf is the strip that a changed part costs, exactly: the planner counts
// whole feet.
func leadOf(m stock.Machine, f facility) measure.Length {
	for _, part := range m.Rule {
		if part.Name != f.attribute {
			continue
		}
		for _, pair := range part.Pairs {
			if pair.From == f.from && pair.To == f.value {
				return pair.Scrap
			}
		}
		return part.Scrap
	}
	return 0
}

// keepTaxes leaves only the jurisdictions of the state where the goods change
// hands: the shop's own for a pick-up, else where they go.
func (s *snapshot) keepTaxes(in *price.Input, o order.Order) {
	state := s.destination(o)
	var kept []price.Jurisdiction
	for _, j := range in.Shop.Tax.Jurisdictions {
		if strings.EqualFold(j.State, state) {
			kept = append(kept, j)
		}
	}
	in.Shop.Tax.Jurisdictions = kept
}

// destination is the state where an order's goods change hands.
func (s *snapshot) destination(o order.Order) string {
	if o.Fulfil != order.PickUp && o.ShipTo.State != "" {
		return o.ShipTo.State
	}
	return s.seller.Address.State
}

func setupKey(s plan.Setup) string {
	return strings.Join([]string{s.Profile, s.Material, s.Gauge, s.Width, s.Colour, s.Rib}, "\x00")
}

func itemAt(in *price.Input, id string) int {
	for i := range in.Order.Items {
		if in.Order.Items[i].ID == id {
			return i
		}
	}
	return -1
}

// facility is one changed part of a changeover, used by all runs from there
// until that part is changed again.
type facility struct {
	attribute string
	from      string // what it was before
	value     string
	first     int // index of the run it was changed for
	minutes   int64
}

func (f facility) id(machine string) string {
	return fmt.Sprintf("%s/%s/%s/%d", machine, f.attribute, f.value, f.first)
}

func (f facility) label() string { return f.attribute + " " + strings.ReplaceAll(f.value, "|", " ") }

// walk follows the runs on a machine and gives, for each, the facilities it
// uses. A part that stood right from the start is no facility: nobody changed it.
func walk(rule plan.Rule, standing plan.Setup, runs []plan.Setup) [][]facility {
	current := make([]*facility, len(rule.Attributes))
	out := make([][]facility, len(runs))
	at := standing
	for k, run := range runs {
		for _, part := range rule.Between(at, run) {
			a := rule.Attributes[part.Attribute]
			current[part.Attribute] = &facility{attribute: a.Name, from: attributeValue(a, at), value: attributeValue(a, run), first: k, minutes: part.Minutes}
			for i, other := range rule.Attributes {
				for _, covered := range a.Covers {
					if other.Name == covered {
						current[i] = nil // done along with this part
					}
				}
			}
		}
		for _, f := range current {
			if f != nil {
				out[k] = append(out[k], *f)
			}
		}
		at = run
	}
	return out
}

func attributeValue(a plan.Attribute, s plan.Setup) string {
	values := make([]string, len(a.Keys))
	for i, k := range a.Keys {
		values[i] = s.Part(k)
	}
	return strings.Join(values, "|")
}

// share says which of the order's set-ups would be shared in a plan that holds
// its lines, and with which orders.
func (s *snapshot) share(in *price.Input, lines []made, p *planning, with plan.Plan) {
	ours := map[string]int{} // plan line -> index
	for i := range lines {
		ours[newID(i)] = i
	}
	byID := map[string]plan.Line{}
	for _, l := range p.problem.Lines {
		byID[l.ID] = l
	}
	shared := map[string]*price.SharedSetup{}
	for mi, seq := range with.Machines {
		machine := s.machines[mi]
		rule := planRule(machine)
		runs := make([]plan.Setup, len(seq.Jobs))
		for k, job := range seq.Jobs {
			if i, ok := ours[job.Line]; ok {
				runs[k] = setupOf(*lines[i].line)
			} else {
				runs[k] = byID[job.Line].Setup
			}
		}
		uses := walk(rule, s.standing(machine), runs)
		for k, job := range seq.Jobs {
			i, ok := ours[job.Line]
			if !ok || lines[i].line.Kind != order.Formed {
				continue
			}
			for _, f := range uses[k] {
				partners := partnersOf(seq, uses, f, ours, byID)
				if len(partners) == 0 {
					continue
				}
				id := ownSetup(in, itemID(i), f.attribute, f.value)
				if id == "" || shared[id] != nil {
					continue
				}
				_, firstIsOurs := ours[seq.Jobs[f.first].Line]
				shared[id] = &price.SharedSetup{Setup: id, Planned: !firstIsOurs, With: partners}
			}
		}
	}
	if len(shared) == 0 {
		return
	}
	in.Order.Sharing = &price.Sharing{}
	for _, st := range in.Order.Setups {
		if sh := shared[st.ID]; sh != nil {
			in.Order.Sharing.Setups = append(in.Order.Sharing.Setups, *sh)
		}
	}
}

// partnersOf gives the other orders that use a facility, by number.
func partnersOf(seq plan.Sequence, uses [][]facility, f facility, ours map[string]int, byID map[string]plan.Line) []price.Partner {
	minutes := map[string]int64{}
	for k, job := range seq.Jobs {
		if _, ok := ours[job.Line]; ok {
			continue
		}
		for _, u := range uses[k] {
			if u.attribute == f.attribute && u.first == f.first {
				minutes[byID[job.Line].Order] += job.End - job.Start
			}
		}
	}
	var out []price.Partner
	for number, n := range minutes {
		out = append(out, price.Partner{Order: number, Minutes: money.Int(n)})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Order < out[j].Order })
	return out
}

// ownSetup gives the order's own set-up of this attribute and value that the
// item uses.
func ownSetup(in *price.Input, item, attribute, value string) string {
	it := in.Order.Items[itemAt(in, item)]
	for _, id := range it.Formed.Setups {
		if strings.Contains(id, "/"+attribute+"/"+value+"/") {
			return id
		}
	}
	return ""
}

// writeFigures writes what a quote says into the order: both offers, and unit and
// amount of each line as charged.
func writeFigures(o *order.Order, in price.Input, q price.Quote) error {
	o.Alone = offerOf(&q.Alone)
	o.Shared = order.Offer{}
	charged := &q.Alone
	if q.Shared != nil {
		o.Shared = offerOf(q.Shared)
		if o.Sharing {
			charged = q.Shared
		}
	} else {
		o.Sharing = false
	}
	o.Exempt = ""
	if charged.Exempt != nil {
		o.Exempt = charged.Exempt.Number
	}
	return lineFigures(o, in, charged)
}

// lineFigures sums a line's price lines. The unit price is that of its first
// row; the rows of one line differ only beyond a quantity break.
func lineFigures(o *order.Order, in price.Input, offer *price.Offer) error {
	for i := range o.Lines {
		l := &o.Lines[i]
		l.Amount, l.Unit = money.Cents(0, offer.Total.Currency()), money.Cents(0, offer.Total.Currency())
		l.PerFoot = l.Kind == order.Formed
		for _, pl := range offer.Lines {
			if item, _, _ := strings.Cut(pl.Item, "."); item != itemID(i) {
				continue
			}
			l.Amount = l.Amount.Add(pl.Amount)
			if l.Unit.IsZero() {
				unit, err := pl.Price.Round(offer.Total.Currency())
				if err != nil {
					return err
				}
				l.Unit = unit
			}
		}
	}
	body, err := json.Marshal(in)
	o.PriceJSON = body
	return err
}

func offerOf(q *price.Offer) order.Offer {
	zero := money.Cents(0, q.Total.Currency())
	o := order.Offer{Goods: zero, SetUp: zero, Minimum: zero, Packing: zero, Delivery: zero, Rush: zero, Discount: zero, Tax: q.Tax, Total: q.Total, Deposit: q.Deposit}
	for _, l := range q.Lines {
		switch l.Kind {
		case price.SetupLine:
			o.SetUp = o.SetUp.Add(l.Amount)
		case price.MinimumLine:
			o.Minimum = o.Minimum.Add(l.Amount)
		case price.PackingLine:
			o.Packing = o.Packing.Add(l.Amount)
		case price.HaulLine, price.TripLine:
			o.Delivery = o.Delivery.Add(l.Amount)
		case price.RushLine:
			o.Rush = o.Rush.Add(l.Amount)
		case price.DiscountLine:
			o.Discount = o.Discount.Add(l.Amount)
		default:
			o.Goods = o.Goods.Add(l.Amount)
		}
	}
	return o
}
