package desk

import (
	"context"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// ConsentText is what a customer agrees to when accepting on a screen.
const ConsentText = "I accept this quote, and I agree that we deal in electronic records and signatures for it."

// Yes is a customer's acceptance as it was given.
type Yes struct {
	Name    string
	Title   string
	Consent bool      // ticked by the person, never beforehand
	Sharing bool      // takes the shared-set-up price
	Ready   time.Time // the date that was shown for it; zero takes what can be had
	Method  string
	Origin  string // network address
}

func (y Yes) check() error {
	var l fault.List
	if y.Name == "" {
		l.Addf("name", "type your name: it stands as your signature")
	}
	if len([]rune(y.Name)) > 80 || len([]rune(y.Title)) > 80 {
		l.Addf("name", "use at most 80 characters")
	}
	if !y.Consent {
		l.Addf("consent", "tick that you agree, or accept on paper at the counter")
	}
	return l.Err()
}

// AcceptByLink accepts a quote through its private link.
func (d *Desk) AcceptByLink(ctx context.Context, token string, yes Yes) (order.Order, error) {
	f, err := d.OpenLink(ctx, token)
	if err != nil {
		return order.Order{}, err
	}
	yes.Method = "private link"
	actor := party.Actor{Name: yes.Name, Role: party.Buyer, CustomerID: f.Order.CustomerID}
	return d.accept(ctx, actor, f.Order.ID, 0, yes, true)
}

// AcceptOrder accepts a quote at the counter or from the customer's account.
func (d *Desk) AcceptOrder(ctx context.Context, actor party.Actor, id, seen int64, yes Yes) (order.Order, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Buyer); err != nil {
		return order.Order{}, err
	}
	return d.accept(ctx, actor, id, seen, yes, false)
}

// accept keeps as evidence what was accepted: the hash of the quote's bytes, by
// whom, when, how and from where. It acknowledges the order on paper, and
// promises coil to it as far as there is any.
func (d *Desk) accept(ctx context.Context, actor party.Actor, id, seen int64, yes Yes, linked bool) (o order.Order, err error) {
	if err := yes.check(); err != nil {
		return o, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return o, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if linked {
			o, err = tx.Order(id)
		} else {
			o, err = seeOrder(tx, actor, id)
		}
		if err != nil {
			return err
		}
		if seen != 0 {
			o.Version = seen
		}
		if err := o.Apply(order.Accept); err != nil {
			return err
		}
		if dayStart(d.now(), s.seller.Location()).After(o.ValidTo) {
			return fault.Conflictf("this quote was open until %s; ask for a new one", o.ValidTo.Format("January 2, 2006"))
		}
		if o.CustomerID != 0 {
			if err := d.mayBuy(tx, actor, s, o); err != nil {
				return err
			}
		}
		return d.keepAcceptance(tx, actor, s, &o, yes)
	})
	return o, err
}

func (d *Desk) keepAcceptance(tx *store.Tx, actor party.Actor, s *snapshot, o *order.Order, yes Yes) error {
	if err := replaceFirst(tx, actor, *o); err != nil {
		return err
	}
	quote, err := tx.PaperByNumber(string(document.KindQuote), o.Number)
	if err != nil {
		return err
	}
	if err := d.promiseAnew(tx, o, yes.Ready); err != nil {
		return err
	}
	if yes.Sharing && o.Shared.Total.IsZero() {
		return fault.Invalidf("sharing", "this quote has no shared-set-up price")
	}
	if yes.Sharing != o.Sharing {
		o.Sharing = yes.Sharing
		if err := rechoose(tx, o); err != nil {
			return err
		}
	}
	o.Accepted = &order.Acceptance{
		Name: yes.Name, Title: yes.Title, Consent: ConsentText, Hash: quote.SHA256, PaperID: quote.ID,
		Method: yes.Method, Origin: yes.Origin, At: tx.Now(),
	}
	customer, err := customerOf(tx, *o)
	if err != nil {
		return err
	}
	paper, err := d.issue(tx, actor, *o, customer, s.acknowledgement(*o, customer, d.now()))
	if err != nil {
		return err
	}
	if err := d.tellAccepted(tx, *o, customer, paper.ID); err != nil {
		return err
	}
	saved, err := tx.SaveOrder(actor, *o, string(o.State))
	if err != nil {
		return err
	}
	*o = saved
	return promiseCoil(tx, actor, o)
}

// rechoose takes the lines' figures from the other offer of the same quote.
func rechoose(tx *store.Tx, o *order.Order) error {
	in, q, err := ReplayPrice(*o)
	if err != nil {
		return err
	}
	if err := writeFigures(o, in, q); err != nil {
		return err
	}
	for _, l := range o.Lines {
		if err := tx.SaveLineFigures(l); err != nil {
			return err
		}
	}
	return nil
}
