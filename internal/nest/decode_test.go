package nest_test

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/nest"
)

const coilFile = `{"id": "a", "kind": "coil", "unit": "1/8 in", "params": {"lead_in": 192, "lead_out": 192, "slug": 0,
 "scrap_max": 384, "useful_min": 2400, "mat": 2500, "awkward_pct": 60, "keep": 3500000, "change": 1500000,
 "lot_split": 2500000, "short": 6000}, "coils": [{"id": "R1", "length": 7200, "lot": "P1", "remnant": true, "mounted": false},
 {"id": "R2", "length": 7200, "lot": "P2", "remnant": true, "mounted": false}],
 "lines": [{"id": "L1", "order": "O1", "length": 3264, "qty": 5}]}`

const trimFile = `{"id": "b", "kind": "trim", "material": {"gauge": 24}, "params": {"edge_trim": 0, "saw": 0, "max_strips": 99,
 "min_cut": 192, "max_cut": 4032, "setup": 6000000, "drop_min": 64, "drop_credit": 0, "pass": 150000},
 "stock": [{"id": "S", "form": "sheet", "width": 768, "length": 1920, "cost": 9200000, "count": null},
 {"id": "K", "form": "coil", "width": 320, "cost_per_unit": 2000, "count": 3}],
 "items": [{"id": "I1", "name": "rake trim", "girth": 136, "length": 1920, "qty": 10}]}`

func TestDecodeReadsBothKinds(t *testing.T) {
	coil, trim, err := nest.Decode(strings.NewReader(coilFile))
	if err != nil || trim != nil || len(coil.Coils) != 2 || coil.Lines[0].Qty != 5 || coil.Params.Short != 6000 {
		t.Fatalf("%+v %+v %v", coil, trim, err)
	}
	coil, trim, err = nest.Decode(strings.NewReader(trimFile))
	if err != nil || coil != nil || trim.Stock[0].Count != nil || *trim.Stock[1].Count != 3 || trim.Items[0].Girth != 136 {
		t.Fatalf("%+v %+v %v", coil, trim, err)
	}
}

func TestDecodeNamesTheWrongPlace(t *testing.T) {
	for _, c := range []struct{ file, old, new, field string }{
		{coilFile, `"id": "a"`, `"id": 7`, "id"},
		{coilFile, `"kind": "coil"`, `"kind": "coils"`, "kind"},
		{coilFile, `"kind": "coil", `, ``, "kind"},
		{coilFile, `"slug": 0`, `"slug": 0.5`, "params.slug"},
		{coilFile, `"slug": 0,`, ``, "params.slug"},
		{coilFile, `"slug": 0`, `"slug": -1`, "params.slug"},
		{coilFile, `"slug": 0`, `"slug": 0, "slag": 0`, "params.slag"},
		{coilFile, `"slug": 0`, `"slug": 0, "slug": 1`, "params.slug"},
		{coilFile, `"length": 7200, "lot": "P2"`, `"length": "7200", "lot": "P2"`, "coils[1].length"},
		{coilFile, `"length": 7200, "lot": "P2"`, `"length": 99999999999999999999, "lot": "P2"`, "coils[1].length"},
		{coilFile, `"lot": "P2", "remnant": true`, `"lot": "P2", "remnant": 1`, "coils[1].remnant"},
		{coilFile, `"id": "R2"`, `"id": "R1"`, "coils[1].id"},
		{coilFile, `"qty": 5`, `"qty": 5, "girth": 3`, "lines[0].girth"},
		{coilFile, `"qty": 5`, `"qty": 100001`, "lines[0].qty"},
		{coilFile, `"mat": 2500`, `"mat": 1e3`, "params.mat"},
		{coilFile, `[{"id": "L1", "order": "O1", "length": 3264, "qty": 5}]`, `{}`, "lines"},
		{trimFile, `"form": "sheet"`, `"form": "plate"`, "stock[0].form"},
		{trimFile, `"cost": 9200000`, `"cost_per_unit": 9200000`, "stock[0].cost"},
		{trimFile, `"count": 3`, `"count": -3`, "stock[1].count"},
		{trimFile, `"count": 3`, `"count": true`, "stock[1].count"},
		{trimFile, `"girth": 136`, `"girth": null`, "items[0].girth"},
		{trimFile, `"min_cut": 192`, `"min_cut": 5000`, "params.min_cut"},
		{trimFile, `"drop_credit": 0`, `"drop_credit": 9`, "params.drop_credit"},
		{trimFile, `"name": "rake trim"`, `"nickname": "rake trim"`, "items[0].nickname"},
	} {
		file := strings.Replace(c.file, c.old, c.new, 1)
		if file == c.file {
			t.Fatalf("%q isn't in the file", c.old)
		}
		_, _, err := nest.Decode(strings.NewReader(file))
		if !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", c.new, err)
			continue
		}
		if got := fault.All(err)[0].Field; got != c.field {
			t.Errorf("%s: field %q, want %q (%v)", c.new, got, c.field, err)
		}
	}
	for _, file := range []string{"", "{", "[]", "null", "7", coilFile + "{}", coilFile + "x", strings.Repeat("[", 100_000)} {
		if _, _, err := nest.Decode(strings.NewReader(file)); !fault.Is(err, fault.Invalid) {
			t.Errorf("%.20q: %v", file, err)
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(coilFile))
	f.Add([]byte(trimFile))
	f.Add([]byte(`{"id":"x","kind":"trim","params":{}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		coil, trim, err := nest.Decode(bytes.NewReader(data))
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("not a fault about the input: %v", err)
			}
			return
		}
		// What is accepted is written and read back the same.
		var whole any = coil
		if coil == nil {
			whole = trim
		}
		again, err := json.Marshal(whole)
		if err != nil {
			t.Fatal(err)
		}
		c2, t2, err := nest.Decode(bytes.NewReader(again))
		if trim == nil && err != nil {
			t.Fatalf("%s: %v", again, err)
		}
		if c2 != nil && small(len(coil.Coils)*len(coil.Lines)) {
			if r, err := nest.Allocate(context.Background(), c2, nest.Settings{Iterations: 20}); err != nil {
				t.Fatal(err)
			} else if cost, err := nest.CheckCoils(c2, r.Cuts); err != nil || cost != r.Cost || r.Bound > r.Cost {
				t.Fatalf("cost %d, checked %d, bound %d: %v", r.Cost, cost, r.Bound, err)
			}
		}
		if t2 != nil && small(len(t2.Items)*len(t2.Stock)) {
			if _, err := nest.Nest(context.Background(), t2, nest.Settings{Iterations: 5}); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func small(n int) bool { return n < 50 }
