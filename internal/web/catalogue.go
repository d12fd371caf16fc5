package web

import (
	"html/template"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// shelf is one kind of thing in the catalogue, as its pages show it.
type shelf struct {
	Path, Title string
	One         string // what one of it is called
	Say         string
	Heads       []string
	list        func(*visit) ([]shelfRow, error)
	open        func(*visit, *shelfPage, string) (shelved, error)
}

// shelfRow is one item in the list of its shelf.
type shelfRow struct {
	Code, Name, Path string
	Cells            []string
	Retired          bool
	Swatch           template.HTML
}

// shelved is an item being looked at or changed: read ties it to the form, draw
// gives its picture, save keeps it.
type shelved interface {
	bind(b *binder) error
	draw() template.HTML
	check() error
	save(v *visit, seen int64) error
	retire(v *visit, seen int64, retired bool) error
}

// shelves gives the shelves of the catalogue in the order of a new shop's work.
func shelves() []shelf {
	return []shelf{
		shelfOf("materials", "Materials", "material", "Metals as the shop buys them, before colour and width.", materialCells, materialForm, nil, "Gauges", "Coating"),
		shelfOf("colours", "Colours", "colour", "Finishes with a swatch. Screens lie; samples don't.", colourCells, colourForm, nil, "Finish"),
		shelfOf("profiles", "Profiles", "profile", "What the roller sets form, from which strip and within which lengths.", profileCells, profileForm, drawProfile, "Use", "Strip", "Coverage", "Lengths"),
		shelfOf("shapes", "Trim shapes", "trim shape", "Folded sections with their measures.", shapeCells, shapeForm, drawShape, "Legs"),
		shelfOf("accessories", "Accessories", "accessory", "What is sold by the piece beside what is made.", accessoryCells, accessoryForm, nil, "Unit", "Cost", "Cost of", "On hand"),
		shelfOf("machines", "Machines", "machine", "Speeds, limits, the changeover rule and the weekly hours.", machineCells, machineForm, nil, "Widest", "Speed", "Makes"),
		shelfOf("supplies", "Supplies", "supply", "How each strip is bought: its cost with its date, and how long it takes.", supplyCells, supplyForm, nil, "Metal per lb", "Freight", "Cost of", "Lead"),
		shelfOf("vehicles", "Vehicles", "vehicle", "What hauls the deliveries, and what it may carry.", vehicleCells, vehicleForm, nil, "Deck", "Payload"),
	}
}

// shelfPath gives the page of a shelf by the name that the log has for it.
func shelfPath(kind string) (string, bool) {
	paths := map[stock.Kind]string{
		stock.Materials: "materials", stock.Colours: "colours", stock.Profiles: "profiles", stock.Shapes: "shapes",
		stock.Accessories: "accessories", stock.Machines: "machines", stock.Supplies: "supplies", stock.Vehicles: "vehicles",
	}
	path, ok := paths[stock.Kind(kind)]
	return "/shop/catalogue/" + path, ok
}

// describer ties an item to its form.
type describer[T stock.Item] func(b *binder, item *T) error

func shelfOf[T stock.Item](path, title, one, say string, cells func(T) []string, form describer[T], draw func(T) template.HTML, heads ...string) shelf {
	return shelf{
		Path: "/shop/catalogue/" + path, Title: title, One: one, Say: say, Heads: heads,
		list: func(v *visit) ([]shelfRow, error) {
			items, err := desk.Shelf[T](v.ctx(), v.desk)
			if err != nil {
				return nil, err
			}
			list := make([]shelfRow, len(items))
			for i, it := range items {
				list[i] = shelfRow{Code: it.Item.Key(), Name: it.Item.Label(), Path: "/shop/catalogue/" + path + "/" + it.Item.Key(), Cells: cells(it.Item), Retired: it.Retired, Swatch: swatchOf(it.Item)}
			}
			return list, nil
		},
		open: func(v *visit, p *shelfPage, code string) (shelved, error) {
			it := &openItem[T]{form: form, picture: draw}
			if code == "" {
				return it, nil
			}
			var err error
			if it.Shelved, err = desk.FromShelf[T](v.ctx(), v.desk, code); err != nil {
				return nil, err
			}
			p.Code, p.Version, p.Retired, p.Title = code, it.Version, it.Retired, it.Item.Label()
			return it, nil
		},
	}
}

// openItem is an item of one kind on its page.
type openItem[T stock.Item] struct {
	desk.Shelved[T]
	form    describer[T]
	picture func(T) template.HTML
}

func (it *openItem[T]) bind(b *binder) error { return it.form(b, &it.Item) }
func (it *openItem[T]) check() error         { return it.Item.Check() }

func (it *openItem[T]) draw() template.HTML {
	if it.picture == nil {
		return ""
	}
	return it.picture(it.Item)
}

func (it *openItem[T]) save(v *visit, seen int64) error {
	it.Version = seen
	saved, err := desk.PutOnShelf(v.ctx(), v.desk, v.actor, it.Shelved)
	if err == nil {
		it.Shelved = saved
	}
	return err
}

func (it *openItem[T]) retire(v *visit, seen int64, retired bool) error {
	it.Retired = retired
	return it.save(v, seen)
}

// shelfListPage lists a shelf.
type shelfListPage struct {
	Base
	Shelf shelf
	Rows  []shelfRow
}

func (shelfListPage) file() string { return "shelf" }

// shelfPage adds an item or changes it.
type shelfPage struct {
	Base
	Shelf   shelf
	Code    string // "" for a new one
	Version int64
	Retired bool
	Parts   []*formPart
	Drawing template.HTML
	Drawn   bool // a kind that has a picture
}

func (shelfPage) file() string { return "shelf-item" }

// Action is where the form is sent.
func (p *shelfPage) Action() string {
	if p.Code == "" {
		return p.Shelf.Path
	}
	return p.Shelf.Path + "/" + p.Code
}

// LivePath names the item for the drawing while one types.
func (p *shelfPage) LivePath() string {
	live := strings.TrimPrefix(p.Shelf.Path, "/shop/catalogue")
	if p.Code != "" {
		live += "/" + p.Code
	}
	return live
}

// shelf gives the shelf that the path names.
func (v *visit) shelf() (shelf, error) {
	for _, s := range shelves() {
		if s.Path == "/shop/catalogue/"+v.c.Param("kind") {
			return s, nil
		}
	}
	return shelf{}, fault.NotFoundf("the catalogue has no such shelf")
}

// shelfTabs lead from one shelf to the next.
func shelfTabs(here string) []Link {
	list := []Link{{Name: "Shop", Path: "/shop"}}
	for _, s := range shelves() {
		list = append(list, Link{Name: s.Title, Path: s.Path, Here: s.Path == here})
	}
	return list
}

func showShelf(v *visit) error {
	s, err := v.shelf()
	if err != nil {
		return err
	}
	p := &shelfListPage{Base: Base{Title: s.Title, Sheet: "Shop", Tabs: shelfTabs(s.Path)}, Shelf: s}
	if p.Rows, err = s.list(v); err != nil {
		return err
	}
	return v.show(p)
}

// openShelf gives the page of the item in the path, or of a new one.
func (v *visit) openShelf() (*shelfPage, shelved, error) {
	s, err := v.shelf()
	if err != nil {
		return nil, nil, err
	}
	p := &shelfPage{Base: Base{Title: "New " + s.One, Sheet: "Shop", Tabs: shelfTabs(s.Path)}, Shelf: s}
	it, err := s.open(v, p, v.c.Param("code"))
	if err != nil {
		return nil, nil, err
	}
	p.Drawn = s.Title == "Profiles" || s.Title == "Trim shapes"
	p.Block = Block{Thing: capital(s.One), Number: p.Code}
	if p.Code != "" {
		p.Block.Revision = strconv.FormatInt(p.Version, 10)
	}
	if p.Retired {
		p.Block.State = "retired"
	}
	return p, it, nil
}

func capital(s string) string { return string(s[0]-'a'+'A') + s[1:] }

// lay fills the page from the form's description.
func (p *shelfPage) lay(b *binder, it shelved) error {
	if err := it.bind(b); err != nil {
		return err
	}
	p.Parts, p.Drawing = b.at.Parts, it.draw()
	return nil
}

func showShelfItem(v *visit) error {
	p, it, err := v.openShelf()
	if err != nil {
		return err
	}
	if err := p.lay(v.newBinder(false), it); err != nil {
		return err
	}
	return v.show(p)
}

// doDrawShelfItem shows the form as it is typed, with its picture: for the
// script while one types, which takes "part-draw" only.
func doDrawShelfItem(v *visit) error {
	p, it, err := v.openShelf()
	if err != nil {
		return err
	}
	if err := p.lay(v.newBinder(true), it); err != nil {
		return err
	}
	return v.show(p)
}

func doSaveShelfItem(v *visit) error {
	p, it, err := v.openShelf()
	if err != nil {
		return err
	}
	do := v.c.Request.PostFormValue("do")
	newest := p.Version
	p.Version = v.number("version")
	if do == "retire" || do == "restore" {
		return v.retireShelfItem(p, it, do == "retire")
	}
	shown := v.newBinder(false)
	if err := it.bind(shown); err != nil {
		return err
	}
	redraw := reshape(v.c.Request.PostForm, do) || do == "draw"
	b := v.newBinder(true)
	if err := p.lay(b, it); err != nil {
		return err
	}
	if redraw {
		return v.show(p)
	}
	if err := b.checked(it.check()); err != nil {
		return v.again(p, err)
	}
	if err := it.save(v, p.Version); err != nil {
		if len(shown.fields) == len(b.fields) {
			p.Version = v.meanwhile(&p.Base, b.fields, values(shown.fields), p.Version, newest)
		}
		return v.again(p, b.nearest(err))
	}
	return v.redirectSaying(p.Shelf.Path, "Saved.")
}

func (v *visit) retireShelfItem(p *shelfPage, it shelved, retired bool) error {
	if err := p.lay(v.newBinder(false), it); err != nil {
		return err
	}
	if err := it.retire(v, p.Version, retired); err != nil {
		return v.again(p, err)
	}
	if retired {
		return v.redirectSaying(p.Shelf.Path, p.Code+" is retired: nothing new is made of it. What was ordered stays.")
	}
	return v.redirectSaying(p.Shelf.Path, p.Code+" is back on the shelf.")
}

// choices are what forms let a person choose from.
func codesOf[T stock.Item](v *visit) ([]Option, error) {
	items, err := desk.Shelf[T](v.ctx(), v.desk)
	if err != nil {
		return nil, err
	}
	var list []Option
	for _, it := range items {
		if !it.Retired {
			list = append(list, Option{it.Item.Key(), it.Item.Key() + " – " + it.Item.Label()})
		}
	}
	return list, nil
}

// catalogueParts are the shelves as the Shop sheet lists them.
func catalogueParts(role party.Role) []part {
	if !admitted(role, "/shop/catalogue/:kind") {
		return nil
	}
	var list []part
	for _, s := range shelves() {
		list = append(list, part{Link{Name: s.Title, Path: s.Path}, s.Say})
	}
	return list
}
