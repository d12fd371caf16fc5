package document

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strconv"
	"time"
	"unsafe"

	"github.com/johnfercher/go-tree/node"
	"github.com/johnfercher/maroto/v2"
	"github.com/johnfercher/maroto/v2/pkg/components/col"
	"github.com/johnfercher/maroto/v2/pkg/components/page"
	"github.com/johnfercher/maroto/v2/pkg/components/row"
	"github.com/johnfercher/maroto/v2/pkg/config"
	"github.com/johnfercher/maroto/v2/pkg/core"
	"github.com/johnfercher/maroto/v2/pkg/core/entity"
	"github.com/johnfercher/maroto/v2/pkg/props"
	"ribdesk/internal/words"
)

// pen is what the PDF library offers below its grid of rows and columns. The
// grid has no vector drawing and no text at a place, and the papers need both.
type pen interface {
	SetFont(family, style string, size float64)
	GetStringWidth(s string) float64
	Text(x, y float64, s string)
	SetTextColor(r, g, b int)
	SetDrawColor(r, g, b int)
	SetFillColor(r, g, b int)
	SetLineWidth(w float64)
	SetLineCapStyle(style string)
	SetDashPattern(dashes []float64, phase float64)
	Line(x1, y1, x2, y2 float64)
	Rect(x, y, w, h float64, style string)
	Circle(x, y, r float64, style string)
	MoveTo(x, y float64)
	LineTo(x, y float64)
	ClosePath()
	DrawPath(style string)
	TransformBegin()
	TransformRotate(angle, x, y float64)
	TransformEnd()
	SetCatalogSort(sorted bool)
	SetModificationDate(t time.Time)
	GetXY() (x, y float64)
	SetXY(x, y float64)
}

// press is one PDF in the making. All places are millimetres from the top left
// corner of the sheet.
type press struct {
	maroto core.Maroto
	pen    pen
	sheet  sheetSize
}

// sheetSize is the paper and its margins in millimetres.
type sheetSize struct {
	width, height            float64
	left, top, right, bottom float64
}

func (s sheetSize) inner() float64 { return s.width - s.left - s.right }
func (s sheetSize) high() float64  { return s.height - s.top - s.bottom }

func newPress(s sheetSize, title string, h *Head) (*press, error) {
	cfg := config.NewBuilder().
		WithDimensions(s.width, s.height).
		WithLeftMargin(s.left).WithTopMargin(s.top).WithRightMargin(s.right).WithBottomMargin(s.bottom).
		WithCompression(true).
		WithCustomFonts(customFonts()).
		WithDefaultFont(&props.Font{Family: regular.family, Size: 9}).
		WithTitle(title, true).
		WithAuthor(clean(h.Seller.Name), true).
		WithCreator("Ribdesk", true).
		WithCreationDate(h.Issued.UTC()).
		Build()
	p := &press{maroto: maroto.New(cfg), sheet: s}
	var err error
	if p.pen, err = penOf(p.maroto); err != nil {
		return nil, err
	}
	p.pen.SetCatalogSort(true)
	p.pen.SetModificationDate(h.Issued.UTC())
	return p, nil
}

// penOf takes the drawing handle out of the grid by its private fields. A new
// version of the library may move them; the tests say so at once.
func penOf(m core.Maroto) (p pen, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("document: the PDF library keeps its handle elsewhere: %v", r)
		}
	}()
	provider := reflect.ValueOf(m).Elem().FieldByName("provider").Elem().Elem()
	field := provider.FieldByName("fpdf")
	handle := reflect.NewAt(field.Type(), unsafe.Pointer(field.UnsafeAddr())).Elem().Interface()
	p, ok := handle.(pen)
	if !ok || p == nil {
		return nil, fmt.Errorf("document: the PDF library's handle is a %T", handle)
	}
	return p, nil
}

// strip is a part of a sheet, over its whole width, that no page break splits.
type strip struct {
	high float64
	draw func(y float64) // y is the top of the strip
	keep bool            // stays on the page of the strip that follows
	head []strip         // set again on top of a page that begins with this strip
}

// GetStructure, SetConfig, GetHeight and Render make a strip a component of the
// grid.
func (s strip) GetStructure() *node.Node[core.Structure] {
	return node.New(core.Structure{Type: "strip", Value: s.high})
}

// SetConfig has nothing to keep.
func (s strip) SetConfig(*entity.Config) {}

// GetHeight gives the strip's height.
func (s strip) GetHeight(core.Provider, *entity.Cell) float64 { return s.high }

// Render draws the strip in its place.
func (s strip) Render(_ core.Provider, cell *entity.Cell) { s.draw(cell.Y) }

// page hands one sheet to the grid: strips from the top.
func (p *press) page(strips []strip) {
	pg := page.New()
	for _, s := range strips {
		placed := s
		placed.draw = func(y float64) {
			x0, y0 := p.pen.GetXY()
			s.draw(y + p.sheet.top)
			p.pen.SetXY(x0, y0)
		}
		pg.Add(row.New(s.high).Add(col.New().Add(placed)))
	}
	p.maroto.AddPages(pg)
}

// finish gives the bytes, with the language set.
func (p *press) finish(lang Language) ([]byte, error) {
	doc, err := p.maroto.Generate()
	if err != nil {
		return nil, fmt.Errorf("document: %w", err)
	}
	return withLanguage(doc.GetBytes(), lang)
}

var (
	catalogMark = []byte("/Type /Catalog\n")
	startMark   = []byte("startxref\n")
)

// withLanguage writes the language into the catalogue and asks readers to show
// the title. The library can't; the catalogue is the last object of its files,
// so only the place of the cross-reference table moves.
func withLanguage(pdf []byte, lang Language) ([]byte, error) {
	tag := "en-US"
	if lang == words.Spanish {
		tag = "es-US"
	}
	extra := []byte("/Lang (" + tag + ")\n/ViewerPreferences << /DisplayDocTitle true >>\n")
	at := bytes.LastIndex(pdf, catalogMark)
	start := bytes.LastIndex(pdf, startMark)
	if at < 0 || start < at {
		return nil, errors.New("document: the PDF has no catalogue where it belongs")
	}
	at += len(catalogMark)
	figure := pdf[start+len(startMark):]
	end := bytes.IndexByte(figure, '\n')
	if end < 0 {
		return nil, errors.New("document: the PDF ends early")
	}
	offset, err := strconv.Atoi(string(figure[:end]))
	if err != nil || offset < at {
		return nil, errors.New("document: the PDF's catalogue isn't its last object")
	}
	var b bytes.Buffer
	b.Grow(len(pdf) + len(extra))
	b.Write(pdf[:at])
	b.Write(extra)
	b.Write(pdf[at : start+len(startMark)])
	b.WriteString(strconv.Itoa(offset + len(extra)))
	b.Write(figure[end:])
	return b.Bytes(), nil
}
