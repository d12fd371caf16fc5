package desk

import (
	"context"
	"fmt"
	"strings"

	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/metal"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// DrawnTrim is a section as it stands on the drawing board: its picture, and the
// blank it is folded from, as far as it can be folded.
type DrawnTrim struct {
	View  drawing.Section
	Blank metal.Blank
	Fold  metal.Folding
	Metal MetalChoice
}

// DrawTrim draws a section in a metal and figures its blank as the shop's folder
// does it. The picture is there also when the section is refused, so that a
// person sees what is wrong, in the words of r; the faults are those of metal.Check.
func (d *Desk) DrawTrim(ctx context.Context, section metal.Section, metalKey string, r words.Reader) (DrawnTrim, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return DrawnTrim{}, err
	}
	out := DrawnTrim{Fold: metal.UsualFolding()}
	for _, m := range s.choices {
		if m.Key() == metalKey {
			out.Metal = m
		}
	}
	out.View = trimView(drawing.Section{ID: "trim", Title: nameOr(section.Name, r.T("Trim")), Height: 200, Width: 290}, section, r)
	if out.Metal.Key() != metalKey || metalKey == "" {
		return out, fault.Invalidf("metal", "choose a metal of the list")
	}
	out.View.Colour = drawing.Swatch(out.Metal.Colour.Name, out.Metal.Colour.Swatch)
	if folder, ok := s.folder(); ok {
		out.Fold = foldingOf(out.Metal.Material, folder)
		for _, w := range out.Metal.Widths {
			if w <= folder.MaxStrip {
				out.Fold.Blank = max(out.Fold.Blank, w)
			}
		}
	}
	out.Blank, err = metal.Girth(section, out.Metal.Material.Sheet(out.Metal.Thickness), out.Fold)
	return out, err
}

func nameOr(name, other string) string {
	if name == "" {
		return other
	}
	return name
}

// SavePattern keeps a drawn section as a pattern to order from: a buyer's for
// their own firm, the staff's for a customer or (Customer 0) for everybody. The
// section is checked in the metal it was drawn in; another metal is checked
// again when it is asked for. Without a code it takes the next number.
func (d *Desk) SavePattern(ctx context.Context, actor party.Actor, shape stock.Shape, metalKey string) (stock.Shape, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Buyer); err != nil {
		return shape, err
	}
	if actor.Role == party.Buyer {
		shape.Customer, shape.Code = actor.CustomerID, ""
	}
	if strings.TrimSpace(shape.Name) == "" {
		return shape, fault.Invalidf("name", "give the pattern a name")
	}
	shape.Section.Name = shape.Name
	if _, err := d.DrawTrim(ctx, shape.Section, metalKey, shopReader); err != nil {
		return shape, err
	}
	return shape, d.store.Write(ctx, func(tx *store.Tx) error {
		if shape.Customer != 0 {
			if _, err := tx.Customer(shape.Customer); err != nil {
				return fault.Invalidf("customer", "choose a customer on file")
			}
		}
		if shape.Code == "" {
			code, err := shapeCodes.take(tx)
			if err != nil {
				return err
			}
			shape.Code = code
		} else if _, err := store.FromShelf[stock.Shape](tx, shape.Code); err == nil {
			return fault.Invalidf("code", "%s is on the shelf already; take another code", shape.Code)
		}
		if err := shape.Check(); err != nil {
			return err
		}
		_, err := store.PutOnShelf(tx, actor, store.Shelved[stock.Shape]{Item: shape})
		return err
	})
}

// Pattern gives a shape of the catalogue that the actor may see.
func (d *Desk) Pattern(ctx context.Context, actor party.Actor, code string) (stock.Shape, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return stock.Shape{}, err
	}
	shape, ok := s.shapes[code]
	if !ok || shape.Customer != 0 && !actor.Sees(shape.Customer) {
		return stock.Shape{}, fault.NotFoundf("there is no such pattern")
	}
	return shape, nil
}

// ownPatterns refuses a line that names another customer's pattern, in the same
// words as one that doesn't exist.
func (s *snapshot) ownPatterns(o *order.Order) error {
	var bad fault.List
	for i, l := range o.Lines {
		shape, ok := s.shapes[l.Code]
		if l.Kind == order.Trim && ok && shape.Customer != 0 && shape.Customer != o.CustomerID {
			bad.Addf(fmt.Sprintf("lines.%d.code", i), "choose a trim shape of the list, or draw one")
		}
	}
	return bad.Err()
}
