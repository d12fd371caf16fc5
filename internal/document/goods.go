package document

import "ribdesk/internal/money"

// line gives the goods in one line, for the row over their lengths.
func (g Goods) line() string {
	return join("  ·  ", g.Profile, g.Gauge, g.Material, g.Coating, g.Colour)
}

// lines sets priced lines, a group row wherever the goods change.
func (c *composer) lines(lines []Line) {
	c.title(c.t(wLines))
	cols := []column{
		{title: c.t(wNo), width: 10},
		{title: c.t(wPieces), width: 18, right: true, size: 10.5, face: bold},
		{title: c.t(wLength), size: 10.5, face: bold},
		{title: c.t(wQuantity), width: 26, right: true},
		{title: c.t(wUnit), width: 14},
		{title: c.t(wUnitPrice), width: 24, right: true},
		{title: c.t(wNet), width: 30, right: true},
	}
	var rows []record
	var last Goods
	for _, l := range lines {
		if l.Goods != last && l.Goods != (Goods{}) {
			rows = append(rows, record{group: l.Goods.line(), hex: l.ColourHex})
		}
		last = l.Goods
		what := join(", ", l.Name, c.lengthOrNone(l.Length))
		rows = append(rows, record{
			cells: []string{l.Mark, count(l.Pieces), what, number(l.Quantity), l.Unit, price(l.UnitPrice), l.Net.String()},
			note:  join("; ", c.folding(l), l.Note),
		})
	}
	c.table(cols, rows)
}

// folding says how trim is made.
func (c *composer) folding(l Line) string {
	if l.Girth == 0 {
		return ""
	}
	return join(", ", c.t(wGirth)+" "+c.across(l.Girth), counted(l.Bends, c.t(wBends)), counted(l.Hems, c.t(wHems)))
}

func counted(n int, what string) string {
	if n == 0 {
		return ""
	}
	return itoa(n) + " " + what
}

// charges sets each charge and allowance on a line of its own.
func (c *composer) charges(charges []Charge) {
	if len(charges) == 0 {
		return
	}
	c.title(c.t(wCharges))
	var rows []record
	for _, ch := range charges {
		rows = append(rows, record{cells: []string{ch.Name, ch.Reason, ch.Net.String()}})
	}
	c.table([]column{
		{title: c.t(wCharge), width: 52, face: bold}, {title: c.t(wReason)}, {title: c.t(wNet), width: 30, right: true},
	}, rows)
}

// reckoning is the way from the lines' sum to the total.
func (c *composer) reckoning(subtotal money.Amount, taxes []Tax, exempt []Exemption, taxWord word) []sum {
	rows := []sum{{name: c.t(wSubtotal), figure: subtotal.String()}}
	for _, t := range taxes {
		rows = append(rows, sum{name: c.f(taxWord, t.Jurisdiction, t.Rate.Percent(), t.Base.String()), figure: t.Tax.String()})
	}
	for _, e := range exempt {
		why := e.Reason
		if e.Certificate != "" {
			why = join(", ", why, c.f(wCertificate, e.Certificate, e.State, c.date(e.Expires)))
		}
		rows = append(rows, sum{name: c.f(wNoTax, e.Base.String(), why), figure: money.Cents(0, subtotal.Currency()).String()})
	}
	return rows
}
