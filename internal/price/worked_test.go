package price_test

import (
	"os"
	"testing"

	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

// example reads the worked example: invented figures that were worked out by
// hand before this package was written.
func example(t testing.TB) price.Input {
	t.Helper()
	f, err := os.Open("../../testdata/price-example.json")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in, err := price.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func quote(t testing.TB, in price.Input) price.Quote {
	t.Helper()
	q, err := price.Price(in)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func rate(s string) *money.Rate {
	r := money.Must(s)
	return &r
}

func TestX(t *testing.T) {
	q := quote(t, example(t))
	for _, o := range []*price.Offer{&q.Alone, q.Shared} {
		for _, l := range o.Lines {
			t.Log(l.Kind, l.Label, l.Quantity.Fixed(3), l.Price, l.Amount, l.Costs.Total().Fixed(4))
		}
		t.Log(o.Goods, o.Subtotal, o.Tax, o.Total, o.Deposit, o.Balance, o.Cost.Fixed(4), o.Margin.Fixed(4), o.Floor, o.Contributions)
	}
	for _, n := range q.Rates {
		n.Walk(func(n *price.Node, d int) { t.Log(d, n.Label, n.Value.Fixed(6), n.Unit) })
	}
}

func BenchmarkExample(b *testing.B) {
	in := example(b)
	for b.Loop() {
		quote(b, in)
	}
}
