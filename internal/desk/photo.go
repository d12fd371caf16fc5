package desk

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"image"
	_ "image/jpeg" // read by its header
	_ "image/png"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// MostPhoto is how large a picture may be, bytes.
const MostPhoto = 5 << 20

// mostPhotos bounds the pictures of one stop.
const mostPhotos = 40

// The kinds of picture that are kept.
const (
	jpegKind = "image/jpeg"
	pngKind  = "image/png"
)

// kindOfPicture tells by its first bytes and its header what a picture is, ""
// for anything that is neither a JPEG nor a PNG. What a client calls it doesn't
// count.
func kindOfPicture(b []byte) string {
	kind := ""
	switch {
	case bytes.HasPrefix(b, []byte{0xff, 0xd8, 0xff}):
		kind = jpegKind
	case bytes.HasPrefix(b, []byte("\x89PNG\r\n\x1a\n")):
		kind = pngKind
	default:
		return ""
	}
	if c, _, err := image.DecodeConfig(bytes.NewReader(b)); err != nil || c.Width < 1 || c.Height < 1 {
		return ""
	}
	return kind
}

// AddPhoto keeps a driver's picture of what was wrong at a stop. The same key
// sent again counts once. Only staff see it.
func (d *Desk) AddPhoto(ctx context.Context, actor party.Actor, p order.Photo) error {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return err
	}
	var l fault.List
	if p.Key == "" || len(p.Key) > 80 {
		l.Addf("key", "the picture needs a key of at most 80 characters")
	}
	if p.Exception < 0 || p.Exception >= mostExceptions {
		l.Addf("exception", "say which exception the picture belongs to")
	}
	if p.Kind = kindOfPicture(p.Body); p.Kind == "" {
		l.Addf("photo", "this isn't a picture that can be kept; take it as JPEG or PNG")
	}
	if len(p.Body) > MostPhoto {
		l.Addf("photo", "a picture has at most 5 MB; take it smaller")
	}
	if err := l.Err(); err != nil {
		return err
	}
	sum := sha256.Sum256(p.Body)
	p.SHA256 = hex.EncodeToString(sum[:])
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := tx.Stop(p.StopID); err != nil {
			return err
		}
		there, err := tx.PhotosOf(p.StopID)
		if err != nil {
			return err
		}
		for _, other := range there {
			if other.Key == p.Key {
				return nil
			}
		}
		if len(there) >= mostPhotos {
			return fault.Conflictf("a stop keeps at most %d pictures", mostPhotos)
		}
		_, err = tx.AddPhoto(actor, p)
		return err
	})
}

// Photo gives a picture, to staff.
func (d *Desk) Photo(ctx context.Context, actor party.Actor, id int64) (p order.Photo, err error) {
	if !actor.Role.Staff() {
		return p, fault.NotFoundf("there is no such picture")
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		p, err = tx.Photo(id)
		return err
	})
	return p, err
}

// Stop gives one stop, to staff.
func (d *Desk) Stop(ctx context.Context, actor party.Actor, id int64) (s order.Stop, err error) {
	if !actor.Role.Staff() {
		return s, fault.NotFoundf("there is no such stop")
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		s, err = tx.Stop(id)
		return err
	})
	return s, err
}
