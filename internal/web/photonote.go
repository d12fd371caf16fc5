package web

import (
	"fmt"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/picture"
)

// photoNotes are the pictures that go with an order, and the form for a further
// one. Whoever came by the private link sees how many there are; the pictures are
// for the shop and the customer's account.
type photoNotes struct {
	Photos         []order.PhotoNote
	PhotoCount     int
	Photo, Caption Field
}

func newPhotoNotes() photoNotes {
	return photoNotes{
		Photo:   Field{Name: "photo", Label: "A photo", Help: "JPEG or PNG, at most 5 MB: a list on paper, a corner of the roof. A person looks at it; it isn't read by machine. Where and when it was taken is left out."},
		Caption: Field{Name: "caption", Label: "What it shows", Optional: true},
	}
}

func (v *visit) photosOf(p *orderPage) (err error) {
	p.photoNotes = newPhotoNotes()
	if p.Token != "" {
		p.PhotoCount, err = v.desk.CountPhotosByLink(v.ctx(), p.Token)
		return err
	}
	p.Photos, err = v.desk.PhotoNotes(v.ctx(), v.actor, p.File.Order.ID)
	p.PhotoCount = len(p.Photos)
	return err
}

// photoOf reads the picture of a form.
func (v *visit) photoOf(p *orderPage) ([]byte, error) {
	v.read = append(v.read, &p.Photo)
	if form := v.c.Request.MultipartForm; form != nil {
		if files := form.File[p.Photo.Name]; len(files) > 0 {
			body, err := readPart(files[0].Open, desk.MostPhoto)
			if err != nil {
				return nil, fault.Invalidf("photo", "a picture has at most 5 MB; take it smaller")
			}
			return body, nil
		}
	}
	return nil, fault.Invalidf("photo", "choose a picture, or take one")
}

func doAddPhotoNote(v *visit) error {
	p, err := v.loadOrder()
	if err != nil {
		return err
	}
	body, err := v.photoOf(p)
	if err == nil {
		err = v.desk.AddPhotoNote(v.ctx(), v.actor, p.File.Order.ID, v.text(&p.Caption), body)
	}
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("order", p.File.Order.ID), "The photo is with the order.")
}

func doPhotoByLink(v *visit) error {
	p, err := v.linkedOrder()
	if err != nil {
		return err
	}
	body, err := v.photoOf(p)
	if err == nil {
		err = v.desk.AddPhotoByLink(v.ctx(), p.Token, v.text(&p.Caption), body)
	}
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/q/"+p.Token, "The photo is with the shop.")
}

func showPhotoNote(v *visit) error {
	orderID, err := v.id("id")
	if err != nil {
		return err
	}
	id, err := v.id("photo")
	if err != nil {
		return err
	}
	p, err := v.desk.PhotoNote(v.ctx(), v.actor, orderID, id)
	if err != nil {
		return err
	}
	return v.sendFile(p.Kind, fmt.Sprintf("photo-%d%s", p.ID, map[string]string{picture.JPEG: ".jpg", picture.PNG: ".png"}[p.Kind]), true, p.Body)
}
