package document

import (
	"math"
	"time"

	"github.com/boombuler/barcode"

	"ribdesk/internal/caution"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// BundleLabel is what one bundle carries. It has no prices.
type BundleLabel struct {
	Goods
	Order      string         `json:"order"`
	Customer   string         `json:"customer"`
	Job        string         `json:"job,omitempty"`
	Number     int            `json:"number"`
	Of         int            `json:"of"`
	Cuts       []Cut          `json:"cuts"`
	Longest    measure.Length `json:"longest"`
	Pounds     int            `json:"pounds"`                 // of the bundle, calculated
	PiecePound int            `json:"piece_pounds,omitempty"` // of the heaviest piece, calculated
	TwoPeople  bool           `json:"two_people,omitempty"`   // heavy, or long and floppy
	Code       string         `json:"code"`                   // bundle id, printable ASCII
	Link       string         `json:"link,omitempty"`         // what the square code holds; Code where empty
}

// BundleLabels are 4 x 6 in labels, one a sheet.
type BundleLabels struct {
	Head
	Labels []BundleLabel `json:"labels"`
}

// Kind names the paper.
func (*BundleLabels) Kind() Kind { return KindBundleLabels }

func (*BundleLabels) size() sheetSize { return labelSize4x6 }

var labelSize4x6 = sheetSize{width: 101.6, height: 152.4}

func (b *BundleLabels) check(l *fault.List) {
	if len(b.Labels) == 0 {
		l.Addf("labels", "there is no bundle to label")
	}
	for i, label := range b.Labels {
		checkCode(l, "labels."+itoa(i)+".code", label.Code)
	}
}

// widestBars is the room for a bar code, quiet zones and all, beside the square
// code: any 12 characters fit, and more where figures stand in pairs.
const widestBars = 73.0

func checkCode(l *fault.List, field, code string) {
	if code == "" {
		l.Addf(field, "a label needs its code")
		return
	}
	for _, ch := range code {
		if ch < ' ' || ch > '~' {
			l.Addf(field, "a label's code uses plain letters, figures and dashes")
			return
		}
	}
	if bar, err := barCode(code); err != nil || barsWidth(bar) > widestBars {
		l.Addf(field, "the code “%s” is too long to print so that it scans; 12 characters always fit", code)
	}
}

func (b *BundleLabels) compose(c *composer) {
	for _, label := range b.Labels {
		c.label(label.Code, label.Link, func(n int) { label.draw(c, n, len(b.Labels)) })
	}
}

// label adds a sheet with both codes at its foot and draw's content above.
func (c *composer) label(code, link string, draw func(n int)) {
	if link == "" {
		link = code
	}
	c.whole = true
	n := len(c.strips) + 1
	bar, err := barCode(code)
	if err != nil {
		c.err = err
		return
	}
	square, err := qrCode(link)
	if err != nil {
		c.err = err
		return
	}
	c.add(c.sheet.height, func(float64) {
		draw(n)
		side := squareSide(square)
		c.square(square, c.sheet.width-side-2.5, codesTop, side)
		// A bar begins on a whole dot of the printer, so that none is blurred.
		x := math.Round((c.sheet.width-side-2.5-barsWidth(bar))/2/dot) * dot
		c.bars(bar, x, codesTop+3)
		c.sayMiddle(x+barsWidth(bar)/2, codesTop+3+barHigh+5, bold, 13, code)
	})
}

// codesTop is where the codes at the foot of a label begin.
const codesTop = 123.0

// squareSide gives a label's square code whole dots to a module: four, or three
// where it would get too large.
func squareSide(code barcode.Barcode) float64 {
	n := float64(code.Bounds().Dx() + 2*quietQR)
	if side := n * 4 * dot; side <= 23.5 {
		return side
	}
	return n * 3 * dot
}

const labelEdge = 4.0

func (b BundleLabel) draw(c *composer, n, m int) {
	left, right := labelEdge, c.sheet.width-labelEdge
	c.frame(2, 2, c.sheet.width-4, c.sheet.height-4, cutEdge)
	size, order := c.fitting(bold, 20, 10, 56, b.Order)
	c.say(left, 10, bold, size, order)
	c.sayRight(right, 10, bold, 17, itoa(b.Number)+" "+c.t(wOf)+" "+itoa(b.Of))
	c.small(right-c.width(narrow, labelSize, c.t(wBundle)), 14, c.t(wBundle))
	size, who := c.fitting(bold, 11, 8, right-left-18, b.Customer)
	c.say(left, 16, bold, size, who)
	size, job := c.fitting(regular, 10, 7.5, right-left, b.Job)
	c.say(left, 20.5, regular, size, job)
	c.line(2, 23, c.sheet.width-2, 23, hairline, drawing.Ink)

	x := left
	if c.swatch(x, 25, 5, b.ColourHex) {
		x += 7
	}
	size, goods := c.fitting(bold, 13, 8, right-x, join("  ·  ", b.Profile, b.Colour))
	c.say(x, 29, bold, size, goods)
	size, metal := c.fitting(regular, 10, 7, right-left, join("  ·  ", b.Gauge, b.Material, b.Coating))
	c.say(left, 34.5, regular, size, metal)
	c.line(2, 37, c.sheet.width-2, 37, hairline, drawing.Ink)
	b.cuts(c, left, 37)
	b.figures(c, left, 75)
	codes := []caution.Code{caution.Edges, caution.Wind, caution.Hoisting, caution.Deference}
	first := ""
	if b.TwoPeople {
		first = c.t(wTwoPeople)
	}
	c.warnings(84.5, first, codes...)
	c.labelBlock(n, m)
}

// cuts sets up to eight lengths in two columns.
func (b BundleLabel) cuts(c *composer, x, y float64) {
	const most, rowHigh = 8, 8.4
	col := (c.sheet.width - 2*labelEdge) / 2
	shown := b.Cuts
	if len(shown) > most {
		shown = shown[:most-1]
	}
	perColumn := most / 2
	for i, cut := range shown {
		cx, cy := x+col*float64(i/perColumn), y+rowHigh*float64(i%perColumn)+7
		size, s := c.fitting(bold, 16, 9, col-2, itoa(cut.Pieces)+" × "+c.length(cut.Length))
		c.say(cx, cy, bold, size, s)
	}
	if rest := len(b.Cuts) - len(shown); rest > 0 {
		size, s := c.fitting(regular, 9, 7, col-2, c.f(wSeeTicket, rest))
		c.say(x+col, y+rowHigh*float64(perColumn-1)+7, regular, size, s)
	}
	c.line(2, y+rowHigh*float64(perColumn)+2, c.sheet.width-2, y+rowHigh*float64(perColumn)+2, hairline, drawing.Ink)
}

func (b BundleLabel) figures(c *composer, x, y float64) {
	w := (c.sheet.width - 2*labelEdge) / 3
	for i, f := range []fact{
		{c.t(wLongest), c.length(b.Longest)}, {c.t(wWeight), c.pounds(b.Pounds)}, {c.t(wPieceWeight), c.pounds(b.PiecePound)},
	} {
		c.small(x+w*float64(i), y, f.name)
		size, s := c.fitting(bold, 14, 8, w-2, f.value)
		c.say(x+w*float64(i), y+6, bold, size, s)
	}
	c.line(2, y+8, c.sheet.width-2, y+8, hairline, drawing.Ink)
}

// warnings prints a label's cautions from y down to the codes, as large as they
// fit; first, where there is one, is bold.
func (c *composer) warnings(y float64, first string, codes ...caution.Code) {
	x, w := labelEdge, c.sheet.width-2*labelEdge
	var lines []string
	var firstLines int
	size := bodySize
	for ; size > 5.5; size -= 0.5 {
		lines = nil
		if first != "" {
			lines = c.wrap(bold, size, w, first)
		}
		firstLines = len(lines)
		for _, code := range codes {
			lines = append(lines, c.wrap(regular, size, w, caution.Of(code, c.head.Language).Text)...)
		}
		if float64(len(lines))*lineHigh(size) <= codesTop-y {
			break
		}
	}
	for i, l := range lines {
		f := regular
		if i < firstLines {
			f = bold
		}
		c.say(x, y+base(size)+float64(i)*lineHigh(size), f, size, l)
	}
}

// labelBlock is the title block of a label, in one line at the foot.
func (c *composer) labelBlock(n, m int) {
	y := c.sheet.height - 4
	left := join("  ·  ", c.thing+" "+c.head.Number, c.date(c.head.Issued), c.head.By)
	sheet := c.t(wSheet) + " " + itoa(n) + " " + c.t(wOf) + " " + itoa(m)
	size, s := c.fitting(regular, 6.5, 5, c.sheet.width-2*labelEdge-22, left)
	c.say(labelEdge, y+0.8, regular, size, s)
	c.sayRight(c.sheet.width-labelEdge, y+0.8, regular, 6.5, sheet)
}

// CoilTag hangs on a coil, 4 x 6 in.
type CoilTag struct {
	Head
	Goods    Goods          `json:"goods"`
	Coil     string         `json:"coil"` // its number, printable ASCII; the bar code holds it
	Lot      string         `json:"lot,omitempty"`
	Heat     string         `json:"heat,omitempty"`
	Supplier string         `json:"supplier,omitempty"`
	Width    measure.Length `json:"width"`
	OnHand   measure.Length `json:"on_hand"`
	Pounds   int            `json:"pounds"`
	Received time.Time      `json:"received,omitzero"`
	Place    string         `json:"place,omitempty"` // where it stands
}

// Kind names the paper.
func (*CoilTag) Kind() Kind { return KindCoilTag }

func (*CoilTag) size() sheetSize { return labelSize4x6 }

func (t *CoilTag) check(l *fault.List) { checkCode(l, "coil", t.Coil) }

func (t *CoilTag) compose(c *composer) {
	c.label(t.Coil, t.Link, func(n int) { t.draw(c, n) })
}

func (t *CoilTag) draw(c *composer, n int) {
	left, right := labelEdge, c.sheet.width-labelEdge
	c.frame(2, 2, c.sheet.width-4, c.sheet.height-4, cutEdge)
	size, number := c.fitting(bold, 26, 12, right-left, t.Coil)
	c.say(left, 13, bold, size, number)
	c.small(left, 18, c.t(wCoil))
	c.line(2, 20, c.sheet.width-2, 20, hairline, drawing.Ink)
	x := left
	if c.swatch(x, 22, 6, t.Goods.ColourHex) {
		x += 8
	}
	size, goods := c.fitting(bold, 15, 8, right-x, t.Goods.Colour)
	c.say(x, 27, bold, size, goods)
	size, metal := c.fitting(regular, 11, 7, right-left, join("  ·  ", t.Goods.Gauge, t.Goods.Material, t.Goods.Coating))
	c.say(left, 33.5, regular, size, metal)
	c.line(2, 36, c.sheet.width-2, 36, hairline, drawing.Ink)
	w := (right - left) / 2
	for i, f := range []fact{
		{c.t(wWidth), c.across(t.Width)}, {c.t(wOnHand), c.f(wInFeet, t.OnHand.Feet())}, {c.t(wWeight), c.pounds(t.Pounds)},
		{c.t(wLot), t.Lot}, {c.t(wHeat), t.Heat}, {c.t(wReceived), c.date(t.Received)}, {c.t(wSupplier), t.Supplier}, {c.t(wLoadAt), t.Place},
	} {
		fx, fy := left+w*float64(i%2), 40+12*float64(i/2)
		c.small(fx, fy, f.name)
		size, s := c.fitting(bold, 15, 8, w-2, f.value)
		c.say(fx, fy+6.2, bold, size, s)
	}
	c.warnings(90, "", caution.Edges, caution.Coils, caution.Bands, caution.Deference)
	c.labelBlock(n, 1)
}
