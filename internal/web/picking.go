package web

import (
	"encoding/base64"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
)

// pickPage is the pick ticket on a screen: bundles are checked off by their
// codes, and what is missing is recorded.
type pickPage struct {
	Base
	File desk.OrderFile
	Left int // bundles not picked yet
	Code Field
	Rows []pickRow
}

func (pickPage) file() string { return "pick" }

// pickRow is a row of a bundle's contents with what can be said about it.
type pickRow struct {
	Bundle order.Bundle
	First  bool // of its bundle
	Item   order.BundleItem
	No     int // within the bundle
	Pieces Field
	Why    Field
}

func (v *visit) newPickPage() (*pickPage, error) {
	f, err := v.orderFile()
	if err != nil {
		return nil, err
	}
	if len(f.Bundles) == 0 {
		return nil, fault.Conflictf("order %s is %s; it has no bundles to pick yet", f.Order.Number, f.Order.State)
	}
	p := &pickPage{
		File: f, Base: Base{Title: "Pick order " + f.Order.Number, Sheet: "Loads", Block: Block{Thing: "Pick ticket", Number: f.Order.Number, State: string(f.Order.State)}},
		Code: Field{Name: "code", Label: "Bundle's code", Auto: "off", Help: "Scan it with a reader, type it, or use the camera where the phone can."},
	}
	for _, b := range f.Bundles {
		if !b.Checked {
			p.Left++
		}
		for i, it := range b.Items {
			at := strconv.FormatInt(b.ID, 10) + "-" + strconv.Itoa(i) + "-"
			p.Rows = append(p.Rows, pickRow{
				Bundle: b, First: i == 0, Item: it, No: i,
				Pieces: Field{Name: "pieces", Label: "Pieces missing", Keys: "numeric", Short: true, Prefix: at},
				Why:    Field{Name: "why", Label: "What became of them", Prefix: at},
			})
		}
	}
	return p, nil
}

func showPick(v *visit) error {
	p, err := v.newPickPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doCheckOff(v *visit) error {
	p, err := v.newPickPage()
	if err != nil {
		return err
	}
	code := strings.ToUpper(v.text(&p.Code))
	if code == "" {
		return v.again(p, fault.Invalidf("code", "scan or type the code on the bundle's label"))
	}
	b, err := v.desk.CheckOff(v.ctx(), v.actor, p.File.Order.ID, code)
	if err != nil {
		return v.again(p, notFoundIs(err, "code"))
	}
	return v.redirectSaying(pickPath(p.File.Order.ID), "Bundle "+strconv.Itoa(b.No)+" of "+strconv.Itoa(b.Of)+" is picked.")
}

func pickPath(orderID int64) string { return recordPath("order", orderID) + "/pick" }

// doShort records pieces that are missing.
func doShort(v *visit) error {
	p, err := v.newPickPage()
	if err != nil {
		return err
	}
	bundle, item := v.number("bundle"), v.number("item")
	for i := range p.Rows {
		r := &p.Rows[i]
		if r.Bundle.ID != bundle || int64(r.No) != item {
			continue
		}
		m := desk.Missing{BundleID: bundle, Item: r.No, Pieces: v.whole(&r.Pieces), Why: v.text(&r.Why)}
		if err := v.wrongs(); err != nil {
			return v.again(p, err)
		}
		if _, err := v.desk.Short(v.ctx(), v.actor, p.File.Order.ID, m); err != nil {
			return v.again(p, err)
		}
		return v.redirectSaying(pickPath(p.File.Order.ID), "Recorded. The ticket shows it, and it is decided there whether it is remade or credited.")
	}
	return v.again(p, fault.Invalidf("", "choose a row of the pick ticket"))
}

// pickUpPage hands an order over to its customer at the shop.
type pickUpPage struct {
	Base
	File     desk.OrderFile
	Receiver Field
	Unpicked int
}

func (pickUpPage) file() string { return "pick-up" }

func (v *visit) newPickUpPage() (*pickUpPage, error) {
	f, err := v.orderFile()
	if err != nil {
		return nil, err
	}
	p := &pickUpPage{
		File: f, Base: Base{Title: "Pick-up of order " + f.Order.Number, Sheet: "Loads", Block: Block{Thing: "Pick-up", Number: f.Order.Number, State: string(f.Order.State)}},
		Receiver: newReceiver(f.Order.Contact.Name),
	}
	for _, b := range f.Bundles {
		if !b.Checked {
			p.Unpicked++
		}
	}
	return p, nil
}

func newReceiver(contact string) Field {
	f := Field{Name: "receiver", Label: "Receiver's name, printed", Auto: "off", Help: "Who takes the goods."}
	if contact != "" {
		f.Help = "Who takes the goods. The contact of the order is " + contact + "."
	}
	return f
}

func showPickUp(v *visit) error {
	p, err := v.newPickUpPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doPickUp(v *visit) error {
	p, err := v.newPickUpPage()
	if err != nil {
		return err
	}
	h := desk.HandOver{Key: v.c.Request.PostForm.Get(keyField), Receiver: v.text(&p.Receiver), At: v.desk.Now()}
	if h.Receiver == "" {
		return v.again(p, fault.Invalidf("receiver", "print the name of who takes the goods"))
	}
	if h.Signature, err = signatureOf(v.c.Request.PostForm.Get("signature")); err != nil {
		return v.again(p, err)
	}
	o, err := v.desk.PickUp(v.ctx(), v.actor, p.File.Order.ID, h)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("order", o.ID), "Handed over to "+h.Receiver+". The signed ticket is among the papers.")
}

// signatureOf reads a drawn signature as a page sends it, "" for none.
func signatureOf(data string) ([]byte, error) {
	if data == "" {
		return nil, nil
	}
	text, ok := strings.CutPrefix(data, "data:image/png;base64,")
	png, err := base64.StdEncoding.DecodeString(text)
	if !ok || err != nil {
		return nil, fault.Invalidf("signature", "the signature didn't arrive whole; draw it again, or leave it to the printed name")
	}
	return png, nil
}

// showSignature sends a stop's signature as it was drawn.
func showSignature(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	s, err := v.desk.Stop(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	if len(s.Signature) == 0 {
		return fault.NotFoundf("nobody signed on the screen at this stop")
	}
	return v.sendFile("image/png", "signature-"+s.Ticket+".png", true, s.Signature)
}

// showPhoto sends a driver's picture to be kept, never to be opened in the page:
// it came from outside.
func showPhoto(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	p, err := v.desk.Photo(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.sendFile(p.Kind, "photo-"+strconv.FormatInt(p.ID, 10)+map[string]string{"image/jpeg": ".jpg", "image/png": ".png"}[p.Kind], false, p.Body)
}

// doDecide settles an exception of a stop.
func doDecide(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	s, err := v.desk.Stop(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	follow, err := v.desk.Decide(v.ctx(), v.actor, id, int(v.number("exception")), v.c.Request.PostForm.Get("decision"))
	if err != nil {
		return err
	}
	said := "Credited: the pieces are left off the invoice."
	if follow.ID != 0 {
		said = "Order " + follow.Number + " remakes them at no charge."
	}
	return v.redirectSaying(recordPath("load", s.LoadID), said)
}
