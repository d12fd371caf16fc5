package price_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

// sound fails on a quote that no input may lead to.
func sound(t *testing.T, q price.Quote) {
	t.Helper()
	all := []*price.Offer{&q.Alone}
	if q.Shared != nil {
		all = append(all, q.Shared)
	}
	for _, o := range all {
		for _, a := range []money.Amount{o.Goods, o.Subtotal, o.Tax, o.Total, o.Deposit, o.Balance, o.Floor.Least} {
			if a.Sign() < 0 {
				t.Fatalf("negative: %s", a)
			}
		}
		if o.Total.Cents() > price.MaxCents {
			t.Fatalf("too much: %s", o.Total)
		}
		if o.Goods.Less(o.Floor.Least) && !o.Floor.Below && len(o.Lines) > 0 && o.Lines[len(o.Lines)-1].Kind != price.TripLine {
			for _, l := range o.Lines {
				if l.Kind == price.TripLine {
					return
				}
			}
			t.Fatalf("sold at %s below %s unnoticed", o.Goods, o.Floor.Least)
		}
	}
}

// FuzzFile prices whatever reads as an input.
func FuzzFile(f *testing.F) {
	files, err := filepath.Glob("testdata/replay/*.json")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	f.Add([]byte(`{"rules":1,"order":{"items":[{"formed":{"cuts":[{"length":"-1 ft"}]}}]}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		in, err := price.Decode(bytes.NewReader(raw))
		if err == nil {
			var q price.Quote
			if q, err = price.Price(in); err == nil {
				sound(t, q)
				return
			}
		}
		if fault.KindOf(err) != fault.Invalid {
			t.Fatalf("not a refusal: %v", err)
		}
	})
}

// FuzzFigures prices one panel and one accessory at any figures.
func FuzzFigures(f *testing.F) {
	f.Add(int64(30), int64(6_807_200_000), int64(118), int64(28), int64(75), int64(400), int64(7))
	f.Add(int64(1_000_000), int64(measure.Foot), int64(1_000_000_000), int64(99), int64(1), int64(100_000), int64(1_000_000))
	f.Add(int64(-1), int64(-1), int64(-1), int64(100), int64(0), int64(-1), int64(0))
	f.Add(int64(1), int64(1), int64(0), int64(0), int64(1_000_000), int64(0), int64(1))
	f.Fuzz(func(t *testing.T, pieces, length, centsPerFoot, margin, speed, shear, clips int64) {
		in := flat(t, "1")
		in.Shop.Stock[0].Price = money.NewRate(centsPerFoot, -2)
		in.Shop.Targets[0].Value = money.NewRate(margin, -2)
		in.Shop.Centers[0].Machine.Given = &price.GivenHour{Rate: money.Int(95), Pocket: money.Int(72)}
		formed := in.Order.Items[0].Formed
		formed.Speed, formed.Shear = money.Int(speed), money.Int(shear)
		formed.Cuts = []price.Cut{{Pieces: int(pieces), Length: measure.Length(length)}}
		in.Order.Items = append(in.Order.Items, price.Item{ID: "2", Label: "clip", Bought: &price.Bought{Pieces: int(clips), Each: money.NewRate(centsPerFoot, -2)}})
		q, err := price.Price(in)
		if err != nil {
			if fault.KindOf(err) != fault.Invalid || len(err.Error()) < 10 {
				t.Fatalf("not a refusal: %v", err)
			}
			return
		}
		sound(t, q)
	})
}

// FuzzBatch settles any costs and users.
func FuzzBatch(f *testing.F) {
	f.Add(int64(3085), int64(6337), uint8(3), uint8(5))
	f.Add(int64(1_000_000_000), int64(1), uint8(7), uint8(1))
	f.Fuzz(func(t *testing.T, a, b int64, usersA, usersB uint8) {
		batch := price.Batch{}
		x, y := set("a", a), set("b", b)
		for i := range 8 {
			id := strconv.Itoa(i)
			batch.Orders = append(batch.Orders, id)
			if usersA&(1<<i) != 0 {
				x.Users = append(x.Users, price.User{Order: id})
			}
			if usersB&(1<<i) != 0 {
				y.Users = append(y.Users, price.User{Order: id})
			}
		}
		batch.Setups = []price.BatchSetup{x, y}
		s, err := batch.Settle()
		if err != nil {
			if fault.KindOf(err) != fault.Invalid {
				t.Fatalf("not a refusal: %v", err)
			}
			return
		}
		sum := s.Shop
		for _, share := range s.Shares {
			sum = sum.Add(share.Amount)
		}
		if sum.Cents() != a+b {
			t.Fatalf("%s of %d", sum, a+b)
		}
	})
}
