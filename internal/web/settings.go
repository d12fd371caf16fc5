package web

import (
	"strconv"

	"ribdesk/internal/measure"
	"ribdesk/internal/party"
)

// settingsPage is what the shop says of itself, and the habits of the house.
type settingsPage struct {
	Base
	Version int64
	Parts   []*formPart
}

func (settingsPage) file() string { return "settings" }

func newSettingsPage(version int64) *settingsPage {
	return &settingsPage{
		Base:    Base{Title: "Shop settings", Sheet: "Shop", Block: Block{Thing: "Settings", Revision: strconv.FormatInt(version, 10)}},
		Version: version,
	}
}

// sellerForm ties the shop's settings to their form.
func sellerForm(b *binder, s *party.Seller) {
	b.part("On papers", func(*formPart) {
		b.text(Field{Name: "name", Label: "Name of the shop", Auto: "organization"}, &s.Name)
		b.text(Field{Name: "legal", Label: "Legal name"}, &s.Legal)
		b.text(Field{Name: "registration", Label: "Registration number", Optional: true}, &s.Registration)
		b.text(Field{Name: "tax_number", Label: "Tax number", Optional: true}, &s.TaxNumber)
		b.text(Field{Name: "phone", Label: "Phone", Kind: "tel", Auto: "tel", Optional: true}, &s.Phone)
		b.text(Field{Name: "email", Label: "E-mail", Kind: "email", Auto: "email", Optional: true}, &s.Email)
	})
	b.part("Address", func(*formPart) {
		b.text(Field{Name: "street", Label: "Street", Auto: "street-address", Optional: true}, &s.Address.Street)
		b.text(Field{Name: "city", Label: "City", Auto: "address-level2", Optional: true}, &s.Address.City)
		b.text(Field{Name: "state", Label: "State", Auto: "address-level1", Short: true, Optional: true}, &s.Address.State)
		b.text(Field{Name: "postal", Label: "ZIP", Auto: "postal-code", Short: true, Optional: true}, &s.Address.Postal)
		b.text(Field{Name: "country", Label: "Country", Short: true, Optional: true, Help: "Two letters."}, &s.Address.Country)
	})
	b.part("How the house writes", func(*formPart) {
		b.text(Field{Name: "zone", Label: "Time zone", Help: "Such as America/Chicago."}, &s.Zone)
		choose(b, Field{Name: "style", Label: "Lengths written as", Options: styles()[1:]}, &s.Style)
		choose(b, Field{Name: "unit", Label: "A bare number means", Options: []Option{
			{string(measure.Inches), "inches"}, {string(measure.Feet), "feet"}, {string(measure.Millimetres), "millimetres"}, {string(measure.Metres), "metres"}}}, &s.Unit)
		choose(b, Field{Name: "sheet", Label: "Paper", Short: true, Options: options("Letter", "A4")}, &s.Sheet)
	})
	b.part("Quotes", func(*formPart) {
		b.whole(Field{Name: "quote_days", Label: "A quote stays open", Unit: "days", Short: true, Help: "A firm offer between merchants is held three months at most (UCC 2-205)."}, &s.QuoteDays)
		b.text(Field{Name: "terms_version", Label: "Version of the terms", Short: true, Optional: true}, &s.TermsVersion)
		b.text(Field{Name: "terms", Label: "Terms printed on quotes", Rows: 5, Optional: true}, &s.Terms)
		b.text(Field{Name: "cancelling", Label: "Note beside a shared-set-up price", Rows: 3, Optional: true}, &s.Cancelling)
	})
	b.part("Run plan and floor", func(*formPart) {
		b.whole(Field{Name: "frozen_hours", Label: "The plan stays as it is for the next", Unit: "h", Short: true}, &s.FrozenHours)
		b.whole(Field{Name: "ready_hours", Label: "From the last cut to ready", Unit: "h", Short: true}, &s.ReadyHours)
		late := int(s.LateCents)
		b.whole(Field{Name: "late_cents", Label: "A minute late weighs", Unit: "¢", Short: true, Help: "What the planner trades against changeovers."}, &late)
		s.LateCents = int64(late)
		b.whole(Field{Name: "bundle_pounds", Label: "Heaviest bundle", Unit: "lb", Short: true}, &s.BundlePounds)
	})
	cuttingForm(b, &s.Cutting)
}

// cuttingForm ties how the house cuts coil and trim to the form.
func cuttingForm(b *binder, c *party.Cutting) {
	cents := func(f Field, at *int64) {
		n := int(*at)
		f.Unit, f.Short = "¢", true
		b.whole(f, &n)
		*at = int64(n)
	}
	b.part("Cutting coil", func(*formPart) {
		b.length(Field{Name: "scrap_end", Label: "An end is scrap when shorter than", Short: true, Optional: true, Help: "Empty for none."}, &c.ScrapEnd)
		b.length(Field{Name: "useful_end", Label: "An end keeps its full worth from", Short: true}, &c.UsefulEnd)
		b.whole(Field{Name: "awkward_pct", Label: "A shorter end loses", Unit: "%", Short: true, Help: "Of what its metal is worth."}, &c.AwkwardPct)
		b.whole(Field{Name: "thread_min", Label: "Another coil of the same strip takes", Unit: "min", Short: true}, &c.ThreadMin)
		cents(Field{Name: "rack_cents", Label: "A rack place for an opened coil weighs"}, &c.RackCents)
		cents(Field{Name: "lot_cents", Label: "A second paint lot in one order weighs", Help: "What coil allocation trades against scrap."}, &c.LotCents)
	})
	b.part("Slitting trim", func(*formPart) {
		b.whole(Field{Name: "knives", Label: "Most strips of one set-up", Short: true}, &c.Knives)
		b.whole(Field{Name: "slit_min", Label: "Another set-up takes", Unit: "min", Short: true}, &c.SlitMin)
		b.length(Field{Name: "edge_trim", Label: "Trimmed off each edge", Short: true, Optional: true, Help: "Empty for none."}, &c.EdgeTrim)
		b.length(Field{Name: "kept_drop", Label: "A drop is kept from a width of", Short: true, Optional: true, Help: "Empty for none."}, &c.KeptDrop)
	})
}

func showSettings(v *visit) error {
	s, version, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	p := newSettingsPage(version)
	b := v.newBinder(false)
	sellerForm(b, &s)
	p.Parts = b.at.Parts
	return v.show(p)
}

func doSaveSettings(v *visit) error {
	s, newest, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	shown := v.newBinder(false)
	sellerForm(shown, &s)
	onFile := values(shown.fields)
	p := newSettingsPage(newest)
	p.Version = v.number("version")
	b := v.newBinder(true)
	sellerForm(b, &s)
	p.Parts = b.at.Parts
	if err := b.checked(s.Check()); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.SaveSeller(v.ctx(), v.actor, s, p.Version); err != nil {
		p.Version = v.meanwhile(&p.Base, b.fields, onFile, p.Version, newest)
		return v.again(p, b.nearest(err))
	}
	return v.redirectSaying("/shop/settings", "Saved.")
}
