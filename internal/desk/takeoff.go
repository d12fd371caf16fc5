package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/roof"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// RoofAsk is what a person states of a roof, and what they choose to put on it.
// It is kept as JSON, and gives the same take-off again.
type RoofAsk struct {
	Name    string               `json:"name"`
	Profile string               `json:"profile"`
	Metal   string               `json:"metal"` // key of a MetalChoice
	Rib     string               `json:"rib,omitempty"`
	Roof    roof.Roof            `json:"roof"`  // its product follows from the profile
	Trim    map[roof.Edge]string `json:"trim"`  // shape for each kind of trim; "" orders none
	Parts   map[RoofPart]string  `json:"parts"` // accessory for each part; "" orders none
}

// RoofTaken is a roof taken off, with what would go on an order for it.
type RoofTaken struct {
	Ask     RoofAsk
	Result  roof.Result
	Profile stock.Profile
	Metal   MetalChoice
	Trims   []RoofTrim
	Parts   []RoofNeed
	Lines   []order.Line
	Refused []RoofRefusal // lines that the shop can't make as they are
	Notices []Notice
}

// RoofTrim is a kind of trim with the shape chosen for it; Shape is empty where
// none is.
type RoofTrim struct {
	roof.Trim
	Shape stock.Shape
}

// RoofRefusal is a line that can't be made, and why.
type RoofRefusal struct {
	Name string
	Why  *fault.Fault
}

// KeptRoof is a take-off as it was kept.
type KeptRoof struct {
	store.TakeOff
	RoofTaken
}

// UsualRoof is what a take-off starts from: the profile that the first machine
// is set up for, its metal that lies on the rack, and the usual rules.
func (d *Desk) UsualRoof(ctx context.Context) (RoofAsk, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return RoofAsk{}, err
	}
	a := RoofAsk{Roof: roof.Roof{Planes: []roof.Plane{{Copies: 1, Shape: roof.Rectangle, Left: roof.Rake, Right: roof.Rake, Top: roof.Ridge, Bottom: roof.Eave}}}}
	for _, p := range byCode(s.profiles) {
		if p.Use == stock.Panel && a.Profile == "" {
			a.Profile = p.Code
		}
	}
	for _, m := range s.machines {
		if p, ok := s.profiles[m.Setup["profile"]]; ok && !m.Folder && p.Use == stock.Panel {
			a.Profile = p.Code
			break
		}
	}
	a.Roof.Rules = s.usualRules(s.profiles[a.Profile])
	a.Trim, a.Parts = s.usualTrim(), s.usualParts()
	return a, nil
}

// RoofRules gives the usual rules for a profile; those of an unknown one are for
// a panel with clips.
func (d *Desk) RoofRules(ctx context.Context, profile string) (roof.Rules, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return roof.Rules{}, err
	}
	return s.usualRules(s.profiles[profile]), nil
}

func (s *snapshot) usualRules(p stock.Profile) roof.Rules {
	r := roof.Usual(fixingOf(p))
	if folder, ok := s.folder(); ok && folder.MaxFold > 0 {
		r.Stick = min(r.Stick, folder.MaxFold)
	}
	return r
}

// fixingOf tells how a profile is held down: seams hide clips, ribs and waves
// are screwed through.
func fixingOf(p stock.Profile) roof.Fixing {
	switch p.Outline {
	case "five-rib", "corrugated":
		return roof.Screws
	}
	return roof.Clips
}

// TakeOffRoof takes a roof off and composes the lines of an order for it.
// Nothing is written. Faults are at their places in the ask: profile, metal,
// roof.planes.0.eave, roof.rules.step.
func (d *Desk) TakeOffRoof(ctx context.Context, actor party.Actor, a RoofAsk) (RoofTaken, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return RoofTaken{}, err
	}
	return s.takeOffRoof(actor, a)
}

func (s *snapshot) takeOffRoof(actor party.Actor, a RoofAsk) (RoofTaken, error) {
	var bad fault.List
	t := RoofTaken{Ask: a}
	p, ok := s.profiles[a.Profile]
	if !ok || p.Use != stock.Panel {
		return t, fault.Invalidf("profile", "choose a panel of the list")
	}
	t.Profile = p
	if n := len([]rune(a.Name)); n > 80 || strings.ContainsAny(a.Name, "\r\n\x00") {
		bad.Addf("name", "use one line of at most 80 characters")
	}
	for _, m := range s.choices {
		if m.Key() == a.Metal && p.CheckMetal(m.Material, m.Gauge) == nil {
			t.Metal = m
		}
	}
	if t.Metal.Key() != a.Metal || a.Metal == "" {
		bad.Addf("metal", "choose a metal of the list")
	}
	bad.Add("", p.CheckRib(a.Rib))
	a.Roof.Product = roof.Product{Coverage: p.Coverage, Shortest: p.MinLength, Longest: p.MaxLength, Haul: p.HaulLength, SlopeMin: p.SlopeMin, Fixing: fixingOf(p)}
	t.Ask = a
	var err error
	t.Result, err = roof.TakeOff(a.Roof)
	bad.Add("roof", err)
	if err := bad.Err(); err != nil {
		return t, err
	}
	s.composeRoof(actor, &t)
	return t, nil
}

// KeepTakeOff keeps a take-off, under the code of the one it was opened from
// while no order is made from that; else under a new one.
func (d *Desk) KeepTakeOff(ctx context.Context, actor party.Actor, code string, seen int64, a RoofAsk) (k KeptRoof, err error) {
	if k.RoofTaken, err = d.TakeOffRoof(ctx, actor, a); err != nil {
		return k, err
	}
	inputs, err := json.Marshal(k.Ask)
	if err != nil {
		return k, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		fresh := store.TakeOff{Code: d.code(20), CustomerID: actor.CustomerID}
		if code != "" {
			there, err := seeTakeOff(tx, actor, code)
			if err != nil {
				return err
			}
			if there.OrderID == 0 {
				fresh = there
				fresh.Version = seen
			} else {
				fresh.CustomerID = there.CustomerID
			}
		}
		fresh.Name, fresh.Inputs = k.Ask.Name, inputs
		if fresh.ID != 0 {
			k.TakeOff, err = tx.SaveTakeOff(actor, fresh, "changed")
		} else {
			k.TakeOff, err = tx.AddTakeOff(actor, fresh)
		}
		return err
	})
	return k, err
}

// seeTakeOff reads a take-off that the actor may open: the shop's people all, a
// customer their own firm's, and whoever has the code one that is nobody's yet.
func seeTakeOff(tx *store.Tx, actor party.Actor, code string) (store.TakeOff, error) {
	t, err := tx.TakeOff(code)
	if err != nil {
		return t, err
	}
	if t.CustomerID != 0 && !actor.Sees(t.CustomerID) {
		return store.TakeOff{}, fault.NotFoundf("there is no such take-off")
	}
	return t, nil
}

// TakeOff gives a kept take-off, laid again from what was stated.
func (d *Desk) TakeOff(ctx context.Context, actor party.Actor, code string) (k KeptRoof, err error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return k, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		k.TakeOff, err = seeTakeOff(tx, actor, code)
		return err
	})
	if err != nil {
		return k, err
	}
	k.RoofTaken, err = s.takenOff(actor, k.TakeOff)
	return k, err
}

// takenOff lays a kept take-off as it was: the panel's measures are those it was
// kept with, whatever the catalogue says now.
func (s *snapshot) takenOff(actor party.Actor, kept store.TakeOff) (RoofTaken, error) {
	var t RoofTaken
	if err := json.Unmarshal(kept.Inputs, &t.Ask); err != nil {
		return t, fmt.Errorf("take-off %d: %w", kept.ID, err)
	}
	t.Profile = s.profiles[t.Ask.Profile]
	for _, m := range s.choices {
		if m.Key() == t.Ask.Metal {
			t.Metal = m
		}
	}
	var err error
	if t.Result, err = roof.TakeOff(t.Ask.Roof); err != nil {
		return t, err
	}
	s.composeRoof(actor, &t)
	return t, nil
}

// takeOffsShown is how many kept take-offs a list has.
const takeOffsShown = 20

// TakeOffs lists the newest take-offs of the actor's firm, or for the shop's
// people of everybody.
func (d *Desk) TakeOffs(ctx context.Context, actor party.Actor) (list []store.TakeOff, err error) {
	if !actor.Role.Staff() && actor.CustomerID == 0 {
		return nil, nil
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.TakeOffs(actor.CustomerID, takeOffsShown)
		return err
	})
	return list, err
}

// RoofOrder gives an ask at the counter for a kept take-off.
func (d *Desk) RoofOrder(ctx context.Context, actor party.Actor, code string) (order.Order, error) {
	k, err := d.TakeOff(ctx, actor, code)
	if err != nil {
		return order.Order{}, err
	}
	o := order.Order{Job: k.Name, Fulfil: order.PickUp, Lines: k.Lines, TakeOff: k.Code}
	if k.Ask.Roof.Rules.OnSite {
		o.Fulfil = order.OnSite
	}
	return o, nil
}

// tieTakeOff ties the take-off that an order was made from to it, in the
// transaction that keeps the order. One that another order was made from is
// copied.
func (d *Desk) tieTakeOff(tx *store.Tx, actor party.Actor, o order.Order) error {
	if o.TakeOff == "" {
		return nil
	}
	t, err := seeTakeOff(tx, actor, o.TakeOff)
	if err != nil || t.OrderID == o.ID {
		return err
	}
	again := t.OrderID != 0
	t.OrderID, t.CustomerID = o.ID, o.CustomerID
	if again {
		t.Code = d.code(20)
		_, err = tx.AddTakeOff(actor, t)
		return err
	}
	_, err = tx.SaveTakeOff(actor, t, "ordered")
	return err
}

// readTakeOffs lays the take-offs that an order was made from.
func (s *snapshot) readTakeOffs(tx *store.Tx, actor party.Actor, orderID int64) (out []KeptRoof, err error) {
	kept, err := tx.TakeOffsOf(orderID)
	if err != nil {
		return nil, err
	}
	for _, t := range kept {
		taken, err := s.takenOff(actor, t)
		if err != nil {
			return nil, err
		}
		out = append(out, KeptRoof{t, taken})
	}
	return out, nil
}

// RoofsOf gives the take-offs that an order was made from; the order itself has
// been shown to the actor.
func (d *Desk) RoofsOf(ctx context.Context, actor party.Actor, o order.Order) (out []KeptRoof, err error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		out, err = s.readTakeOffs(tx, actor, o.ID)
		return err
	})
	return out, err
}

// saidAt is when a take-off was last changed, as its sheet is dated.
func (s *snapshot) saidAt(t store.TakeOff) time.Time { return t.UpdatedAt.In(s.seller.Location()) }

// RoofSays are the words that go with every take-off.
var RoofSays = []words.Text{
	words.Say("Field measurement governs: verify every length on site before anything is cut."),
	words.Say("Local code and the maker's instructions govern slope, fastening, underlayment and flashing. The usual values here are common practice, no published source."),
}
