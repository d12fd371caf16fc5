package price_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ribdesk/internal/price"
)

var update = flag.Bool("update", false, "write the golden files anew")

// cents writes what a quote charges, to the cent.
func cents(q price.Quote) string {
	var b strings.Builder
	all := []*price.Offer{&q.Alone}
	if q.Shared != nil {
		all = append(all, q.Shared)
	}
	for i, o := range all {
		fmt.Fprintln(&b, []string{"alone", "sharing"}[i])
		for _, l := range o.Lines {
			fmt.Fprintf(&b, "  %s|%s|%s|%s|%s|%s\n", l.Kind, l.Item, l.Cut, l.Quantity.Fixed(6), l.Price, l.Amount.Plain())
		}
		for _, p := range o.Taxes {
			fmt.Fprintf(&b, "  tax %s: %s on %s\n", p.Jurisdiction, p.Tax.Plain(), p.Base.Plain())
		}
		fmt.Fprintf(&b, "  goods %s, before tax %s, tax %s, total %s, deposit %s, balance %s, floor %s\n",
			o.Goods.Plain(), o.Subtotal.Plain(), o.Tax.Plain(), o.Total.Plain(), o.Deposit.Plain(), o.Balance.Plain(), o.Floor.Least.Plain())
	}
	return b.String()
}

// TestReplay prices stored inputs. Their cents may never change: a change that
// moves one belongs into a new rule set, and -update is for new files only.
func TestReplay(t *testing.T) {
	files, err := filepath.Glob("testdata/replay/*.json")
	if err != nil || len(files) < 4 {
		t.Fatalf("stored inputs are missing: %v %v", files, err)
	}
	for _, file := range files {
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		in, err := price.Decode(f)
		f.Close()
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		got := cents(quote(t, in))
		golden := strings.TrimSuffix(file, ".json") + ".cents"
		if *update {
			if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s replays to other cents:\n%s\nwant\n%s", file, got, want)
		}
	}
}

// A stored quote reads back as it was.
func TestQuoteReadsBack(t *testing.T) {
	q := quote(t, example(t))
	raw, err := json.Marshal(q)
	if err != nil {
		t.Fatal(err)
	}
	var back price.Quote
	if err := json.Unmarshal(raw, &back); err != nil {
		t.Fatal(err)
	}
	if cents(back) != cents(q) {
		t.Errorf("got\n%s\nwant\n%s", cents(back), cents(q))
	}
	same(t, q, back)
}
