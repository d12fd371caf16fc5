package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"ribdesk/internal/document"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/nest"
	"ribdesk/internal/nestview"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// slitPatterns is how many search steps a metal gets.
const slitPatterns = 3_000

var trimSettings = nest.Settings{Iterations: slitPatterns, Seed: 1}

// TrimPlan is how the blanks of all open trim are slit and cut, metal by metal.
type TrimPlan struct {
	Stamp  int64 // of the moment it was made from; adopting needs it unchanged
	Folder stock.Machine
	Groups []TrimGroup
}

// TrimGroup is the open blanks of one metal.
type TrimGroup struct {
	Strip    stock.Strip // Width is 0: any that is stocked
	Name     string
	Colour   stock.Colour
	Problem  nest.TrimProblem
	Result   *nest.TrimResult
	Blanks   []TrimBlank
	Takes    []TrimTake
	Pieces   int
	ByHand   measure.Length // what slitting each trim on its own takes, in feet of the same stock
	Feet     measure.Length // of coil
	Sheets   int
	WastePct float64 // of the metal cut, what is neither blank nor a drop to keep
}

// TrimBlank is a row of an order's cut list as a blank.
type TrimBlank struct {
	Item   string // of the problem: blanks of one girth and length are one item
	Number string // of the order
	Line   order.Line
	Cut    order.CutItem
}

// TrimTake is what the plan takes of one width of coil, or of one size of sheet.
type TrimTake struct {
	ID     string // of the problem's stock
	Width  measure.Length
	Feet   measure.Length // of coil
	Free   measure.Length // on hand for it: free, and what these lines are promised
	Tags   []string       // coils or piles in the order they would be used
	Missed measure.Length // to buy

	Length     measure.Length // of a sheet, 0 for coil
	Sheets     int            // taken
	FreeSheets int
	each       int64 // what a sheet is worth, in thousandths of a cent
}

// Sheet reports whether this is a size of sheet.
func (t TrimTake) Sheet() bool { return t.Length > 0 }

// TrimPlan nests all open trim. Nothing is changed. actor must work in the shop.
func (d *Desk) TrimPlan(ctx context.Context, actor party.Actor) (TrimPlan, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return TrimPlan{}, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return TrimPlan{}, err
	}
	var f cutFloor
	if err := d.store.Read(ctx, func(tx *store.Tx) error { return f.read(tx, s) }); err != nil {
		return TrimPlan{}, err
	}
	return s.trimPlan(ctx, f)
}

func (s *snapshot) trimPlan(ctx context.Context, f cutFloor) (TrimPlan, error) {
	folder, ok := s.folder()
	if !ok {
		return TrimPlan{}, fault.Conflictf("the shop has no folder for trim")
	}
	out := TrimPlan{Stamp: s.stamp, Folder: folder}
	for _, g := range s.trimGroups(f) {
		if err := s.nestTrim(ctx, &g, folder, f); err != nil {
			return out, err
		}
		out.Groups = append(out.Groups, g)
	}
	return out, nil
}

// trimGroups gathers the open blanks by metal, in the order of the lines.
func (s *snapshot) trimGroups(f cutFloor) []TrimGroup {
	var groups []TrimGroup
	at := map[stock.Strip]int{}
	for i := range s.open {
		for _, l := range s.open[i].Lines {
			l = f.left(l)
			if l.Kind != order.Trim || len(l.Cuts) == 0 || l.Girth <= 0 {
				continue
			}
			metal := l.Metal()
			metal.Width = 0
			n, ok := at[metal]
			if !ok {
				n = len(groups)
				at[metal] = n
				c := s.colours[metal.Colour]
				groups = append(groups, TrimGroup{Strip: metal, Colour: c, Name: cmp.Or(s.materials[metal.Material].Name, metal.Material) + " " + metal.Gauge + ", " + cmp.Or(c.Name, metal.Colour)})
			}
			g := &groups[n]
			for _, c := range l.Cuts {
				g.Blanks = append(g.Blanks, TrimBlank{Item: blankID(l.Girth, c.Length), Number: s.open[i].Number, Line: l, Cut: c})
				g.Pieces += c.Qty
			}
		}
	}
	return groups
}

func blankID(girth, length measure.Length) string {
	return girth.Up(measure.Sixteenth).Format(measure.StyleInches) + " x " + length.Up(measure.Sixteenth).FeetInches(16)
}

// sixteenths is the named place where a blank becomes whole sixteenths of an
// inch: up.
func sixteenths(l measure.Length) int64 { return int64(l.Up(measure.Sixteenth) / measure.Sixteenth) }

func (s *snapshot) nestTrim(ctx context.Context, g *TrimGroup, folder stock.Machine, f cutFloor) error {
	const mill = 1000
	minutes := folder.Slit.Float() * float64(s.minuteCents) * mill
	p := &g.Problem
	p.ID, p.Kind = g.Name, "trim"
	cut := s.seller.Cutting
	p.Params = nest.TrimParams{
		MaxStrips: int64(cut.Knives), MaxCut: int64(folder.MaxFold / measure.Sixteenth), Setup: int64(cut.SlitMin) * s.minuteCents * mill, Pass: int64(minutes),
		EdgeTrim: sixteenths(cut.EdgeTrim), DropMin: sixteenths(cut.KeptDrop),
	}
	widest := g.items()
	for _, t := range p.Items {
		p.Params.MaxCut = max(p.Params.MaxCut, t.Length)
	}
	s.trimStock(g, folder, widest, f)
	r, err := nest.Nest(ctx, p, trimSettings)
	if err != nil {
		return err
	}
	g.Result = r
	g.settle()
	if hand, err := nest.NestByHand(p, nest.OneTrim); err == nil && g.Sheets == 0 {
		for _, run := range hand.Runs {
			g.ByHand += nestview.Sixteenths(run.Length).Times(int(run.Times))
		}
	}
	return nil
}

// items makes one item of all blanks of one girth and length, and gives the
// widest girth.
func (g *TrimGroup) items() (widest int64) {
	at := map[string]int{}
	for _, b := range g.Blanks {
		i, ok := at[b.Item]
		if !ok {
			i = len(g.Problem.Items)
			at[b.Item] = i
			g.Problem.Items = append(g.Problem.Items, nest.Item{ID: b.Item, Name: b.Line.Name, Girth: sixteenths(b.Line.Girth), Length: sixteenths(b.Cut.Length)})
		}
		g.Problem.Items[i].Qty += int64(b.Cut.Qty)
		widest = max(widest, g.Problem.Items[i].Girth)
	}
	return widest
}

// boughtTimes is how much dearer coil counts that isn't there yet than metal that
// is, so that what is on hand is used up first.
const boughtTimes = 3

// trimStock gives what the blanks can be cut from: sheets and widths of coil on
// hand, and when the widest blank fits no such coil, widths that can be bought.
func (s *snapshot) trimStock(g *TrimGroup, folder stock.Machine, widest int64, f cutFloor) {
	own := map[int64]measure.Length{}
	seen := map[int64]bool{}
	for _, b := range g.Blanks {
		if seen[b.Line.ID] {
			continue
		}
		seen[b.Line.ID] = true
		for _, r := range f.promises[b.Line.ID] {
			own[r.CoilID] += r.Length
		}
	}
	s.sheetStock(g, folder, f)
	reach := int64(0)
	for _, c := range s.coils {
		metal := c.Strip
		metal.Width = 0
		if room := c.Free() + own[c.ID]; metal == g.Strip && c.Strip.Width <= folder.MaxStrip && room > 0 {
			t := g.take(c.Strip.Width)
			t.Free += room
			t.Tags = append(t.Tags, c.Tag)
			reach = max(reach, int64(c.Strip.Width/measure.Sixteenth))
		}
	}
	for _, sup := range s.supplies {
		metal := sup.Strip
		metal.Width = 0
		if reach < widest && metal == g.Strip && sup.Strip.Width <= folder.MaxStrip {
			g.take(sup.Strip.Width)
		}
	}
	slices.SortFunc(g.Takes, func(a, b TrimTake) int { return cmp.Or(cmp.Compare(a.Width, b.Width), cmp.Compare(a.Length, b.Length)) })
	for _, t := range g.Takes {
		g.Problem.Stock = append(g.Problem.Stock, s.stockOf(g, t))
	}
}

func (s *snapshot) stockOf(g *TrimGroup, t TrimTake) nest.Stock {
	width := int64(t.Width / measure.Sixteenth)
	if t.Sheet() {
		count := int64(t.FreeSheets)
		return nest.Stock{ID: t.ID, Form: nest.SheetForm, Width: width, Length: int64(t.Length / measure.Sixteenth), Cost: t.each, Count: &count}
	}
	strip := g.Strip
	strip.Width = t.Width
	unit := max(1, s.matOf(strip)/2)
	if t.Free == 0 {
		unit *= boughtTimes
	}
	return nest.Stock{ID: t.ID, Form: nest.CoilForm, Width: width, CostPerUnit: unit}
}

// sheetStock adds the sizes of sheet on hand: what is free, and what these lines
// are promised alone.
func (s *snapshot) sheetStock(g *TrimGroup, folder stock.Machine, f cutFloor) {
	lines := g.lineIDs()
	own := map[int64]int{}
	for _, sheet := range f.sheets {
		if !slices.ContainsFunc(sheet.Blanks, func(b order.SheetBlank) bool { return !slices.Contains(lines, b.LineID) }) {
			own[sheet.PileID]++
		}
	}
	for _, p := range s.piles {
		metal := p.Strip
		metal.Width = 0
		room := p.Free() + own[p.ID]
		if metal != g.Strip || p.Strip.Width > folder.MaxStrip || room <= 0 {
			continue
		}
		id := sheetID(p)
		i := slices.IndexFunc(g.Takes, func(t TrimTake) bool { return t.ID == id })
		if i < 0 {
			i = len(g.Takes)
			const mill = 100_000 // thousandths of a cent in a dollar
			g.Takes = append(g.Takes, TrimTake{ID: id, Width: p.Strip.Width, Length: p.Length, each: max(1, int64(p.Each().Mul(money.Int(mill)).Float()))})
		}
		g.Takes[i].FreeSheets += room
		g.Takes[i].Tags = append(g.Takes[i].Tags, p.Tag)
	}
}

// sheetID names a size of sheet in a problem: 48 in × 10' sheet.
func sheetID(p stock.Pile) string {
	return nestview.Across(p.Strip.Width) + " × " + p.Length.FeetInches(16) + " sheet"
}

// take finds the row of a width, or adds it.
func (g *TrimGroup) take(width measure.Length) *TrimTake {
	for i := range g.Takes {
		if g.Takes[i].Width == width && !g.Takes[i].Sheet() {
			return &g.Takes[i]
		}
	}
	g.Takes = append(g.Takes, TrimTake{ID: nestview.Across(width) + " coil", Width: width})
	return &g.Takes[len(g.Takes)-1]
}

// settle sums what the plan takes of each width.
func (g *TrimGroup) settle() {
	for _, run := range g.Result.Runs {
		for i := range g.Takes {
			switch t := &g.Takes[i]; {
			case t.ID != run.Stock:
			case t.Sheet():
				t.Sheets += int(run.Times)
			default:
				t.Feet += nestview.Sixteenths(run.Length).Times(int(run.Times))
			}
		}
	}
	g.Takes = slices.DeleteFunc(g.Takes, func(t TrimTake) bool { return t.Feet == 0 && t.Sheets == 0 })
	for i := range g.Takes {
		t := &g.Takes[i]
		t.Missed = max(0, t.Feet-t.Free)
		g.Feet += t.Feet
		g.Sheets += t.Sheets
	}
	if g.Result.Stock > 0 {
		g.WastePct = 100 * float64(g.Result.Stock-g.Result.Blanks-g.Result.Drops) / float64(g.Result.Stock)
	}
}

// Items gives the problem's items by id, for the words of a run.
func (g *TrimGroup) Items() map[string]nest.Item {
	items := map[string]nest.Item{}
	for _, t := range g.Problem.Items {
		items[t.ID] = t
	}
	return items
}

// IssueTrimSheet prints the slitting and folding of one metal, counted from 0,
// with its patterns and sections.
func (d *Desk) IssueTrimSheet(ctx context.Context, actor party.Actor, group int) (p order.Paper, err error) {
	plan, err := d.TrimPlan(ctx, actor)
	if err != nil {
		return p, err
	}
	if group < 0 || group >= len(plan.Groups) {
		return p, fault.NotFoundf("there is no such trim to fold")
	}
	return d.issueRunSheet(ctx, actor, func(s *snapshot) *document.RunSheet { return s.trimSheet(plan, group) })
}

func (s *snapshot) trimSheet(plan TrimPlan, group int) *document.RunSheet {
	g := &plan.Groups[group]
	first := g.Blanks[0].Line
	doc := &document.RunSheet{
		Head:  document.Head{State: "to slit and fold", Paper: s.paperSize(), Style: s.seller.Style, Seller: s.firm()},
		Goods: s.goods(first, shopReader), Machine: plan.Folder.Name, Batch: fmt.Sprintf("metal %d of %d", group+1, len(plan.Groups)),
	}
	doc.Goods.Profile = "Trim"
	items := g.Items()
	for i, run := range g.Result.Runs {
		doc.SetUp = append(doc.SetUp, fmt.Sprintf("Pattern %d: %d × %s: %s", i+1, run.Times, g.from(run), nestview.RunWords(run, items)))
		doc.Slits = append(doc.Slits, g.slit(i, run, items))
	}
	var lines []order.Line
	for i, b := range g.Blanks {
		if i == 0 || g.Blanks[i-1].Line.ID != b.Line.ID {
			lines = append(lines, b.Line)
			doc.Bundles = append(doc.Bundles, document.Bundle{Number: len(doc.Bundles) + 1, Order: b.Number, Code: b.Number, Longest: b.Line.Longest()})
		}
		s.addBlank(&doc.Bundles[len(doc.Bundles)-1], b)
	}
	for i := range doc.Bundles {
		doc.Bundles[i].Of = len(doc.Bundles)
	}
	doc.Sections = s.sections(order.Order{Lines: lines}, shopReader)
	for _, t := range g.Takes {
		if t.Sheet() {
			doc.SetUp = append(doc.SetUp, fmt.Sprintf("Take %d of %d on hand of %s, pile %s", t.Sheets, t.FreeSheets, t.ID, strings.Join(t.Tags, ", ")))
			continue
		}
		for _, c := range s.coils {
			if slices.Contains(t.Tags, c.Tag) && c.Strip.Width == t.Width {
				use := min(t.Feet, c.OnHand)
				t.Feet -= use
				if use > 0 {
					doc.Coils = append(doc.Coils, document.CoilUse{Number: c.Tag, Lot: c.Lot, Width: c.Strip.Width, Before: c.OnHand, After: c.OnHand - use})
				}
			}
		}
	}
	return doc
}

// from says what a run is cut from: a sheet, or a length of coil.
func (g *TrimGroup) from(run nest.Run) string {
	for _, t := range g.Takes {
		if t.ID == run.Stock && t.Sheet() {
			return t.ID
		}
	}
	return nestview.Sixteenths(run.Length).FeetInches(16) + " of " + run.Stock
}

func (s *snapshot) addBlank(b *document.Bundle, blank TrimBlank) {
	c := blank.Cut
	lb := pounds(money.FromFloat(s.poundsPerFoot(blank.Line) * c.Length.InFeet() * float64(c.Qty)))
	b.Cuts = append(b.Cuts, document.Cut{
		Order: blank.Number, Mark: c.Mark, Pieces: c.Qty, Length: c.Length, Running: c.Length.Times(c.Qty), Pounds: lb,
		Note: blank.Line.Name + ", girth " + nestview.Across(blank.Line.Girth),
	})
	b.Pieces += c.Qty
	b.Pounds += lb
}

// slit draws how the width of one pattern is slit, edge to edge.
func (g *TrimGroup) slit(i int, run nest.Run, items map[string]nest.Item) drawing.SlitPattern {
	view := drawing.SlitPattern{ID: fmt.Sprintf("slit-%d", i+1), Title: fmt.Sprintf("Pattern %d", i+1), Metal: drawing.Swatch(g.Colour.Name, g.Colour.Swatch), Desc: nestview.RunWords(run, items)}
	for _, st := range g.Problem.Stock {
		if st.ID == run.Stock {
			view.Total = nestview.Sixteenths(st.Width)
		}
	}
	view.TotalLabel = nestview.Across(view.Total)
	left := view.Total
	for _, strip := range run.Strips {
		var words []string
		for _, x := range strip.Pieces {
			words = append(words, fmt.Sprintf("%d × %s", x.Qty, nestview.Sixteenths(items[x.Item].Length).Pretty()))
		}
		if len(words) == 0 {
			words = []string{"spare"}
		}
		for range strip.Count {
			w := nestview.Sixteenths(strip.Girth)
			view.Strips = append(view.Strips, drawing.Strip{Width: w, Label: nestview.Across(w) + ": " + strings.Join(words, ", ")})
			left -= w
		}
	}
	if left > 0 {
		view.Strips = append(view.Strips, drawing.Strip{Width: left, Label: nestview.Across(left), Waste: true})
	}
	return view
}
