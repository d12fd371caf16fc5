package web

import (
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
)

// standingNote says at the counter how the customer stands, before anything is
// kept: who must pay first should hear it with the price.
type standingNote struct {
	desk.Standing
	Limit money.Amount
	Left  money.Amount // of the limit when this is bought too; may be negative
}

// stand looks up how the ask's customer stands when they buy it at a price;
// customers and visitors see nothing of it.
func (v *visit) stand(p *counterPage, o order.Order, price money.Amount) error {
	if o.CustomerID == 0 || !v.actor.Role.Staff() {
		return nil
	}
	st, err := v.desk.Standing(v.ctx(), v.actor, o.CustomerID, price)
	if err != nil {
		return err
	}
	p.Standing = &standingNote{Standing: st, Limit: st.Room.Add(st.Owed), Left: st.Room.Sub(price)}
	return nil
}
