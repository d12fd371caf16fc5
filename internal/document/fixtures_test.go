package document_test

import (
	"fmt"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// The shop, people and prices here are invented.

var zone = time.FixedZone("shop", -5*3600)

func day(m time.Month, d int) time.Time { return time.Date(2026, m, d, 9, 30, 0, 0, zone) }

func usd(cents int64) money.Amount { return money.Cents(cents, money.USD) }

func ft(f int, in int, sixteenths int) measure.Length {
	return measure.Foot.Times(f) + measure.Inch.Times(in) + measure.Sixteenth.Times(sixteenths)
}

func head(number string) document.Head {
	return document.Head{
		Number: number, Revision: 2, State: "issued", Issued: day(time.May, 4), By: "Dana Ruiz", Code: number, Link: "https://desk.example/p/" + number,
		Seller: document.Firm{
			Name: "Fern Hollow Metal Works LLC", Address: party.Address{Street: "18 Quarry Lane", City: "Fern Hollow", State: "OH", Postal: "43000", Country: "US"},
			Phone: "555-0142", Email: "desk@fernhollow.example", Registration: "LLC-204418", TaxNumber: "00-0000000",
		},
		Customer: document.Firm{
			Name: "Kestrel Roofing Co.", Contact: "Lou Abara", Address: party.Address{Street: "402 Mill Street", City: "Otter Bend", State: "OH", Postal: "43001", Country: "US"},
			Phone: "555-0177", Email: "lou@kestrel.example", TaxNumber: "00-1111111",
		},
		ShipTo: document.Place{Name: "Barn on Ridge Road", Address: party.Address{Street: "77 Ridge Road", City: "Otter Bend", State: "OH", Postal: "43001", Country: "US"}, Contact: "Sam", Phone: "555-0190"},
		Job:    "Ridge Road barn", PO: "KR-889",
	}
}

func goods() document.Goods {
	return document.Goods{Profile: "R-16 standing rib", Gauge: "24 ga (0.0232 in nominal)", Material: "coated steel", Coating: "G50 zinc, painted", Colour: "Barn red", ColourHex: "#7a1f1c"}
}

func lines() []document.Line {
	g, trim := goods(), goods()
	trim.Profile = "Trim"
	return []document.Line{
		{Mark: "1", Goods: g, Pieces: 30, Length: ft(22, 4, 0), Quantity: money.Int(670), Unit: "ft", UnitPrice: money.Must("3.05"), Net: usd(204350)},
		{Mark: "2", Goods: g, Pieces: 18, Length: ft(14, 8, 0), Quantity: money.Int(264), Unit: "ft", UnitPrice: money.Must("3.05"), Net: usd(80520)},
		{Mark: "3", Goods: g, Pieces: 12, Length: ft(9, 6, 3), Quantity: money.Must("114.19"), Unit: "ft", UnitPrice: money.Must("3.05"), Net: usd(34770)},
		{Mark: "4", Goods: trim, Name: "Ridge cap", Pieces: 11, Length: ft(10, 0, 0), Girth: ft(1, 0, 0), Bends: 4, Hems: 2, Quantity: money.Int(11), Unit: "ea", UnitPrice: money.Must("26.27"), Net: usd(28897)},
	}
}

func charges() []document.Charge {
	return []document.Charge{
		{Name: "Changeover", Reason: "rollers and coil, 55 min", Net: usd(6337)},
		{Name: "Minimum", Reason: "not reached, no charge", Net: usd(0)},
		{Name: "Packing", Reason: "2 bundles", Net: usd(5000)},
		{Name: "Delivery", Reason: "24 mi, over 20 ft", Net: usd(17340)},
	}
}

func ridge() drawing.Section {
	pts := []drawing.Point{{X: 0.4, Y: -0.4}, {X: 0, Y: 0}, {X: 5.5, Y: 1.6}, {X: 11, Y: 0}, {X: 10.6, Y: -0.4}}
	return drawing.Section{
		Title: "Ridge cap, girth 12″", Points: pts, Painted: drawing.PaintedLeft, SideNote: "painted side", Colour: drawing.Swatch("Barn red", "#7a1f1c"),
		Dims: drawing.LegDims(pts, []string{"½″", "5½″", "5½″", "½″"}),
	}
}

func rib() drawing.Section {
	pts := []drawing.Point{{X: 0, Y: 0}, {X: 0, Y: 1}, {X: 0.75, Y: 1}, {X: 1.25, Y: 0}, {X: 15.25, Y: 0}, {X: 15.25, Y: 1}, {X: 16, Y: 1}, {X: 16.4, Y: 0.2}}
	return drawing.Section{Title: "R-16, 16″ cover", Points: pts, Painted: drawing.PaintedLeft, SideNote: "painted side", Colour: drawing.Swatch("Barn red", "#7a1f1c"),
		Dims: []drawing.SectionDim{{From: pts[0], To: drawing.Point{X: 16}, Label: "1′ 4″"}, {From: drawing.Point{X: 16.4}, To: drawing.Point{X: 16.4, Y: 1}, Label: "1″"}}}
}

func quote() *document.Quote {
	return &document.Quote{
		Head: head("Q-1042"), ValidUntil: day(time.June, 3), Lines: lines(), Charges: charges(), Subtotal: usd(377214),
		Taxes: []document.Tax{{Jurisdiction: "Otter County", Base: usd(353537), Rate: money.Must("0.07"), Tax: usd(24748)}},
		Total: usd(401962), Deposit: usd(200981), Terms: "50 % deposit, net 30", LeadTime: "5 working days (estimate)", Pounds: 1742, Longest: ft(22, 4, 0),
		Alone:    &document.Offer{Total: usd(411384), Ready: day(time.May, 8)},
		Sharing:  &document.Offer{Total: usd(401962), Ready: day(time.May, 12), Condition: "runs with R-16 Barn red planned for May 11; accept by May 7 noon", Chosen: true},
		Sections: []drawing.Section{rib(), ridge()}, TermsVersion: "2026-01",
	}
}

func cuts() []document.Bundle {
	return []document.Bundle{
		{Number: 1, Of: 2, Code: "B-1042-1", Pieces: 30, Longest: ft(22, 4, 0), Pounds: 1104, Cuts: []document.Cut{
			{Order: "O-1042", Mark: "1", Customer: "Kestrel Roofing Co.", Pieces: 30, Length: ft(22, 4, 0), Running: ft(670, 0, 0), Pounds: 1104},
		}},
		{Number: 2, Of: 2, Code: "B-1042-2", Pieces: 30, Longest: ft(14, 8, 0), Pounds: 623, Cuts: []document.Cut{
			{Order: "O-1042", Mark: "2", Customer: "Kestrel Roofing Co.", Pieces: 18, Length: ft(14, 8, 0), Running: ft(264, 0, 0), Pounds: 435},
			{Order: "O-1042", Mark: "3", Customer: "Kestrel Roofing Co.", Pieces: 12, Length: ft(9, 6, 3), Running: ft(114, 2, 4), Pounds: 188, Note: "notch one end 1½″"},
		}},
	}
}

func loadView() *drawing.Load {
	red := drawing.Swatch("Barn red", "#7a1f1c")
	return &drawing.Load{
		Title: "Load 12", Deck: ft(18, 0, 0), Breadth: ft(8, 0, 0), DeckLabel: "18′ deck", Blocked: true, FlagWord: "flag",
		Bundles: []drawing.LoadBundle{
			{Label: "1", X: 0, Y: ft(1, 0, 0), Length: ft(22, 4, 0), Breadth: ft(2, 0, 0), Height: ft(0, 9, 0), Metal: red},
			{Label: "2", X: 0, Y: ft(1, 0, 0), Z: ft(0, 9, 0), Length: ft(14, 8, 0), Breadth: ft(2, 0, 0), Height: ft(0, 7, 0), Metal: red},
		},
		TieDowns: []measure.Length{ft(3, 0, 0), ft(9, 0, 0), ft(15, 0, 0)}, Rear: drawing.Overhang{Reach: ft(4, 4, 0), Label: "4′ 4″", Flagged: true},
	}
}

func invoice(n int) *document.Invoice {
	i := &document.Invoice{
		Head: head("INV-2031"), Order: "O-1042", Ticket: "D-771", Supplied: day(time.May, 12), Due: day(time.June, 11), Terms: "net 30",
		Lines: lines(), Charges: charges(), Subtotal: usd(377214),
		Taxes:  []document.Tax{{Jurisdiction: "State", Base: usd(324640), Rate: money.Must("0.0575"), Tax: usd(18667)}, {Jurisdiction: "Otter County", Base: usd(324640), Rate: money.Must("0.0125"), Tax: usd(4058)}},
		Exempt: []document.Exemption{{Base: usd(28897), Reason: "resale", Certificate: "RC-5520", State: "OH", Expires: day(time.December, 31)}},
		Total:  usd(399939), Payments: []document.Payment{{Date: day(time.May, 5), What: "deposit", Reference: "check 5521", Amount: usd(200981)}},
		Paid: usd(200981), Owed: usd(198958), RemitTo: []string{"Fern Hollow Metal Works LLC, 18 Quarry Lane, Fern Hollow, OH 43000"},
	}
	i.State = "open"
	for k := len(i.Lines); k < n; k++ {
		l := lines()[k%3]
		l.Mark = fmt.Sprint(k + 1)
		i.Lines = append(i.Lines, l)
	}
	return i
}

func labels(n int) *document.BundleLabels {
	b := &document.BundleLabels{Head: head("L-1042")}
	for i := 1; i <= n; i++ {
		label := document.BundleLabel{
			Goods: goods(), Order: "O-1042", Customer: "Kestrel Roofing Co.", Job: "Ridge Road barn", Number: i, Of: n, Cuts: cuts()[1].Cuts,
			Longest: ft(22, 4, 0), Pounds: 1104, PiecePound: 37, TwoPeople: true, Code: fmt.Sprintf("B-1042-%d", i), Link: fmt.Sprintf("https://desk.example/b/B-1042-%d", i),
		}
		for k := range i * 3 {
			label.Cuts = append(label.Cuts, document.Cut{Pieces: 4 + k, Length: ft(9, 6, 0) - ft(0, k, 0)})
		}
		b.Labels = append(b.Labels, label)
	}
	return b
}

func everyPaper() map[string]document.Document {
	ack := &document.OrderAcknowledgement{
		Head: head("O-1042"), Quote: "Q-1042 rev 2", Lines: lines(), Charges: charges(), Subtotal: usd(377214),
		Exempt: []document.Exemption{{Base: usd(377214), Reason: "resale", Certificate: "RC-5520", State: "OH", Expires: day(time.December, 31)}},
		Total:  usd(377214), Deposit: usd(188607), Terms: "50 % deposit, net 30", Differences: []string{"Your PO asks for 26 ga; the quote and this order say 24 ga.", "Your PO names May 9; the window is May 12."},
		ChangeUntil: day(time.May, 8), DeliveryFrom: day(time.May, 12), DeliveryUntil: day(time.May, 12).Add(4 * time.Hour), Pounds: 1742, Longest: ft(22, 4, 0), TermsVersion: "2026-01",
		Acceptance: &document.Acceptance{Name: "Lou Abara", Title: "owner", At: day(time.May, 5), Method: "name typed on the quote's page", Origin: "192.0.2.7", Hash: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08", Consent: true},
	}
	run := &document.RunSheet{
		Head: head("RS-311"), Goods: goods(), Machine: "Panel machine", RollerSet: "R-16", Batch: "run 2 of 3", Changeover: "Coil change from Slate to Barn red, 15 min, lead 4 ft. Rollers stay.",
		SetUp: []string{"Ribs on, both sides. Guides at 20″."}, Coils: []document.CoilUse{{Number: "C-104", Lot: "7731", Heat: "H-88", Width: ft(1, 8, 0), Before: ft(1230, 0, 0), After: ft(174, 6, 0)}},
		PlannedStart: day(time.May, 11), PlannedStop: day(time.May, 11).Add(75 * time.Minute), Bundles: cuts(),
		Checks: []document.Check{{What: "first piece, bundle 1", Nominal: ft(22, 4, 0), Tolerance: ft(0, 0, 2)}, {What: "cover over ribs", Nominal: ft(1, 4, 0), Tolerance: ft(0, 0, 1)}},
		Slits: []drawing.SlitPattern{{ID: "slit", Title: "Pattern 1", Total: ft(4, 0, 0), TotalLabel: "48″", Metal: drawing.Swatch("Barn red", "#7B2D26"), Strips: []drawing.Strip{
			{Width: ft(1, 8, 0), Label: "20″: 3 × 10′"}, {Width: ft(1, 8, 0), Label: "20″: 3 × 10′"}, {Width: ft(0, 8, 0), Label: "8″", Waste: true}}}},
		Sections: []drawing.Section{rib(), ridge()},
	}
	pick := &document.PickTicket{Head: head("P-552"), Order: "O-1042", Goods: goods(), Bundles: cuts(), Items: []document.Item{{Name: "Panel screw 1½″, Barn red", Quantity: money.Int(500), Unit: "ea"}, {Name: "Closure strip, inside", Quantity: money.Int(24), Unit: "ea"}}, LoadAt: "rack 3, bay door", Pounds: 1742, Sections: []drawing.Section{ridge()}}
	delivery := &document.DeliveryTicket{
		Head: head("D-771"), Order: "O-1042", Driver: "Pat Olin", Vehicle: "truck 2 with 18′ trailer", Window: "May 12, 8:00–12:00", Packages: 3, Pounds: 1742, Longest: ft(22, 4, 0), Overhang: ft(4, 4, 0),
		Unloading: "customer's lift, forks spread", TieDowns: 3, WLLPounds: 871, Flags: 1, Load: loadView(),
		Freight: []document.Freight{
			{Bundle: "1 of 2", Order: "O-1042", Description: "R-16 panels, 24 ga coated steel, Barn red", Pieces: 30, Longest: ft(22, 4, 0), Pounds: 1104},
			{Bundle: "2 of 2", Order: "O-1042", Description: "R-16 panels, 24 ga coated steel, Barn red", Pieces: 30, Longest: ft(14, 8, 0), Pounds: 623},
		},
		Items: []document.Item{{Name: "Panel screw 1½″, Barn red", Quantity: money.Int(500), Unit: "ea"}},
	}
	signed := *delivery
	signed.State = "delivered"
	signed.Signed = &document.Signed{Name: "Sam Petrov", At: day(time.May, 12), Exceptions: []document.Exception{{Bundle: "2 of 2", What: "two sheets creased at one end", Photos: 2}}}
	credit := &document.CreditMemo{
		Head: head("CM-88"), Invoice: "INV-2031", InvoiceIssued: day(time.May, 12), Order: "O-1042", Reason: "Two sheets of bundle 2 damaged on the way.",
		Lines:    []document.Line{{Mark: "2", Goods: goods(), Pieces: 2, Length: ft(14, 8, 0), Quantity: money.Must("29.33"), Unit: "ft", UnitPrice: money.Must("3.05"), Net: usd(8946)}},
		Subtotal: usd(8946), Taxes: []document.Tax{{Jurisdiction: "State", Base: usd(8946), Rate: money.Must("0.0575"), Tax: usd(514)}}, Total: usd(9460), Applied: usd(0), Unapplied: usd(9460),
	}
	statement := &document.Statement{
		Head: head("ST-2026-06"), AsOf: day(time.June, 30),
		Items: []document.OpenItem{
			{Number: "INV-2031", Date: day(time.May, 12), Due: day(time.June, 11), PastDue: 19, Original: usd(399939), Open: usd(198958)},
			{Number: "INV-2044", Date: day(time.June, 9), Due: day(time.July, 9), Original: usd(88120), Open: usd(88120)},
		},
		Credits: []document.OpenItem{{Number: "CM-88", Date: day(time.May, 20), Original: usd(9460), Open: usd(9460)}},
		Ageing:  document.Ageing{Current: usd(88120), To30: usd(198958)}, Balance: usd(287078), Unapplied: usd(9460), ToPay: usd(277618),
	}
	tag := &document.CoilTag{Head: head("C-104"), Goods: goods(), Coil: "C-104", Lot: "7731", Heat: "H-88", Supplier: "Tall Pine Coil Supply", Width: ft(1, 8, 0), OnHand: ft(1230, 0, 0), Pounds: 2027, Received: day(time.April, 20), Place: "rack 1"}
	tag.Link = "https://desk.example/coils/C-104"
	purchase := &document.PurchaseList{Head: head("PL-19"), Supplier: "Tall Pine Coil Supply", Lines: []document.Purchase{
		{Goods: document.Goods{Gauge: "24 ga (0.0232 in nominal)", Material: "coated steel", Coating: "G50 zinc, painted", Colour: "Slate", ColourHex: "#4b5560"}, Width: ft(1, 8, 0), Short: ft(412, 6, 0), Quantity: money.Int(1), Unit: "coil", Pounds: 2000, For: []string{"O-1050", "O-1051"}, By: day(time.May, 18), OneLot: true},
		{Name: "Butyl sealant tape", Quantity: money.Int(12), Unit: "roll", For: []string{"O-1050"}},
	}}
	return map[string]document.Document{
		"quote": quote(), "acknowledgement": ack, "run-sheet": run, "labels": labels(3), "pick-ticket": pick, "delivery": delivery, "delivery-signed": &signed,
		"invoice": invoice(0), "invoice-60": invoice(60), "credit-memo": credit, "statement": statement, "coil-tag": tag, "purchase-list": purchase,
	}
}
