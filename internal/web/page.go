package web

import (
	"cmp"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/document"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/words"
)

// page is a struct that embeds Base and names its file in templates/pages.
type page interface {
	base() *Base
	file() string
}

// Base is what every page has. A handler sets the upper half; dress adds the
// rest.
type Base struct {
	Title     string // names the sheet, in the tab and as its heading
	Sheet     string // the sheet of the head strip that it belongs to
	Tabs      []Link // what else is on that sheet
	Small     bool   // a short form: a small sheet
	Block     Block  // the title block; Thing, Date and By have usual values
	Errors    []Problem
	Meanwhile []Difference // both sides, when somebody else was faster

	Shop      string
	Sheets    []Link
	Person    party.Actor
	SignedIn  bool
	Search    bool // whether this person may search
	FormToken string
	Notice    string
	Zone      *time.Location
	RequestID string
	Reader    words.Reader // in whose language and unit of length the page is
	Here      string       // its address, for the switch of language
}

func (b *Base) base() *Base { return b }

// FormKey gives a new key, for one form.
func (*Base) FormKey() string { return randomHex(16) }

// Role is what the head strip says under the person's name.
func (b *Base) Role() string { return string(b.Person.Role) }

// Is reports whether the person has one of the roles, for what only some see.
// What they may do is the route table's and the desk's to say.
func (b *Base) Is(roles ...string) bool {
	for _, r := range roles {
		if string(b.Person.Role) == r {
			return true
		}
	}
	return false
}

// When writes a moment in the shop's zone.
func (b *Base) When(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return b.Reader.When(t.In(b.zone()))
}

// ShortDay writes the day of a moment in the shop's zone, as said at a counter.
func (b *Base) ShortDay(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return b.Reader.ShortDay(t.In(b.zone()))
}

// Day writes a day.
func (b *Base) Day(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return b.Reader.Day(t)
}

// Long writes a length as the reader likes it.
func (b *Base) Long(l measure.Length) string { return b.Reader.Read(l) }

// Across writes a width as the reader likes it.
func (b *Base) Across(l measure.Length) string { return b.Reader.Read(l.Across()) }

// Metric reports whether the reader likes lengths in millimetres.
func (b *Base) Metric() bool { return metric(b.Reader) }

// Running writes a sum of lengths without its unit: in feet, or metres.
func (b *Base) Running(l measure.Length) string {
	if b.Metric() {
		return l.Decimal(measure.Metre, 2)
	}
	return l.Feet()
}

// LineName names a line of a price.
func (b *Base) LineName(l price.Line) string { return desk.LineName(l, b.Reader) }

// PaperName names an issued paper.
func (b *Base) PaperName(p order.Paper) string {
	name := b.Reader.T(document.Thing(desk.PaperKind(p))) + " " + p.Number
	if desk.IsExchangeFile(p) {
		return b.Reader.T("%s, exchange file", name)
	}
	return name
}

// Lang is the language of the page, for its html element.
func (b *Base) Lang() words.Language { return cmp.Or(b.Reader.Language, words.English) }

// Tongues are the other languages the page can be read in; the shop's own people
// read English.
func (b *Base) Tongues() (others []Option) {
	if b.Person.Role.Staff() {
		return nil
	}
	for _, l := range words.Languages {
		if l.Code != b.Lang() {
			others = append(others, Option{string(l.Code), l.Name})
		}
	}
	return others
}

func (b *Base) zone() *time.Location {
	if b.Zone == nil {
		return time.UTC
	}
	return b.Zone
}

// Link is a place to go.
type Link struct {
	Name string
	Path string
	Here bool // it is where we are
}

// Block is the title block at the foot right: what this sheet is. Empty parts
// aren't drawn.
type Block struct {
	Thing    string
	Number   string
	Revision string
	State    string
	Date     string
	By       string
	Of       string // "1 of 3" for something on several sheets
}

// Problem is one line of the list above a form.
type Problem struct {
	Field    string // id of the field, "" when it is about the whole
	Label    string
	Sentence string
}

// sheets are the words of the head strip and where they lead. One that the role
// may not open isn't shown.
var sheets = []Link{
	{Name: "Today", Path: "/today"},
	{Name: "Counter", Path: "/counter"},
	{Name: "Orders", Path: "/orders"},
	{Name: "Run plan", Path: "/plan"},
	{Name: "Coils", Path: "/coils"},
	{Name: "Loads", Path: "/loads"},
	{Name: "Books", Path: "/books"},
	{Name: "Rates", Path: "/rates"},
	{Name: "Shop", Path: "/shop"},
	{Name: "Account", Path: "/account"},
}

// open gives the links that a role may follow, the present one marked.
func open(role party.Role, links []Link, here string) []Link {
	var kept []Link
	for _, l := range links {
		if admitted(role, l.Path) {
			l.Here = l.Name == here
			kept = append(kept, l)
		}
	}
	return kept
}

// dress adds what every page has: the shop, the sheets of this role, the person,
// and what its forms need.
func (v *visit) dress(b *Base) error {
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	b.Shop, b.Zone = seller.Name, seller.Location()
	b.Person, b.SignedIn = v.actor, v.actor.PersonID != 0
	b.Sheets = open(v.actor.Role, sheets, b.Sheet)
	b.Search = admitted(v.actor.Role, "/search")
	b.FormToken, b.RequestID = v.formToken(), v.requestID()
	b.Reader, b.Here = v.reader, v.here()
	if said := v.takeNotice(); said != "" {
		b.Notice = said
	}
	if b.Block.Thing == "" {
		b.Block.Thing = b.Title
	}
	if b.Block.Date == "" {
		b.Block.Date = v.desk.Now().In(b.Zone).Format("2006-01-02")
	}
	if b.Block.By == "" && b.SignedIn {
		b.Block.By = strings.TrimSpace(v.actor.Name)
	}
	return nil
}

// errorPage says what went wrong and what to do.
type errorPage struct {
	Base
	Sentence string
}

func (errorPage) file() string { return "error" }
