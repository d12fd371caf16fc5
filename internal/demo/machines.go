package demo

import (
	"context"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// The machines. Changeover minutes lie in the ranges that the trade gives
// (common practice, no published source).
const (
	former = "FORMER"
	gutter = "GUTTER"
	folder = "FOLDER"
)

func (s *shop) addMachines(ctx context.Context) error { return put(ctx, s, machines()...) }

func machines() []stock.Machine {
	coil := []string{"material", "gauge", "width", "colour"}
	return []stock.Machine{
		{
			Code: former, Name: "Panel former", ServiceFeet: 20_000, ServiceHours: 250, ServiceMinutes: 360, Profiles: []string{"SEAM16", "LOCK18", "RIB36", "WAVE32", "BATTEN12"}, MaxStrip: span("43 in"),
			Speed: money.Int(70), Shear: money.Int(4), Handling: money.Int(12), Allowance: money.Must("0.10"), LeadIn: span("3 ft"), LeadOut: span("1 ft"),
			Rule: []stock.ChangePart{
				{Name: "rollers", Keys: []string{"profile"}, Minutes: 55, Covers: []string{"gauge", "rib"}, Pairs: []stock.ChangePair{
					{From: "RIB36", To: "WAVE32", Minutes: 40}, {From: "WAVE32", To: "RIB36", Minutes: 45},
				}},
				{Name: "gauge", Keys: []string{"material", "gauge"}, Minutes: 15},
				{Name: "coil", Keys: coil, Minutes: 14, Scrap: span("4 ft")},
				{Name: "rib", Keys: []string{"rib"}, Minutes: 8},
			},
			Setup: map[string]string{"profile": "SEAM16", "material": "AZ50", "gauge": "24 ga", "width": span("20 in").String(), "colour": "CHAR", "rib": "pencil"},
			Week: []stock.Window{
				hours(time.Monday, 7, 15), hours(time.Tuesday, 7, 12), hours(time.Wednesday, 12, 17), hours(time.Thursday, 7, 15), hours(time.Friday, 7, 13),
			},
		},
		{
			Code: gutter, Name: "Gutter machine", ServiceFeet: 5_000, ServiceMinutes: 90, Profiles: []string{"OGEE5", "OGEE6", "HALF6", "SPOUT34"}, MaxStrip: span("15 in"),
			Speed: money.Int(45), Shear: money.Int(6), Handling: money.Int(20), Allowance: money.Must("0.10"), LeadIn: span("2 ft"), LeadOut: span("1 ft"),
			Rule: []stock.ChangePart{
				{Name: "rollers", Keys: []string{"profile"}, Minutes: 45, Covers: []string{"gauge"}},
				{Name: "gauge", Keys: []string{"material", "gauge"}, Minutes: 10},
				{Name: "coil", Keys: coil, Minutes: 10, Scrap: span("2 ft")},
			},
			Setup: map[string]string{"profile": "OGEE5", "material": "AL", "gauge": "0.032 in", "width": span("11.75 in").String(), "colour": "WHT"},
			Week:  workdays(7, 11),
		},
		{
			Code: folder, Name: "Folder", ServiceHours: 20, ServiceMinutes: 60, Folder: true, MaxStrip: span("48 in"), Speed: money.Int(0), Shear: money.Int(6), Handling: money.Int(36),
			Allowance: money.Must("0.10"), Bend: money.Int(20), Hem: money.Int(30), Slit: money.Must("1.5"), MinLeg: span("3/8 in"), MaxFold: span("10 ft 6 in"),
			Rule: []stock.ChangePart{{Name: "coil", Keys: coil, Minutes: 6}},
			Week: workdays(8, 16),
		},
	}
}

func hours(day time.Weekday, from, to int) stock.Window {
	return stock.Window{Day: day, From: from * 60, To: to * 60}
}

func workdays(from, to int) (week []stock.Window) {
	for day := time.Monday; day <= time.Friday; day++ {
		week = append(week, hours(day, from, to))
	}
	return week
}

// buying is how a metal is bought in some widths and colours.
type buying struct {
	material, gauge string
	widths          []string
	colours         []string
	perPound        string // painted; mill finish is cheaper by bare
	bare            string
	scrap           string
	coilLb, lead    int
	supplier        string
}

var buys = []buying{
	{"AZ50", "24 ga", []string{"20 in", "23 in", "16 in", "48 in"}, []string{"MILL", "WHT", "GRN", "BRZ", "CHAR"}, "1.21", "0.20", "0.15", 3800, 6, "Demo Coil Supply"},
	{"AZ50", "26 ga", []string{"41 in", "16 in", "48 in"}, []string{"MILL", "WHT", "TAN", "RED", "CHAR"}, "1.16", "0.19", "0.15", 4500, 5, "Demo Coil Supply"},
	{"AZ50", "29 ga", []string{"41 in"}, []string{"MILL", "WHT", "TAN", "RED", "BLU", "CHAR"}, "1.14", "0.19", "0.15", 4500, 5, "Demo Coil Supply"},
	{"G90", "24 ga", []string{"48 in"}, []string{"MILL"}, "0.94", "0", "0.14", 4000, 7, "Invented Steel Service"},
	{"G90", "26 ga", []string{"41 in", "48 in"}, []string{"MILL"}, "0.93", "0", "0.14", 4000, 7, "Invented Steel Service"},
	{"G90", "29 ga", []string{"41 in"}, []string{"MILL"}, "0.92", "0", "0.14", 4000, 7, "Invented Steel Service"},
	{"AL", "0.032 in", []string{"11.75 in", "15 in", "24 in"}, []string{"MILL", "WHT", "TAN", "BRZ"}, "2.86", "0.34", "0.70", 420, 4, "Demo Aluminum House"},
	{"AL", "0.040 in", []string{"20 in", "48 in"}, []string{"MILL", "BRZ", "CHAR"}, "2.92", "0.34", "0.70", 1400, 9, "Demo Aluminum House"},
	{"CU", "16 oz", []string{"11.75 in", "20 in", "24 in"}, []string{"BARE"}, "7.15", "0", "3.60", 520, 12, "Invented Copper Works"},
}

// short writes a gauge or width as supply codes do: 24 ga is 24, 0.032 in is 032.
func short(s string) string {
	out := ""
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			out += string(r)
		case r == '.' && out != "0":
			out += "."
		case r == '.':
			out = ""
		}
	}
	return out
}

// supplies lists how each strip is bought on a day.
func supplies(day string) (out []stock.Supply) {
	for _, b := range buys {
		for _, w := range b.widths {
			for _, c := range b.colours {
				price := money.Must(b.perPound)
				if c == "MILL" {
					price = price.Sub(money.Must(b.bare))
				}
				out = append(out, stock.Supply{
					Code: b.material + "-" + short(b.gauge) + "-" + short(w) + "-" + c, Name: b.material + " " + b.gauge + " " + w + " " + c,
					Strip: stock.Strip{Material: b.material, Gauge: b.gauge, Width: span(w), Colour: c}, Supplier: b.supplier,
					PerPound: price, Freight: money.Must("0.05"), Scrap: money.Must(b.scrap), CostDay: day,
					Loss: money.Must("0.015"), LeadDays: b.lead, CoilLb: b.coilLb,
				})
			}
		}
	}
	return out
}

func (s *shop) addSupplies(ctx context.Context) error {
	return put(ctx, s, supplies(s.start.AddDate(0, 0, -12).Format(time.DateOnly))...)
}

// rack is a coil that stands in the shop, or comes on a day of the three weeks.
type rack struct {
	material, gauge, width, colour string
	pounds                         int64 // as weighed; else
	feet                           string
	lot                            string
	day                            int // days after the start
	remnant                        bool
}

var racks = []rack{
	{"AZ50", "24 ga", "20 in", "CHAR", 3760, "", "L-2210", 0, false},
	{"AZ50", "24 ga", "20 in", "CHAR", 0, "312 ft", "L-2164", 0, true},
	{"AZ50", "24 ga", "20 in", "WHT", 3610, "", "L-2198", 0, false},
	{"AZ50", "24 ga", "20 in", "GRN", 2480, "", "L-2201", 0, false},
	{"AZ50", "24 ga", "20 in", "GRN", 0, "148 ft 6 in", "L-2117", 0, true},
	{"AZ50", "24 ga", "20 in", "BRZ", 3105, "", "L-2205", 0, false},
	{"AZ50", "24 ga", "23 in", "CHAR", 3900, "", "L-2211", 0, false},
	{"AZ50", "24 ga", "23 in", "BRZ", 2200, "", "L-2206", 0, false},
	{"AZ50", "24 ga", "16 in", "WHT", 1850, "", "L-2199", 0, false},
	{"AZ50", "24 ga", "16 in", "CHAR", 1720, "", "L-2212", 0, false},
	{"AZ50", "24 ga", "16 in", "BRZ", 1510, "", "L-2207", 0, false},
	{"AZ50", "24 ga", "16 in", "GRN", 0, "410 ft", "L-2202", 0, true},
	{"AZ50", "26 ga", "16 in", "RED", 1640, "", "L-2190", 0, false},
	{"AZ50", "24 ga", "48 in", "CHAR", 2600, "", "L-2213", 0, false},
	{"AZ50", "24 ga", "48 in", "WHT", 2450, "", "L-2200", 0, false},
	{"AZ50", "24 ga", "48 in", "BRZ", 1900, "", "L-2208", 0, false},
	{"AZ50", "24 ga", "48 in", "GRN", 1450, "", "L-2203", 0, false},
	{"AZ50", "26 ga", "48 in", "WHT", 1700, "", "L-2186", 0, false},
	{"AZ50", "26 ga", "48 in", "RED", 1650, "", "L-2187", 0, false},
	{"AZ50", "26 ga", "41 in", "WHT", 4420, "", "L-2188", 0, false},
	{"AZ50", "26 ga", "41 in", "RED", 4510, "", "L-2189", 0, false},
	{"AZ50", "26 ga", "41 in", "TAN", 0, "205 ft", "L-2090", 0, true},
	{"AZ50", "29 ga", "41 in", "WHT", 4480, "", "L-2191", 0, false},
	{"AZ50", "29 ga", "41 in", "RED", 4390, "", "L-2192", 0, false},
	{"AZ50", "29 ga", "41 in", "BLU", 2950, "", "L-2193", 0, false},
	{"AZ50", "29 ga", "41 in", "MILL", 4520, "", "", 0, false},
	{"G90", "26 ga", "41 in", "MILL", 3980, "", "", 0, false},
	{"G90", "26 ga", "48 in", "MILL", 2100, "", "", 0, false},
	{"AL", "0.032 in", "11.75 in", "WHT", 405, "", "A-311", 0, false},
	{"AL", "0.032 in", "11.75 in", "BRZ", 398, "", "A-312", 0, false},
	{"AL", "0.032 in", "15 in", "WHT", 422, "", "A-313", 0, false},
	{"AL", "0.032 in", "15 in", "BRZ", 0, "96 ft", "A-286", 0, true},
	{"AL", "0.040 in", "20 in", "BRZ", 910, "", "A-290", 0, false},
	{"CU", "16 oz", "20 in", "BARE", 505, "", "K-41", 0, false},
	{"CU", "16 oz", "11.75 in", "BARE", 300, "", "K-42", 0, false},
	{"AZ50", "24 ga", "20 in", "CHAR", 3820, "", "L-2240", 6, false},
	{"AL", "0.032 in", "11.75 in", "WHT", 412, "", "A-320", 8, false},
	{"AZ50", "26 ga", "41 in", "CHAR", 4460, "", "L-2236", 9, false},
	{"AZ50", "29 ga", "41 in", "TAN", 4505, "", "L-2238", 12, false},
	{"AL", "0.032 in", "15 in", "BRZ", 415, "", "A-324", 13, false},
	{"AZ50", "26 ga", "16 in", "WHT", 1600, "", "L-2241", 5, false},
	{"AZ50", "26 ga", "41 in", "RED", 4380, "", "L-2244", 14, false},
	{"AZ50", "24 ga", "16 in", "CHAR", 1900, "", "L-2247", 16, false},
	{"AZ50", "24 ga", "23 in", "WHT", 1250, "", "L-2250", 15, false},
}

// addCoils takes the racks of the first day in and mounts what the machines
// stand in; the others come later.
func (s *shop) addCoils(ctx context.Context) error {
	for _, r := range racks {
		if r.day != 0 {
			continue
		}
		if err := s.receive(ctx, r); err != nil {
			return err
		}
	}
	if err := s.mountOne(ctx, former, stock.Strip{Material: "AZ50", Gauge: "24 ga", Width: span("20 in"), Colour: "CHAR"}); err != nil {
		return err
	}
	return s.mountOne(ctx, gutter, stock.Strip{Material: "AL", Gauge: "0.032 in", Width: span("11.75 in"), Colour: "WHT"})
}

func (s *shop) mountOne(ctx context.Context, machine string, strip stock.Strip) error {
	coils, err := s.Coils(ctx)
	if err != nil {
		return err
	}
	for _, c := range coils {
		if c.Strip == strip && !c.Remnant {
			return s.MountCoil(ctx, s.as(party.Operator), c.ID, machine)
		}
	}
	return nil
}

// receive takes a coil in at what its supplier asks: by weight, or for a
// remnant, that is measured, by the weight its feet come to.
func (s *shop) receive(ctx context.Context, r rack) error {
	receipt := desk.Receipt{
		Strip: stock.Strip{Material: r.material, Gauge: r.gauge, Width: span(r.width), Colour: r.colour},
		Lot:   r.lot, Remnant: r.remnant, Pounds: money.Int(r.pounds),
	}
	weight := money.Int(r.pounds)
	if r.feet != "" {
		receipt.Feet = span(r.feet)
		weight = money.FromRat(receipt.Feet.Ratio(span("1 ft"))).Mul(money.Must("1.6"))
	}
	for _, sup := range supplies("") {
		if sup.Strip == receipt.Strip {
			landed, err := sup.PerPound.Add(sup.Freight).Mul(weight).Round(money.USD)
			if err != nil {
				return err
			}
			receipt.Supplier, receipt.Landed = sup.Supplier, landed
		}
	}
	_, err := s.ReceiveCoil(ctx, s.as(party.Counter), receipt)
	return err
}
