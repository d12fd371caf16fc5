package desk_test

import (
	"bytes"
	"strconv"
	"strings"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/roof"
	"ribdesk/internal/stock"
)

const charcoalSteel = "AZ50|24 ga|CHAR"

// gableHouse is a roof of two planes alike: 40 ft of eave, 12 ft of run at 9 in
// 12, so rafters of exactly 15 ft.
func gableHouse(t *testing.T, w *works, profile string) desk.RoofAsk {
	t.Helper()
	a, err := w.UsualRoof(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	a.Name, a.Profile, a.Metal = "Gable house", profile, charcoalSteel
	a.Roof.Rules, err = w.RoofRules(t.Context(), profile)
	if err != nil {
		t.Fatal(err)
	}
	a.Rib = map[string]string{"SEAM16": "pencil", "LOCK18": "plain"}[profile]
	p := &a.Roof.Planes[0]
	p.Copies, p.Pitch, p.Eave, p.Up = 2, roof.Rising(9), 40*measure.Foot, 12*measure.Foot
	return a
}

func TestTakeOffComposesTheOrder(t *testing.T) {
	w := newWorks(t)
	taken, err := w.TakeOffRoof(t.Context(), visitor, gableHouse(t, w, "SEAM16"))
	if err != nil || len(taken.Refused) > 0 {
		t.Fatal(err, taken.Refused)
	}
	// 30 panels a side, 15 ft and 1 in over the eave, 1 in hem, 1 in off at the
	// ridge. Clips: 29 seams of 15 ft at 24 in, 9 each, both sides. Screws for
	// them two each; they come in boxes of 250. Trim by the piece of 10' 6": eaves
	// of 40 ft take 4 with laps of 4 in, the ridge 4, rakes of 15 ft 2, Z-closures 4.
	want := map[string]string{
		"SEAM16": "60 @ 15' 1\" A1-A30", "EAVE": "8 @ 10' 6\"", "RIDGE": "4 @ 10' 6\"", "RAKE": "8 @ 10' 6\"", "ZCLOSURE": "8 @ 10' 6\"",
		"CLIP-FIX": "522", "SCREW-PAN": "5", "SCREW-HEX": "2", "BUTYL": "2",
	}
	for _, l := range taken.Lines {
		got := strconv.Itoa(l.Count)
		if l.Kind != order.Accessory {
			got = strings.TrimSpace(strconv.Itoa(l.Cuts[0].Qty) + " @ " + l.Cuts[0].Length.String() + " " + l.Cuts[0].Mark)
		}
		if want[l.Code] != got {
			t.Errorf("%s: %s, want %s", l.Code, got, want[l.Code])
		}
		delete(want, l.Code)
		if l.Kind != order.Accessory && (l.Material != "AZ50" || l.Gauge != "24 ga" || l.Colour != "CHAR") {
			t.Errorf("%s is of %s %s %s", l.Code, l.Material, l.Gauge, l.Colour)
		}
	}
	if len(want) > 0 {
		t.Errorf("not on the order: %v", want)
	}
	// The order is one that the desk can price.
	if _, err := w.Ask(t.Context(), visitor, order.Order{Fulfil: order.PickUp, Lines: taken.Lines}); err != nil {
		t.Error(err)
	}
}

func TestTakeOffOfScrewedPanels(t *testing.T) {
	w := newWorks(t)
	a := gableHouse(t, w, "RIB36")
	a.Metal = "AZ50|26 ga|CHAR"
	a.Parts[desk.PartInside] = "" // they have closures
	taken, err := w.TakeOffRoof(t.Context(), clerk, a)
	if err != nil {
		t.Fatal(err)
	}
	codes := map[string]bool{}
	for _, l := range taken.Lines {
		codes[l.Code] = true
	}
	if codes["CLIP-FIX"] || codes["ZCLOSURE"] || codes["CLOSURE-IN"] || !codes["CLOSURE-OUT"] || !codes["SCREW-HEX"] {
		t.Errorf("lines %v", codes)
	}
	for _, p := range taken.Parts {
		if p.Part == desk.PartInside && (p.Count == 0 || p.Item.Code != "") {
			t.Errorf("closures not chosen are still counted, and not ordered: %+v", p)
		}
	}
}

func TestTakeOffRefuses(t *testing.T) {
	w := newWorks(t)
	for field, change := range map[string]func(*desk.RoofAsk){
		"profile":             func(a *desk.RoofAsk) { a.Profile = "OGEE5" },
		"metal":               func(a *desk.RoofAsk) { a.Metal = "CU|16 oz|CHAR" },
		"rib":                 func(a *desk.RoofAsk) { a.Rib = "wavy" },
		"name":                func(a *desk.RoofAsk) { a.Name = "a\nb" },
		"roof.planes.0.eave":  func(a *desk.RoofAsk) { a.Roof.Planes[0].Eave = 0 },
		"roof.planes.0.up":    func(a *desk.RoofAsk) { a.Roof.Planes[0].Up = 40 * measure.Foot }, // 50 ft: hauled up to 44
		"roof.rules.step":     func(a *desk.RoofAsk) { a.Roof.Rules.Step = 0 },
		"roof.planes":         func(a *desk.RoofAsk) { a.Roof.Planes = nil },
		"roof.planes.0.pitch": func(a *desk.RoofAsk) { a.Roof.Planes[0].Pitch = roof.Pitch{} },
	} {
		a := gableHouse(t, w, "SEAM16")
		change(&a)
		if _, err := w.KeepTakeOff(t.Context(), clerk, "", 0, a); !fault.Is(err, fault.Invalid) || fault.All(err)[0].Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
	if list, err := w.TakeOffs(t.Context(), boss); err != nil || len(list) > 0 {
		t.Errorf("kept all the same: %v, %v", list, err)
	}
}

// A take-off is kept, changed and ordered; it goes with the order, and its sheet
// with the quote. Another firm never sees it.
func TestTakeOffGoesWithItsOrder(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	k, err := w.KeepTakeOff(ctx, buyer, "", 0, gableHouse(t, w, "SEAM16"))
	if err != nil || k.CustomerID != tradeFirm || len(k.Code) < 20 {
		t.Fatalf("%+v, %v", k.TakeOff, err)
	}
	if _, err := w.TakeOff(ctx, rival, k.Code); !fault.Is(err, fault.NotFound) {
		t.Errorf("the rival opens it: %v", err)
	}
	if _, err := w.TakeOff(ctx, visitor, k.Code); !fault.Is(err, fault.NotFound) {
		t.Errorf("a visitor opens it: %v", err)
	}
	if _, err := w.KeepTakeOff(ctx, rival, k.Code, k.Version, k.Ask); !fault.Is(err, fault.NotFound) {
		t.Errorf("the rival changes it: %v", err)
	}
	if list, err := w.TakeOffs(ctx, rival); err != nil || len(list) > 0 {
		t.Errorf("the rival's list: %v, %v", list, err)
	}
	changed := k.Ask
	changed.Name = "Gable house, south"
	again, err := w.KeepTakeOff(ctx, buyer, k.Code, k.Version, changed)
	if err != nil || again.Code != k.Code || again.Version != 2 {
		t.Fatalf("%+v, %v", again.TakeOff, err)
	}
	if _, err := w.KeepTakeOff(ctx, buyer, k.Code, 1, changed); !fault.Is(err, fault.Conflict) {
		t.Errorf("an old version is saved over a new one: %v", err)
	}

	ask, err := w.RoofOrder(ctx, buyer, k.Code)
	if err != nil {
		t.Fatal(err)
	}
	o, err := w.TakeOrder(ctx, buyer, ask)
	if err != nil {
		t.Fatal(err)
	}
	if o.Job != "Gable house, south" || o.Lines[0].Cuts[0].Mark != "A1-A30" {
		t.Errorf("order %s: %+v", o.Job, o.Lines[0])
	}
	roofs, err := w.RoofsOf(ctx, buyer, o)
	if err != nil || len(roofs) != 1 || roofs[0].OrderID != o.ID || roofs[0].Result.Pieces != 60 {
		t.Fatalf("roofs %v, %v", roofs, err)
	}
	// Ordered, it stands as it was; what is changed is a new one, and ordered again
	// the order has one of its own.
	next, err := w.KeepTakeOff(ctx, buyer, k.Code, roofs[0].Version, changed)
	if err != nil || next.Code == k.Code || next.CustomerID != tradeFirm {
		t.Fatalf("%+v, %v", next.TakeOff, err)
	}
	second, err := w.TakeOrder(ctx, buyer, ask)
	if err != nil {
		t.Fatal(err)
	}
	if roofs, err = w.RoofsOf(ctx, boss, second); err != nil || len(roofs) != 1 || roofs[0].Code == k.Code {
		t.Fatalf("roofs of the second order %v, %v", roofs, err)
	}

	quoted, err := w.QuoteOrder(ctx, clerk, o.ID, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	f, err := w.OpenLink(ctx, quoted.Token)
	if err != nil {
		t.Fatal(err)
	}
	sheet := order.Paper{}
	for _, p := range f.Papers {
		if p.Kind == string(document.KindTakeOff) {
			sheet = p
		}
	}
	paper, err := w.PaperByLink(ctx, quoted.Token, sheet.ID)
	if err != nil {
		t.Fatal(err)
	}
	reprint, err := document.Reprint(document.KindTakeOff, paper.Body)
	if err != nil || !bytes.Equal(reprint, paper.PDF) {
		t.Errorf("the sheet doesn't print again the same: %v", err)
	}
	first, err := w.TakeOffSheet(ctx, buyer, k.Code)
	if err != nil {
		t.Fatal(err)
	}
	if later, err := w.TakeOffSheet(ctx, buyer, k.Code); err != nil || !bytes.Equal(first, later) {
		t.Errorf("the sheet isn't the same twice: %v", err)
	}
	if _, err := w.TakeOffSheet(ctx, rival, k.Code); !fault.Is(err, fault.NotFound) {
		t.Errorf("the rival prints it: %v", err)
	}
}

// Whoever has the code of a visitor's take-off may open it, until it is a
// customer's.
func TestVisitorsTakeOff(t *testing.T) {
	w := newWorks(t)
	k, err := w.KeepTakeOff(t.Context(), visitor, "", 0, gableHouse(t, w, "LOCK18"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.TakeOff(t.Context(), visitor, k.Code); err != nil {
		t.Error(err)
	}
	if list, err := w.TakeOffs(t.Context(), visitor); err != nil || list != nil {
		t.Errorf("a visitor has a list: %v, %v", list, err)
	}
	o, err := w.RoofOrder(t.Context(), visitor, k.Code)
	if err != nil {
		t.Fatal(err)
	}
	o.CustomerID = tradeFirm
	if _, err := w.TakeOrder(t.Context(), clerk, o); err != nil {
		t.Fatal(err)
	}
	if _, err := w.TakeOff(t.Context(), visitor, k.Code); !fault.Is(err, fault.NotFound) {
		t.Errorf("it is a customer's now, and a visitor opens it: %v", err)
	}
	if _, err := w.TakeOff(t.Context(), buyer, k.Code); err != nil {
		t.Error(err)
	}
	o.TakeOff = "NOSUCHCODE"
	if _, err := w.TakeOrder(t.Context(), clerk, o); !fault.Is(err, fault.NotFound) {
		t.Errorf("an order of a take-off that isn't there: %v", err)
	}
}

// What was kept is laid by the measures it was kept with, whatever the catalogue
// says later.
func TestTakeOffStandsAsItWasKept(t *testing.T) {
	w := newWorks(t)
	k, err := w.KeepTakeOff(t.Context(), clerk, "", 0, gableHouse(t, w, "SEAM16"))
	if err != nil {
		t.Fatal(err)
	}
	narrow, err := desk.FromShelf[stock.Profile](t.Context(), w.Desk, "SEAM16")
	if err != nil {
		t.Fatal(err)
	}
	narrow.Item.Coverage = 15 * measure.Inch
	if _, err := desk.PutOnShelf(t.Context(), w.Desk, boss, narrow); err != nil {
		t.Fatal(err)
	}
	again, err := w.TakeOff(t.Context(), clerk, k.Code)
	if err != nil || again.Result.Pieces != 60 {
		t.Errorf("%d pieces, %v", again.Result.Pieces, err)
	}
	if fresh, err := w.TakeOffRoof(t.Context(), clerk, k.Ask); err != nil || fresh.Result.Pieces != 64 {
		t.Errorf("taken off anew: %d pieces, %v", fresh.Result.Pieces, err)
	}
}
