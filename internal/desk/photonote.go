package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/picture"
	"ribdesk/internal/store"
)

// How many pictures go with an order: from whoever holds its private link, and in
// all.
const (
	mostPhotosByLink = 4
	mostPhotoNotes   = 12
)

// AddPhotoNote puts a picture with an order as a note, from the shop or from a
// person of the customer's. Nothing in it is read by machine.
func (d *Desk) AddPhotoNote(ctx context.Context, actor party.Actor, orderID int64, caption string, body []byte) error {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper, party.Buyer); err != nil {
		return err
	}
	return d.keepPhotoNote(ctx, actor, caption, body, func(tx *store.Tx) (order.Order, error) { return seeOrder(tx, actor, orderID) })
}

// AddPhotoByLink does so for whoever holds an order's private link.
func (d *Desk) AddPhotoByLink(ctx context.Context, token, caption string, body []byte) error {
	f, err := d.OpenLink(ctx, token)
	if err != nil {
		return err
	}
	actor := party.Actor{Name: f.Order.Contact.Name, Role: party.Visitor}
	return d.keepPhotoNote(ctx, actor, caption, body, func(tx *store.Tx) (order.Order, error) { return tx.Order(f.Order.ID) })
}

func (d *Desk) keepPhotoNote(ctx context.Context, actor party.Actor, caption string, body []byte, read func(*store.Tx) (order.Order, error)) error {
	if len(body) > MostPhoto {
		return fault.Invalidf("photo", "a picture has at most 5 MB; take it smaller")
	}
	if len(body) == 0 {
		return fault.Invalidf("photo", "choose a picture, or take one")
	}
	kind, clean, err := picture.Clean(body)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(clean)
	p := order.PhotoNote{Kind: kind, Body: clean, SHA256: hex.EncodeToString(sum[:]), Caption: strings.TrimSpace(caption), Ours: actor.Role.Staff(), By: actor.Name}
	if err := p.Check(); err != nil {
		return err
	}
	most := mostPhotoNotes
	if actor.Role == party.Visitor {
		most = mostPhotosByLink
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		o, err := read(tx)
		if err != nil {
			return err
		}
		there, err := tx.PhotoNotes(o.ID)
		if err != nil {
			return err
		}
		for _, other := range there {
			if other.SHA256 == p.SHA256 {
				return nil // the same picture once more
			}
		}
		if len(there) >= most {
			return fault.Invalidf("photo", "this order has %d pictures already; send further ones to the shop another way", len(there))
		}
		p.OrderID = o.ID
		kept, err := tx.AddPhotoNote(p)
		if err != nil {
			return err
		}
		return tx.Log(actor, "photo", "order", o.ID, map[string]any{"photo": kept.ID, "sha256": kept.SHA256})
	})
}

// PhotoNotes gives the pictures of an order without their bytes, to staff and to
// the customer's own people.
func (d *Desk) PhotoNotes(ctx context.Context, actor party.Actor, orderID int64) (list []order.PhotoNote, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if _, err := seeOrder(tx, actor, orderID); err != nil {
			return err
		}
		list, err = tx.PhotoNotes(orderID)
		return err
	})
	return list, err
}

// PhotoNote gives one picture of an order.
func (d *Desk) PhotoNote(ctx context.Context, actor party.Actor, orderID, id int64) (p order.PhotoNote, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if _, err := seeOrder(tx, actor, orderID); err != nil {
			return err
		}
		p, err = tx.PhotoNote(orderID, id)
		return err
	})
	return p, err
}

// CountPhotosByLink says how many pictures are with an order, to whoever holds
// its private link: the pictures themselves are for the shop and the account.
func (d *Desk) CountPhotosByLink(ctx context.Context, token string) (n int, err error) {
	f, err := d.OpenLink(ctx, token)
	if err != nil {
		return 0, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err := tx.PhotoNotes(f.Order.ID)
		n = len(list)
		return err
	})
	return n, err
}
