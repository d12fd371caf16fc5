package price_test

import (
	"testing"

	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

// taxed is 100.00 of goods, 50.00 of a special class and 30.00 of delivery.
func taxed(t *testing.T, js ...price.Jurisdiction) price.Input {
	in := flat(t, "1")
	in.Order.Items = []price.Item{
		{ID: "1", Label: "panel", Unit: rate("100"), Bought: &price.Bought{Pieces: 1}},
		{ID: "2", Label: "gift", TaxClass: "special", Unit: rate("50"), Bought: &price.Bought{Pieces: 1}},
	}
	in.Shop.Delivery = &price.Tariff{Base: money.Int(30)}
	in.Order.Delivery = &price.Trip{}
	in.Shop.Tax.Jurisdictions = js
	return in
}

func jurisdiction(id, state, r string, delivery price.DeliveryRule, classes ...string) price.Jurisdiction {
	return price.Jurisdiction{ID: id, Label: id, State: state, Rate: money.Must(r), Delivery: delivery, Classes: classes}
}

func TestTax(t *testing.T) {
	both := []string{price.Goods, "special"}
	cases := []struct {
		name  string
		in    price.Input
		total string
		parts map[string]string // jurisdiction: tax on base
	}{
		{"delivery untaxed", taxed(t, jurisdiction("state", "XX", ".06", "", both...)), "9.00", map[string]string{"state": "9.00 on 150.00"}},
		{"delivery taxed", taxed(t, jurisdiction("state", "XX", ".06", price.DeliveryTaxed, both...)), "10.80", map[string]string{"state": "10.80 on 180.00"}},
		{"delivery as the goods, two thirds of them taxed", taxed(t, jurisdiction("state", "XX", ".06", price.DeliveryAsGoods, price.Goods)), "7.20",
			map[string]string{"state": "7.20 on 120.00"}},
		{"two jurisdictions tax different lines", taxed(t, jurisdiction("state", "XX", ".06", "", both...), jurisdiction("city", "XX", ".0125", "", price.Goods)), "10.25",
			map[string]string{"state": "9.00 on 150.00", "city": "1.25 on 100.00"}},
		{"one taxes delivery, one as goods", taxed(t, jurisdiction("state", "XX", ".06", price.DeliveryTaxed, both...), jurisdiction("city", "XX", ".01", price.DeliveryAsGoods, "special")), "11.40",
			map[string]string{"state": "10.80 on 180.00", "city": "0.60 on 60.00"}},
	}
	for _, c := range cases {
		o := quote(t, c.in).Alone
		amount(t, c.name, o.Tax, c.total)
		for _, p := range o.Taxes {
			if got := p.Tax.String() + " on " + p.Base.String(); got != c.parts[p.Jurisdiction] {
				t.Errorf("%s, %s: got %s, want %s", c.name, p.Jurisdiction, got, c.parts[p.Jurisdiction])
			}
		}
		if len(o.Taxes) != len(c.parts) {
			t.Errorf("%s: %d parts", c.name, len(o.Taxes))
		}
	}
}

// The summed rate makes the tax; its parts add up to it to the cent.
func TestTaxPartsAddUp(t *testing.T) {
	in := taxed(t, jurisdiction("state", "XX", ".04333", "", price.Goods), jurisdiction("county", "XX", ".01333", "", price.Goods), jurisdiction("city", "XX", ".00334", "", price.Goods))
	o := quote(t, in).Alone
	amount(t, "6 % of 100.00", o.Tax, "6.00")
	sum := usd(0)
	for _, p := range o.Taxes {
		sum = sum.Add(p.Tax)
	}
	if sum != o.Tax {
		t.Errorf("parts come to %s", sum)
	}
}

func TestCertificate(t *testing.T) {
	js := []price.Jurisdiction{jurisdiction("state", "XX", ".06", price.DeliveryTaxed, price.Goods, "special"), jurisdiction("over the line", "YY", ".01", "", price.Goods)}
	cases := []struct {
		name string
		cert price.Certificate
		tax  string
		used bool
		warn bool
	}{
		{"holds on its last day, for its state", price.Certificate{Number: "1", State: "XX", Expires: "2026-11-25"}, "1.00", true, false},
		{"expired the day before", price.Certificate{Number: "1", State: "XX", Expires: "2026-11-24"}, "11.80", false, true},
		{"not signed yet", price.Certificate{Number: "1", State: "XX", Signed: "2026-11-26", Expires: "2027-11-26"}, "11.80", false, true},
		{"another state", price.Certificate{Number: "1", State: "ZZ", Expires: "2027-01-01"}, "11.80", false, true},
		{"goods only", price.Certificate{Number: "1", State: "XX", Expires: "2027-01-01", Classes: []string{price.Goods}}, "5.80", true, false},
	}
	for _, c := range cases {
		in := taxed(t, js...)
		in.Order.Certificate = &c.cert
		q := quote(t, in)
		amount(t, c.name, q.Alone.Tax, c.tax)
		if (q.Alone.Exempt != nil) != c.used || (len(q.Warnings) > 0) != c.warn {
			t.Errorf("%s: certificate on the offer %v, warnings %v", c.name, q.Alone.Exempt, q.Warnings)
		}
	}
}
