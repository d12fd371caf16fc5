package price

import (
	"slices"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// sharePlaces cuts off the dust of divisions, so that equal shares tie.
const sharePlaces = 18

// Batch is the set-ups of one run of several orders, and who uses each.
type Batch struct {
	Rule   ShareRule    `json:"rule,omitempty"`
	Orders []string     `json:"orders"` // earliest first; a cent left over goes to the earliest
	Setups []BatchSetup `json:"setups"`
}

// BatchSetup is one set-up of a batch, to the cent.
type BatchSetup struct {
	ID    string       `json:"id"`
	Label string       `json:"label,omitempty"`
	Cost  money.Amount `json:"cost"`
	Users []User       `json:"users"`
}

// User is an order's use of a set-up.
type User struct {
	Order   string         `json:"order"`
	Minutes money.Rate     `json:"minutes,omitzero"`
	Feet    measure.Length `json:"feet,omitzero"`
	Alone   *money.Amount  `json:"alone,omitempty"` // what this set-up would cost the order alone, when that is less than Cost
}

// Share is what one order pays of a batch's set-ups.
type Share struct {
	Order  string       `json:"order"`
	Exact  money.Rate   `json:"exact"`
	Amount money.Amount `json:"amount"`
	Alone  money.Amount `json:"alone"` // the same set-ups carried by itself
}

// Settlement is a batch's set-ups shared out. The amounts and Shop add up to
// Total.
type Settlement struct {
	Shares []Share      `json:"shares"` // in the order of Batch.Orders
	Shop   money.Amount `json:"shop"`   // what is left when all pay no more than alone
	Total  money.Amount `json:"total"`
}

// Settle shares the set-ups out. Each is split among its users equally (or by
// minutes or feet) with nobody above what it would pay alone; what a capped
// user doesn't pay falls on the others, and when all are capped, on the shop.
// Uncapped equal parts are the Shapley value of this game and lie in its core.
func (b Batch) Settle() (Settlement, error) {
	if err := b.check(); err != nil {
		return Settlement{}, err
	}
	s := Settlement{Shares: make([]Share, len(b.Orders))}
	for i, id := range b.Orders {
		s.Shares[i].Order = id
	}
	for _, set := range b.Setups {
		s.Total = s.Total.Add(set.Cost)
		left := set.Cost.Rate()
		for i, part := range b.Rule.fill(set) {
			share := &s.Shares[slices.Index(b.Orders, set.Users[i].Order)]
			share.Exact = share.Exact.Add(part)
			share.Alone = share.Alone.Add(set.cap(i))
			left = left.Sub(part)
		}
		shop, err := left.Round(set.Cost.Currency())
		if err != nil {
			return Settlement{}, err
		}
		s.Shop = s.Shop.Add(shop)
	}
	return s, s.toCents()
}

// toCents makes the shares' amounts from what the shop doesn't carry.
func (s *Settlement) toCents() error {
	paid := s.Total.Sub(s.Shop)
	if paid.IsZero() {
		return nil
	}
	weights := make([]money.Rate, len(s.Shares))
	for i := range s.Shares {
		s.Shares[i].Exact = s.Shares[i].Exact.Shorten(sharePlaces)
		weights[i] = s.Shares[i].Exact
	}
	amounts, err := money.Split(paid, weights)
	if err != nil {
		return err
	}
	for i, a := range amounts {
		s.Shares[i].Amount = a
	}
	return nil
}

// cap gives the most that a user of the set-up pays.
func (s BatchSetup) cap(i int) money.Amount {
	if a := s.Users[i].Alone; a != nil {
		return money.Min(*a, s.Cost)
	}
	return s.Cost
}

// fill gives the users' parts: each its weight times one level, or its cap.
func (r ShareRule) fill(s BatchSetup) []money.Rate {
	parts := make([]money.Rate, len(s.Users))
	weights := r.weights(s.Users)
	left := s.Cost.Rate()
	open := make([]int, len(s.Users))
	for i := range open {
		open[i] = i
	}
	for len(open) > 0 {
		sum := money.Rate{}
		for _, i := range open {
			sum = sum.Add(weights[i])
		}
		if sum.IsZero() {
			break // those left need nothing of it
		}
		var still []int
		rest := left
		for _, i := range open {
			parts[i] = left.Mul(weights[i]).Div(sum)
			if most := s.cap(i).Rate(); parts[i].Cmp(most) >= 0 {
				parts[i] = most
				rest = rest.Sub(most)
				continue
			}
			still = append(still, i)
		}
		if len(still) == len(open) {
			break
		}
		left, open = rest, still
	}
	return parts
}

// weights gives what the users count; when nobody counts, all count the same.
func (r ShareRule) weights(users []User) []money.Rate {
	weights := make([]money.Rate, len(users))
	sum := money.Rate{}
	for i, u := range users {
		weights[i] = r.weight(u.Minutes, feet(u.Feet))
		sum = sum.Add(weights[i])
	}
	if sum.IsZero() {
		for i := range weights {
			weights[i] = one
		}
	}
	return weights
}

func (b Batch) check() error {
	f := &form{}
	oneOf(f, "rule", b.Rule, ShareEqual, ShareMinutes, ShareFeet)
	f.many("orders", len(b.Orders), maxLines)
	f.many("setups", len(b.Setups), maxLines)
	ids(f, "orders", b.Orders, func(s string) string { return s })
	for i, s := range b.Setups {
		field := place("setups", i)
		if s.Cost.Sign() < 0 || s.Cost.Cents() > MaxCents {
			f.bad(field+".cost", "write a cost from 0 to %s", money.Cents(MaxCents, s.Cost.Currency()).Format())
		}
		if len(s.Users) == 0 {
			f.bad(field+".users", "no order uses this set-up")
		}
		var seen []string
		for k, u := range s.Users {
			user := place(field+".users", k)
			f.known(user+".order", u.Order, b.Orders, "order")
			if slices.Contains(seen, u.Order) {
				f.bad(user+".order", "this order is named twice")
			}
			seen = append(seen, u.Order)
			f.between(user+".minutes", u.Minutes, maxShare)
			f.length(user+".feet", u.Feet)
			if u.Alone != nil && u.Alone.Sign() < 0 {
				f.bad(user+".alone", "this can't be negative")
			}
		}
	}
	return f.Err()
}

// Cancellation is what becomes of a batch when an order leaves it.
type Cancellation struct {
	Order  string       `json:"order"`
	Policy OnCancel     `json:"policy"`
	Left   []Remaining  `json:"left"`
	Shop   money.Amount `json:"shop"`  // what nobody pays any more
	Total  money.Amount `json:"total"` // of the set-ups that are still made
}

// Remaining is an order that stays.
type Remaining struct {
	Order  string       `json:"order"`
	Quoted money.Amount `json:"quoted"` // its share when it was quoted
	Anew   money.Amount `json:"anew"`   // its share among those who stay
	Pays   money.Amount `json:"pays"`
}

// Cancel takes an order out of the batch. Set-ups that only it used are not
// made. Under ShopCarries the others pay what they were quoted and the shop
// carries the difference; under Requote, which a quote must have said, they pay
// their share anew.
func (b Batch) Cancel(order string, policy OnCancel) (Cancellation, error) {
	if policy == "" {
		policy = ShopCarries
	}
	if policy != ShopCarries && policy != Requote {
		return Cancellation{}, fault.Invalidf("policy", "“%s” isn't %s or %s", string(policy), ShopCarries, Requote)
	}
	if !slices.Contains(b.Orders, order) {
		return Cancellation{}, fault.Invalidf("order", "order “%s” isn't in this batch", order)
	}
	before, err := b.Settle()
	if err != nil {
		return Cancellation{}, err
	}
	after, err := b.without(order).Settle()
	if err != nil {
		return Cancellation{}, err
	}
	c := Cancellation{Order: order, Policy: policy, Total: after.Total, Shop: after.Total}
	i := 0
	for _, quoted := range before.Shares {
		if quoted.Order == order {
			continue
		}
		r := Remaining{Order: quoted.Order, Quoted: quoted.Amount, Anew: after.Shares[i].Amount, Pays: quoted.Amount}
		if policy == Requote {
			r.Pays = r.Anew
		}
		i++
		c.Shop = c.Shop.Sub(r.Pays)
		c.Left = append(c.Left, r)
	}
	return c, nil
}

func (b Batch) without(order string) Batch {
	rest := Batch{Rule: b.Rule}
	for _, id := range b.Orders {
		if id != order {
			rest.Orders = append(rest.Orders, id)
		}
	}
	for _, s := range b.Setups {
		users := slices.DeleteFunc(slices.Clone(s.Users), func(u User) bool { return u.Order == order })
		if len(users) > 0 {
			s.Users = users
			rest.Setups = append(rest.Setups, s)
		}
	}
	return rest
}

// BatchQuote is several orders priced as one run.
type BatchQuote struct {
	Inputs     []Input    `json:"inputs"` // as priced, each with its sharing; they replay by themselves
	Quotes     []Quote    `json:"quotes"`
	Batch      Batch      `json:"batch"`
	Settlement Settlement `json:"settlement"`
}

// PriceBatch prices orders that run together. Set-ups of the same ID are the
// same set-up and must cost every order the same. Whatever Order.Sharing says
// is replaced; the orders need IDs, and earlier ones come first.
func PriceBatch(rule ShareRule, ins []Input) (BatchQuote, error) {
	calcs := make([]*calc, len(ins))
	inputs := slices.Clone(ins)
	q := BatchQuote{Inputs: inputs, Batch: Batch{Rule: rule}}
	for i := range inputs {
		in := &inputs[i]
		in.Order.Sharing = nil
		if in.Order.ID == "" {
			return BatchQuote{}, fault.Invalidf(place("orders", i)+".order.id", "an order of a batch needs an id")
		}
		if err := in.Check(); err != nil {
			return BatchQuote{}, at(place("orders", i), err)
		}
		c, err := newCalc(in)
		if err != nil {
			return BatchQuote{}, at(place("orders", i), err)
		}
		calcs[i] = c
		q.Batch.Orders = append(q.Batch.Orders, in.Order.ID)
		if err := q.Batch.join(c); err != nil {
			return BatchQuote{}, at(place("orders", i), err)
		}
	}
	for i, c := range calcs {
		c.in.Order.Sharing = q.Batch.sharing(c.in.Order.ID)
		quote, err := c.quote()
		if err != nil {
			return BatchQuote{}, at(place("orders", i), err)
		}
		q.Quotes = append(q.Quotes, quote)
	}
	var err error
	q.Settlement, err = q.Batch.Settle()
	return q, err
}

// join enters an order's set-ups into the batch.
func (b *Batch) join(c *calc) error {
	for k, ch := range c.changes {
		cost, err := ch.cost.Round(c.currency)
		if err != nil {
			return err
		}
		u := User{Order: c.in.Order.ID, Minutes: ch.weight, Feet: ch.feet}
		i := slices.IndexFunc(b.Setups, func(s BatchSetup) bool { return s.ID == ch.setup.ID })
		switch {
		case i < 0:
			b.Setups = append(b.Setups, BatchSetup{ID: ch.setup.ID, Label: ch.setup.Label, Cost: cost, Users: []User{u}})
		case b.Setups[i].Cost != cost:
			return fault.Invalidf(place("order.setups", k), "“%s” costs %s here and %s in an order before; a shared set-up has one cost",
				ch.setup.Label, cost.Format(), b.Setups[i].Cost.Format())
		default:
			b.Setups[i].Users = append(b.Setups[i].Users, u)
		}
	}
	return nil
}

// sharing gives what an order of the batch shares and with whom.
func (b *Batch) sharing(order string) *Sharing {
	sh := &Sharing{Rule: b.Rule}
	for _, s := range b.Setups {
		if !slices.ContainsFunc(s.Users, func(u User) bool { return u.Order == order }) {
			continue
		}
		set := SharedSetup{Setup: s.ID}
		for _, u := range s.Users {
			if u.Order != order {
				set.With = append(set.With, Partner{Order: u.Order, Minutes: u.Minutes, Feet: u.Feet})
			}
		}
		sh.Setups = append(sh.Setups, set)
	}
	return sh
}
