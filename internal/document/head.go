package document

import (
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/words"
)

// Language is what a paper is written in; anything unknown prints in English.
type Language = words.Language

// Paper is the size of the sheet.
type Paper string

// The sizes; "" is Letter.
const (
	Letter Paper = "letter"
	A4     Paper = "a4"
)

// Firm is the seller or customer as it stands on a paper.
type Firm struct {
	Name         string        `json:"name"`
	Contact      string        `json:"contact,omitempty"`
	Address      party.Address `json:"address"`
	Phone        string        `json:"phone,omitempty"`
	Email        string        `json:"email,omitempty"`
	Registration string        `json:"registration,omitempty"` // legal registration number
	TaxNumber    string        `json:"tax_number,omitempty"`
}

// Head is what every paper carries: it fills the title block, the addresses and
// the code that leads back to the record.
type Head struct {
	Number   string        `json:"number"`
	Revision int           `json:"revision,omitempty"`
	State    string        `json:"state,omitempty"` // in the words of the desk
	Issued   time.Time     `json:"issued"`          // in the shop's zone
	By       string        `json:"by,omitempty"`
	Code     string        `json:"code,omitempty"` // in print under the square code; Number where empty
	Link     string        `json:"link,omitempty"` // what the square code holds; Code where empty
	Language Language      `json:"language,omitempty"`
	Paper    Paper         `json:"paper,omitempty"`
	Style    measure.Style `json:"style,omitempty"` // how lengths are written
	Seller   Firm          `json:"seller"`
	Customer Firm          `json:"customer"`
	ShipTo   Place         `json:"ship_to"`
	Job      string        `json:"job,omitempty"`
	PO       string        `json:"po,omitempty"`
}

// Place is where goods go.
type Place struct {
	Name    string        `json:"name,omitempty"`
	Address party.Address `json:"address"`
	Contact string        `json:"contact,omitempty"`
	Phone   string        `json:"phone,omitempty"`
}

func (h *Head) head() *Head { return h }

func (h *Head) check(l *fault.List) {
	if h.Number == "" {
		l.Addf("number", "a paper needs its number")
	}
	if h.Issued.IsZero() {
		l.Addf("issued", "a paper needs the day it was issued")
	}
	if h.Seller.Name == "" {
		l.Addf("seller", "a paper needs the shop's legal name; set it on the Shop page")
	}
}

func (h *Head) code() string {
	if h.Code != "" {
		return h.Code
	}
	return h.Number
}

func (h *Head) link() string {
	if h.Link != "" {
		return h.Link
	}
	return h.code()
}

// Goods says what metal a line is made of, each in the shop's own words.
type Goods struct {
	Profile   string `json:"profile,omitempty"`
	Gauge     string `json:"gauge,omitempty"` // with the decimal thickness
	Material  string `json:"material,omitempty"`
	Coating   string `json:"coating,omitempty"`
	Colour    string `json:"colour,omitempty"`
	ColourHex string `json:"colour_hex,omitempty"` // #rrggbb
}

// Line is one line of goods with its price.
type Line struct {
	Mark string `json:"mark,omitempty"` // the line's number or letter
	Goods
	Name      string         `json:"name,omitempty"` // of a piece that isn't a length of the profile
	Note      string         `json:"note,omitempty"`
	Pieces    int            `json:"pieces,omitempty"`
	Length    measure.Length `json:"length,omitempty"`
	Girth     measure.Length `json:"girth,omitempty"` // of trim
	Bends     int            `json:"bends,omitempty"`
	Hems      int            `json:"hems,omitempty"`
	Quantity  money.Rate     `json:"quantity"` // in Unit
	Unit      string         `json:"unit,omitempty"`
	UnitPrice money.Rate     `json:"unit_price"`
	Net       money.Amount   `json:"net"`
}

// Charge is an allowance (negative) or charge with its reason, on a line of its
// own: changeover, minimum, packing, delivery, discount.
type Charge struct {
	Name   string       `json:"name"`
	Reason string       `json:"reason,omitempty"`
	Net    money.Amount `json:"net"`
}

// Tax is the tax of one jurisdiction.
type Tax struct {
	Jurisdiction string       `json:"jurisdiction"`
	Base         money.Amount `json:"base"`
	Rate         money.Rate   `json:"rate"` // as a share: 0.07
	Tax          money.Amount `json:"tax"`
}

// Exemption is a base that isn't taxed, and why.
type Exemption struct {
	Base        money.Amount `json:"base"`
	Reason      string       `json:"reason"`
	Certificate string       `json:"certificate,omitempty"`
	State       string       `json:"state,omitempty"`
	Expires     time.Time    `json:"expires,omitzero"`
}

// Bundle is one bundle with what is in it.
type Bundle struct {
	Number  int            `json:"number"`
	Of      int            `json:"of"`
	Code    string         `json:"code,omitempty"`
	Order   string         `json:"order,omitempty"`
	Pieces  int            `json:"pieces"`
	Longest measure.Length `json:"longest"`
	Pounds  int            `json:"pounds"` // calculated
	Cuts    []Cut          `json:"cuts,omitempty"`
}

// Cut is so many pieces of one length. In a bundle they stand longest first, as
// the longest lies at the bottom.
type Cut struct {
	Order    string         `json:"order,omitempty"`
	Customer string         `json:"customer,omitempty"`
	Mark     string         `json:"mark,omitempty"`
	Pieces   int            `json:"pieces"`
	Length   measure.Length `json:"length"`
	Running  measure.Length `json:"running"` // pieces x length
	Pounds   int            `json:"pounds"`  // calculated
	Note     string         `json:"note,omitempty"`
}

// checkBundles refuses bundles that aren't longest first.
func checkBundles(l *fault.List, bundles []Bundle) {
	for i, b := range bundles {
		for j := 1; j < len(b.Cuts); j++ {
			if b.Cuts[j].Length > b.Cuts[j-1].Length {
				l.Addf("bundles."+itoa(i), "bundle %d isn't sorted longest first", b.Number)
				break
			}
		}
	}
}

// Item is a thing counted, not cut: screws, closures, sealant.
type Item struct {
	Name     string     `json:"name"`
	Quantity money.Rate `json:"quantity"`
	Unit     string     `json:"unit"`
}
