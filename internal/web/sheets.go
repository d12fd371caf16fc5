package web

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// sheetsPage is the flat sheets in the shop: receive a pile, count it, and cut
// what adopted patterns are promised.
type sheetsPage struct {
	Base
	Piles    []pileView
	Hands    bool // may cut
	Costs    bool
	currency money.Currency

	Material, Gauge, Colour     Field
	Width, Length, Sheets       Field
	Lot, Supplier, Landed       Field
	Pile, Kind, Counted, Reason Field
}

func (sheetsPage) file() string { return "sheets" }

// pileView is a pile as the page shows it.
type pileView struct {
	desk.PileCard
	Swatch   template.HTML
	Patterns []patternView
	Each     string
}

type patternView struct {
	Words, Orders string
	Sheets        []int64
}

func (v *visit) newSheetsPage() (*sheetsPage, error) {
	rack, err := v.desk.SheetRack(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return nil, err
	}
	p := &sheetsPage{
		Base:  Base{Title: "Flat sheets", Sheet: "Coils", Tabs: v.coilTabs("Sheets"), Block: Block{Thing: "Flat sheets on hand"}},
		Hands: v.actor.Role != party.Counter, Costs: v.actor.Role != party.Operator, currency: seller.Currency,
		Material: Field{Name: "material", Label: "Material"}, Gauge: Field{Name: "gauge", Label: "Gauge", Short: true}, Colour: Field{Name: "colour", Label: "Colour"},
		Width:    Field{Name: "width", Label: "Width", Unit: "in", Short: true, Help: "Strips are slit along the other way."},
		Length:   Field{Name: "length", Label: "Length", Short: true, Help: "Such as 10'. A bare number is feet."},
		Sheets:   Field{Name: "sheets", Label: "How many", Keys: "numeric", Short: true},
		Lot:      Field{Name: "lot", Label: "Paint lot or heat", Short: true, Optional: true},
		Supplier: Field{Name: "supplier", Label: "Supplier", Optional: true},
		Landed:   Field{Name: "landed", Label: "Cost, landed", Unit: "$", Keys: "decimal", Short: true, Optional: true, Help: "Of all of them."},
		Pile:     Field{Name: "pile", Label: "Pile"},
		Kind: Field{Name: "kind", Label: "What happened", Options: []Option{
			{string(stock.MovedAdjusted), "Counted: so many are there"}, {string(stock.MovedScrap), "Scrapped: so many are lost"}, {string(stock.MovedReturned), "Returned to the supplier"}}},
		Counted: Field{Name: "sheets", Label: "Sheets", Keys: "numeric", Short: true, Prefix: "move-"},
		Reason:  Field{Name: "reason", Label: "Why"},
	}
	for i, card := range rack.Piles {
		view := pileView{PileCard: card, Each: "$" + card.Each().Fixed(2)}
		view.Swatch = template.HTML(strings.Replace(string(swatchOf(card.Colour)), "swatch-", fmt.Sprintf("swatch-%d-", i), 1))
		for _, pat := range card.Patterns {
			view.Patterns = append(view.Patterns, patternView{Words: pat.Words, Orders: strings.Join(pat.Orders, ", "), Sheets: pat.Sheets})
		}
		p.Piles = append(p.Piles, view)
		p.Pile.Options = append(p.Pile.Options, Option{strconv.FormatInt(card.ID, 10), fmt.Sprintf("%s: %s, %d there", card.Tag, card.Name, card.OnHand)})
	}
	return p, v.listMetals(p)
}

func (v *visit) listMetals(p *sheetsPage) (err error) {
	if p.Material.Options, err = codesOf[stock.Material](v); err != nil {
		return err
	}
	if p.Colour.Options, err = codesOf[stock.Colour](v); err != nil {
		return err
	}
	p.Gauge.Options, err = gaugeOptions(v)
	return err
}

func showSheets(v *visit) error {
	p, err := v.newSheetsPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// doSheets takes a pile in, books a count, scrap or a return, or cuts sheets.
func doSheets(v *visit) error {
	switch v.posted("do") {
	case "move":
		return doMoveSheets(v)
	case "cut":
		return doCutSheets(v)
	}
	p, err := v.newSheetsPage()
	if err != nil {
		return err
	}
	r := desk.SheetReceipt{
		Strip:  stock.Strip{Material: v.choice(&p.Material), Gauge: v.choice(&p.Gauge), Width: v.length(&p.Width, measure.Inches), Colour: v.choice(&p.Colour)},
		Length: v.length(&p.Length, measure.Feet), Sheets: v.whole(&p.Sheets), Lot: v.text(&p.Lot), Supplier: v.text(&p.Supplier), Landed: v.amount(&p.Landed, p.currency),
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	pile, err := v.desk.ReceiveSheets(v.ctx(), v.actor, r)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/coils/sheets", fmt.Sprintf("Pile %s is on the rack: %d sheets.", pile.Tag, pile.Original))
}

func doMoveSheets(v *visit) error {
	p, err := v.newSheetsPage()
	if err != nil {
		return err
	}
	pile, _ := strconv.ParseInt(v.choice(&p.Pile), 10, 64) // one of the list, else noted
	kind := stock.Moved(v.choice(&p.Kind))
	n, reason := v.whole(&p.Counted), v.text(&p.Reason)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.MoveSheets(v.ctx(), v.actor, pile, kind, n, reason); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/coils/sheets", "Booked.")
}

// doCutSheets books the sheets of one pattern as cut.
func doCutSheets(v *visit) error {
	var ids []int64
	for _, text := range v.c.PostFormArray("promise") {
		if id, err := strconv.ParseInt(text, 10, 64); err == nil {
			ids = append(ids, id)
		}
	}
	n, err := v.desk.CutSheets(v.ctx(), v.actor, ids)
	if err != nil {
		p, perr := v.newSheetsPage()
		if perr != nil {
			return perr
		}
		return v.again(p, err)
	}
	what := "sheets are"
	if n == 1 {
		what = "sheet is"
	}
	return v.redirectSaying("/coils/sheets", fmt.Sprintf("%d %s cut; the pieces stand on their orders.", n, what))
}
