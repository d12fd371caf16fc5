package price

import (
	"slices"

	"ribdesk/internal/measure"
)

func (t *Tariff) check(f *form) {
	f.money("base", t.Base)
	f.figure("included", t.Included)
	f.money("per_mile", t.PerMile)
	band := Band{}
	for i, b := range t.Bands {
		field := place("bands", i)
		f.above(field+".up_to", b.UpTo, maxFigure)
		f.money(field+".charge", b.Charge)
		if b.UpTo.Cmp(band.UpTo) <= 0 {
			f.bad(field+".up_to", "each band must reach farther than the one before")
		}
		if b.Charge.Cmp(band.Charge) < 0 {
			f.bad(field+".charge", "a farther band can't cost less")
		}
		band = b
	}
	weight := WeightStep{}
	for i, w := range t.Weights {
		field := place("weights", i)
		f.figure(field+".over", w.Over)
		f.money(field+".add", w.Add)
		if i > 0 && (w.Over.Cmp(weight.Over) <= 0 || w.Add.Cmp(weight.Add) < 0) {
			f.bad(field, "each step must be heavier than the one before and cost no less")
		}
		weight = w
	}
	length := LengthStep{}
	for i, l := range t.Lengths {
		field := place("lengths", i)
		f.length(field+".over", l.Over)
		f.money(field+".add", l.Add)
		if i > 0 && (l.Over <= length.Over || l.Add.Cmp(length.Add) < 0) {
			f.bad(field, "each step must be longer than the one before and cost no less")
		}
		length = l
	}
}

func (o *Onsite) check(f *form, centers []string) {
	f.known("center", o.Center, centers, "center")
	f.above("mph", o.Mph, hundred)
	f.money("per_mile", o.PerMile)
	f.between("setup_hours", o.SetupHours, hundred)
	f.money("minimum", o.Minimum)
	f.length("minimum_feet", o.MinimumFeet)
}

func (t Tax) check(f *form) {
	oneOf(f, "basis", t.Basis, PerDocument, PerItem)
	ids(f, "jurisdictions", t.Jurisdictions, func(j Jurisdiction) string { return j.ID })
	for i, j := range t.Jurisdictions {
		field := place("jurisdictions", i)
		f.share(field+".rate", j.Rate)
		oneOf(f, field+".delivery", j.Delivery, DeliveryUntaxed, DeliveryTaxed, DeliveryAsGoods)
		if len(j.State) != 2 {
			f.bad(field+".state", "give the state as two letters")
		}
	}
}

// names are the ids that an order may refer to.
type names struct{ centers, setups []string }

func (o *Order) check(f *form, s *Shop) {
	var n names
	for _, c := range s.Centers {
		n.centers = append(n.centers, c.ID)
	}
	f.day("day", o.Day, true)
	if len(o.Items) == 0 {
		f.bad("items", "an order needs at least one item")
	}
	f.many("items", len(o.Items), maxLines)
	f.many("setups", len(o.Setups), maxMany)
	n.setups = ids(f, "setups", o.Setups, func(s Setup) string { return s.ID })
	itemIDs := make(map[string]bool, len(o.Items))
	for i := range o.Items {
		item := &o.Items[i]
		f.part(place("items", i), func(f *form) {
			if item.ID == "" || itemIDs[item.ID] {
				f.bad("id", "every item needs an id of its own")
			}
			itemIDs[item.ID] = true
			item.check(f, s, n)
		})
	}
	for i := range o.Setups {
		f.part(place("setups", i), func(f *form) { o.Setups[i].check(f, s, n) })
	}
	o.checkUses(f)
	if o.Sharing != nil {
		f.part("sharing", func(f *form) { o.Sharing.check(f, n.setups) })
	}
	f.whole("bundles", o.Bundles, MaxPieces)
	f.share("discount", o.Discount)
	o.checkTrips(f, s)
	if c := o.Certificate; c != nil {
		f.part("certificate", c.check)
	}
	if w := o.BelowFloor; w != nil && (w.By == "" || w.Reason == "") {
		f.bad("below_floor", "say who allows a price below the floor and why")
	}
}

// checkUses refuses a set-up that no item needs, which nobody would pay, and
// one on another center than its items run on.
func (o *Order) checkUses(f *form) {
	center := map[string]string{} // of the items that need a set-up
	for i, item := range o.Items {
		if item.Formed == nil {
			continue
		}
		for _, id := range item.Formed.Setups {
			if c, seen := center[id]; seen && c != item.Formed.Center {
				f.bad(place("items", i)+".formed.setups", "set-up “%s” can't serve two centers", id)
			}
			center[id] = item.Formed.Center
		}
	}
	for i, s := range o.Setups {
		switch c, used := center[s.ID]; {
		case !used:
			f.bad(place("setups", i), "no item of the order needs this set-up")
		case c != s.Center:
			f.bad(place("setups", i)+".center", "the items that need it run on “%s”", c)
		}
	}
}

func (o *Order) checkTrips(f *form, s *Shop) {
	if o.Delivery != nil {
		f.figure("delivery.miles", o.Delivery.Miles)
		if s.Delivery == nil {
			f.bad("delivery", "the shop has no delivery tariff")
		}
	}
	if o.Onsite != nil {
		f.figure("onsite.miles", o.Onsite.Miles)
		if s.Onsite == nil {
			f.bad("onsite", "the shop doesn't form on site")
		}
	}
}

func (c *Certificate) check(f *form) {
	if c.Number == "" {
		f.bad("number", "write the certificate's number")
	}
	if len(c.State) != 2 {
		f.bad("state", "give the state as two letters")
	}
	f.day("signed", c.Signed, false)
	f.day("expires", c.Expires, true)
}

func (i *Item) check(f *form, s *Shop, n names) {
	if i.Unit != nil {
		f.money("unit_price", *i.Unit)
		if i.Unit.Shorten(4).Cmp(*i.Unit) != 0 {
			f.bad("unit_price", "a unit price has at most 4 decimals")
		}
	}
	if i.TaxClass == DeliveryLine || i.TaxClass == Mobilisation {
		f.bad("tax_class", "“%s” is kept for the charge of that name", i.TaxClass)
	}
	kinds := 0
	if i.Formed != nil {
		kinds++
		f.part("formed", func(f *form) { i.Formed.check(f, s, n) })
	}
	if i.Trim != nil {
		kinds++
		f.part("trim", func(f *form) { i.Trim.check(f, s, n) })
	}
	if i.Bought != nil {
		kinds++
		f.part("bought", i.Bought.check)
	}
	if kinds != 1 {
		f.bad("", "an item is one of formed, trim and bought")
	}
}

// stock finds the stock an item is made of.
func (f *form) stock(s *Shop, id string) *Stock {
	for i := range s.Stock {
		if s.Stock[i].ID == id {
			return &s.Stock[i]
		}
	}
	f.bad("stock", "there is no stock “%s” in this input", id)
	return nil
}

func (p *Formed) check(f *form, s *Shop, n names) {
	f.known("center", p.Center, n.centers, "center")
	for i, id := range p.Setups {
		f.known(place("setups", i), id, n.setups, "set-up")
		if slices.Contains(p.Setups[:i], id) {
			f.bad(place("setups", i), "this set-up is named twice")
		}
	}
	if st := f.stock(s, p.Stock); st != nil {
		if p.Strip < 0 || p.Strip > st.Width {
			f.bad("strip", "the strip must be no wider than the coil, %s", st.Width.Across())
		}
		if st.Sheet > 0 {
			f.bad("stock", "panels are formed from coil, not from sheets")
		}
	}
	f.above("speed", p.Speed, maxFigure)
	f.between("shear", p.Shear, maxMinutes)
	f.between("handling", p.Handling, maxMinutes)
	f.between("allowance", p.Allowance, hundred)
	f.length("kerf", p.Kerf)
	if p.Kerf > measure.Foot {
		f.bad("kerf", "a cut can't lose more than a foot")
	}
	if len(p.Cuts) == 0 {
		f.bad("cuts", "write at least one length")
	}
	f.many("cuts", len(p.Cuts), maxLines)
	for i, c := range p.Cuts {
		f.pieces(place("cuts", i)+".pieces", c.Pieces)
		f.span(place("cuts", i)+".length", c.Length)
	}
}

func (t *Trim) check(f *form, s *Shop, n names) {
	f.known("center", t.Center, n.centers, "center")
	f.stock(s, t.Stock)
	f.pieces("pieces", t.Pieces)
	f.span("length", t.Length)
	f.span("girth", t.Girth)
	f.whole("sheets", t.Sheets, MaxPieces)
	f.share("credit", t.Credit)
	f.whole("bends", t.Bends, 1000)
	f.whole("hems", t.Hems, 1000)
	for _, n := range []figure{{"slit", t.Slit}, {"bend", t.Bend}, {"hem", t.Hem}, {"handling", t.Handling}, {"setup", t.Setup}} {
		f.between(n.name, n.value, maxMinutes)
	}
	f.between("allowance", t.Allowance, hundred)
}

func (b *Bought) check(f *form) {
	f.pieces("pieces", b.Pieces)
	f.money("each", b.Each)
	f.figure("weight", b.Weight)
	f.day("dated", b.Dated, false)
}

func (s *Setup) check(f *form, shop *Shop, n names) {
	f.known("center", s.Center, n.centers, "center")
	f.between("minutes", s.Minutes, maxMinutes)
	f.length("lead", s.Lead)
	if s.Lead > 0 {
		f.stock(shop, s.Stock)
	}
}

func (s *Sharing) check(f *form, setups []string) {
	oneOf(f, "rule", s.Rule, ShareEqual, ShareMinutes, ShareFeet)
	seen := map[string]bool{}
	for i, sh := range s.Setups {
		field := place("setups", i)
		f.known(field+".setup", sh.Setup, setups, "set-up")
		if seen[sh.Setup] {
			f.bad(field+".setup", "this set-up is named twice")
		}
		seen[sh.Setup] = true
		f.many(field+".with", len(sh.With), maxMany)
		for k, p := range sh.With {
			f.between(place(field+".with", k)+".minutes", p.Minutes, maxShare)
			f.length(place(field+".with", k)+".feet", p.Feet)
		}
	}
}
