package price_test

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"strconv"
	"strings"
	"testing"

	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

func records(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

// TestPublishedMoney checks every usable row of money_examples.csv; each row
// names its source. Rows marked DO NOT USE contradict their own arithmetic and
// are notes.
func TestPublishedMoney(t *testing.T) {
	checked := 0
	for _, row := range records(t, "money_examples.csv") {
		topic, inputs, want, unit, source := row[0], row[1], row[2], row[3], row[5]
		if strings.Contains(topic, "DO NOT USE") {
			continue
		}
		got, ok := publishedAnswer(t, topic, inputs, unit)
		if !ok {
			t.Errorf("nothing here answers %s: %s", topic, inputs)
			continue
		}
		checked++
		if exact, ok := strings.CutPrefix(unit, "per year (approximate, exact "); ok {
			want = strings.TrimSuffix(exact, ")")
		} else if exact, ok := strings.CutPrefix(unit, "per month (approximate, exact "); ok {
			want = strings.TrimSuffix(exact, ")")
		}
		figure(t, topic+" "+inputs+" ("+source+")", got, want)
	}
	if checked != 25 {
		t.Errorf("checked %d rows, want 25", checked)
	}
}

// field reads a figure such as "i=10 %" or "cost 75" from a row's inputs.
func field(t *testing.T, inputs, name string) money.Rate {
	t.Helper()
	for _, part := range strings.Split(inputs, ";") {
		part = strings.TrimSpace(part)
		rest, ok := strings.CutPrefix(part, name)
		if !ok {
			continue
		}
		word, _, _ := strings.Cut(strings.TrimLeft(rest, "= "), " ")
		r := money.Must(word)
		if strings.Contains(part, "%") {
			r = r.Div(money.Int(100))
		}
		return r
	}
	t.Fatalf("no %q in %q", name, inputs)
	return money.Rate{}
}

func publishedAnswer(t *testing.T, topic, inputs, unit string) (money.Rate, bool) {
	t.Helper()
	hundred := money.Int(100)
	switch topic {
	case "capital recovery", "capital recovery factor":
		n, err := strconv.Atoi(field(t, inputs, "n").String())
		if err != nil {
			t.Fatal(err)
		}
		f, err := price.CapitalRecovery(field(t, inputs, "i"), n)
		if err != nil {
			t.Fatal(err)
		}
		if topic == "capital recovery" {
			f = f.Mul(field(t, inputs, "P"))
		}
		return f, true
	case "machine hour rate":
		return publishedHour(t, inputs), true
	case "break-even":
		p, err := price.BreakEven{FixedMonth: field(t, inputs, "fixed"), Price: field(t, inputs, "price"), Variable: field(t, inputs, "variable")}.Point()
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasPrefix(unit, "sales") {
			return p.Sales, true
		}
		return p.Feet, true
	case "markup on cost":
		return soldAt(t, field(t, inputs, "cost"), price.Markup, field(t, inputs, "markup")), true
	case "markup and margin":
		switch {
		case strings.Contains(inputs, "price 100"):
			cost, sold := field(t, inputs, "cost"), field(t, inputs, "price")
			margin := sold.Sub(cost).Div(sold)
			if strings.Contains(unit, "margin") {
				return margin.Mul(hundred), true
			}
			k, err := price.MarkupOf(margin)
			if err != nil {
				t.Fatal(err)
			}
			return k.Mul(hundred), true
		case strings.Contains(unit, "margin on price"):
			m, err := price.MarginOf(field(t, inputs, "markup"))
			if err != nil {
				t.Fatal(err)
			}
			return m.Mul(hundred), true
		case strings.Contains(inputs, "markup"):
			return soldAt(t, field(t, inputs, "cost"), price.Markup, field(t, inputs, "markup")), true
		}
		return soldAt(t, field(t, inputs, "cost"), price.Margin, field(t, inputs, "margin")), true
	}
	return money.Rate{}, false
}

// soldAt prices one accessory of a cost.
func soldAt(t *testing.T, cost money.Rate, goal price.Goal, value money.Rate) money.Rate {
	t.Helper()
	in := flat(t, "1")
	in.Shop.Targets = []price.Target{{Goal: goal, Value: value}}
	in.Order.Items = []price.Item{{ID: "1", Label: "piece", Bought: &price.Bought{Pieces: 1, Each: cost}}}
	return quote(t, in).Alone.Goods.Rate()
}

// publishedHour works the two published machine hours on the worksheet: a cost
// accounting textbook's problems with their solutions, 13191 / 1800 = 7.33 and
// 620 / 160 = 3.875.
func publishedHour(t *testing.T, inputs string) money.Rate {
	t.Helper()
	sheet := &price.HourSheet{
		Purchase: money.Int(19000 + 1500), Residual: money.Int(2500), Years: 10, AnnualHours: money.Int(1800),
		Repair: money.Int(450), Insurance: money.Int(216), Power: money.Int(4), PowerEach: money.Must(".30"),
		Hourly: []price.Charge{{Label: "water", Rate: money.Must(".50"), Times: money.Int(100), Over: money.Int(1000)}},
		Yearly: []price.Charge{
			{Label: "operator", Rate: money.Int(400), Times: money.Int(12), Over: money.Int(2)},
			{Label: "supervisor", Rate: money.Int(900), Times: money.Int(12), Over: money.Int(2)},
			{Label: "rent", Rate: money.Int(900), Times: money.Int(12), Over: money.Int(16)},
		},
	}
	if strings.HasPrefix(inputs, "cost 11500") {
		month := func(label, rate, times, over string) price.Charge {
			return price.Charge{Label: label, Rate: money.Must(rate).Mul(money.Int(12)), Times: money.Must(times), Over: money.Must(over)}
		}
		sheet = &price.HourSheet{Purchase: money.Int(11500), Residual: money.Int(1500), LifeHours: money.Int(20000), AnnualHours: money.Int(12 * 160),
			Repair: money.Int(12 * 40), Yearly: []price.Charge{
				month("rent", "400", ".25", "1"), month("foreman and attendant", "300", "1", "2"), month("light", "160", "8", "32"),
				month("power", "160", "1", "1"), month("indirect labor", "100", "1", "2"),
			}}
	}
	h, err := price.Center{ID: "m", Machine: price.Machine{Sheet: sheet}}.Worksheet()
	if err != nil {
		t.Fatal(err)
	}
	return h.Rate
}

// sell makes an order whose lines are these amounts, one piece each.
func sell(t *testing.T, basis price.TaxBasis, taxRate money.Rate, amounts ...string) price.Offer {
	t.Helper()
	in := flat(t, "1")
	in.Shop.Tax = price.Tax{Basis: basis, Jurisdictions: []price.Jurisdiction{{ID: "s", Label: "State", State: "XX", Rate: taxRate, Classes: []string{price.Goods}}}}
	in.Order.Items = nil
	for i, a := range amounts {
		in.Order.Items = append(in.Order.Items, price.Item{ID: strconv.Itoa(i), Label: "piece", Unit: rate(a), Bought: &price.Bought{Pieces: 1}})
	}
	return quote(t, in).Alone
}

// TestPublishedSalesTax checks the rounding cases that follow from section 324
// of the Streamlined Sales and Use Tax Agreement, per item and per document.
func TestPublishedSalesTax(t *testing.T) {
	for _, row := range records(t, "sales_tax_rounding_cases.csv") {
		r := money.Must(row[0]).Div(money.Int(100))
		amounts := strings.Fields(row[1])
		item, doc := sell(t, price.PerItem, r, amounts...), sell(t, price.PerDocument, r, amounts...)
		figure(t, row[1]+" goods", doc.Goods.Rate(), row[2])
		amount(t, row[1]+" at "+row[0]+" % by item", item.Tax, row[3])
		amount(t, row[1]+" at "+row[0]+" % by document", doc.Tax, row[4])
	}
}

// TestPublishedInvoices checks line, tax and total of published EN 16931
// documents, each with its source in the file. Their categories of one rate
// each become a jurisdiction with a tax class of its own.
func TestPublishedInvoices(t *testing.T) {
	raw, err := os.ReadFile("testdata/invoice_examples.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Invoices []struct {
			ID, Source, Currency string
			Lines                []struct {
				Quantity money.Rate `json:"quantity"`
				NetPrice money.Rate `json:"net_price"`
				LineNet  money.Rate `json:"line_net"`
				Percent  string     `json:"tax_rate_percent"`
			}
			Breakdown []struct {
				Percent string     `json:"tax_rate_percent"`
				Taxable money.Rate `json:"taxable"`
				Tax     money.Rate `json:"tax"`
			} `json:"tax_breakdown"`
			Totals struct {
				WithTax money.Rate `json:"total_with_tax"`
			}
		}
	}
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Invoices) < 6 {
		t.Fatalf("only %d invoices", len(file.Invoices))
	}
	for _, inv := range file.Invoices {
		in := flat(t, "1")
		in.Shop.Currency = money.Currency(inv.Currency)
		in.Order.Items = nil
		for i, l := range inv.Lines {
			n, err := strconv.Atoi(l.Quantity.Shorten(0).String())
			if err != nil {
				t.Fatal(err)
			}
			in.Order.Items = append(in.Order.Items, price.Item{ID: strconv.Itoa(i), Label: "piece", TaxClass: "rate " + l.Percent, Unit: &l.NetPrice, Bought: &price.Bought{Pieces: n}})
		}
		for i, b := range inv.Breakdown {
			if b.Percent == "" {
				continue
			}
			in.Shop.Tax.Jurisdictions = append(in.Shop.Tax.Jurisdictions, price.Jurisdiction{ID: strconv.Itoa(i), Label: b.Percent, State: "XX",
				Rate: money.Must(b.Percent).Div(money.Int(100)), Classes: []string{"rate " + b.Percent}})
		}
		o := quote(t, in).Alone
		for i, l := range inv.Lines {
			if o.Lines[i].Amount.Rate().Cmp(l.LineNet) != 0 {
				t.Errorf("%s line %d: got %s, want %s (%s)", inv.ID, i+1, o.Lines[i].Amount, l.LineNet, inv.Source)
			}
		}
		for i, b := range inv.Breakdown {
			if b.Percent == "" {
				continue
			}
			if p := o.Taxes[i]; p.Base.Rate().Cmp(b.Taxable) != 0 || p.Tax.Rate().Cmp(b.Tax) != 0 {
				t.Errorf("%s at %s %%: got %s on %s, want %s on %s (%s)", inv.ID, b.Percent, p.Tax, p.Base, b.Tax, b.Taxable, inv.Source)
			}
		}
		if o.Total.Rate().Cmp(inv.Totals.WithTax) != 0 {
			t.Errorf("%s: got %s, want %s (%s)", inv.ID, o.Total, inv.Totals.WithTax, inv.Source)
		}
	}
}
