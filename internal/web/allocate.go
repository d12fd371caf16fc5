package web

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/nestview"
)

// allocatePage proposes which coil each open piece is cut from.
type allocatePage struct {
	Base
	Plan   desk.Allocation
	Groups []allocateGroup
	Moves  int
}

func (allocatePage) file() string { return "allocate" }

// Feet writes a length of strip.
func (*allocatePage) Feet(l measure.Length) string { return wholeFeet(l) }

type allocateGroup struct {
	desk.AllocationGroup
	Bars []allocateBar
	Gap  string // how far the plan may be above the best possible
}

type allocateBar struct {
	Words        string
	Wide, Narrow template.HTML
}

func (v *visit) newAllocatePage() (*allocatePage, error) {
	a, err := v.desk.Allocate(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p := &allocatePage{Base: Base{Title: "Allocate coils", Sheet: "Coils", Tabs: v.coilTabs("Allocate"), Block: Block{Thing: "Coil allocation", State: "proposed"}}, Plan: a}
	for n, g := range a.Groups {
		one := allocateGroup{AllocationGroup: g, Gap: strconv.FormatFloat(100*g.Result.Gap(), 'f', 1, 64)}
		p.Moves += len(g.Moves)
		var full measure.Length
		for _, u := range g.Result.Coils {
			full = max(full, nestview.Eighths(u.Coil.Length))
		}
		for i, u := range g.Result.Coils {
			bar := nestview.CoilBar(u)
			bar.Full = full
			one.Bars = append(one.Bars, allocateBar{Words: bar.Desc, Wide: barAt(bar, fmt.Sprintf("use-%d-%d", n, i), wideBar), Narrow: barAt(bar, fmt.Sprintf("use-%d-%d-phone", n, i), narrowBar)})
		}
		p.Groups = append(p.Groups, one)
	}
	return p, nil
}

func barAt(bar drawing.CoilBar, id string, width float64) template.HTML {
	bar.ID, bar.Width = id, width
	return bar.Picture().SVG()
}

func showAllocate(v *visit) error {
	p, err := v.newAllocatePage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// doAllocate adopts what was shown, if nothing changed since.
func doAllocate(v *visit) error {
	a, err := v.desk.AdoptAllocation(v.ctx(), v.actor, v.number("stamp"))
	if err == nil {
		return v.redirectSaying("/coils", fmt.Sprintf("Allocated: %d coils in use, %s ft of threading, tails and scrap ends.", a.After.Coils, wholeFeet(a.After.Scrap)))
	}
	p, perr := v.newAllocatePage()
	if perr != nil {
		return perr
	}
	return v.again(p, err)
}

// buyPage lists what open orders lack.
type buyPage struct {
	Base
	Rows      []desk.Shortage
	Suppliers []string
	Costs     bool
}

func (buyPage) file() string { return "buy" }

// Feet writes a length of strip.
func (*buyPage) Feet(l measure.Length) string { return wholeFeet(l) }

func (v *visit) newBuyPage() (*buyPage, error) {
	rows, err := v.desk.Shortages(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p := &buyPage{Base: Base{Title: "To buy", Sheet: "Coils", Tabs: v.coilTabs("To buy"), Block: Block{Thing: "Purchase list", State: "not ordered"}}, Rows: rows, Costs: v.actor.Role != "operator"}
	seen := map[string]bool{}
	for _, r := range rows {
		if s := r.Supply.Supplier; s != "" && !seen[s] {
			seen[s] = true
			p.Suppliers = append(p.Suppliers, s)
		}
	}
	return p, nil
}

func showBuy(v *visit) error {
	p, err := v.newBuyPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// doBuyList prints the list of one supplier, or of all.
func doBuyList(v *visit) error {
	paper, err := v.desk.IssuePurchaseList(v.ctx(), v.actor, v.posted("supplier"))
	if err != nil {
		return err
	}
	return v.redirect(fmt.Sprintf("/papers/%d", paper.ID))
}

func sendBuyCSV(v *visit) error {
	p, err := v.newBuyPage()
	if err != nil {
		return err
	}
	table := [][]string{{"order_by", "needed_by", "supplier", "material", "gauge", "width_in", "colour", "pieces", "short_ft", "lead_ft", "coils", "buy_ft", "buy_lb", "lead_days", "one_lot", "orders"}}
	for _, r := range p.Rows {
		need := ""
		if !r.Due.IsZero() {
			need = r.Due.Format("2006-01-02")
		}
		table = append(table, []string{
			r.OrderBy.Format("2006-01-02"), need, r.Supply.Supplier, r.Strip.Material, r.Strip.Gauge, r.Strip.Width.Inches(), r.Strip.Colour,
			strconv.Itoa(r.Pieces), r.Short.Feet(), r.Lead.Feet(), strconv.Itoa(r.Coils), r.Feet.Feet(), strconv.Itoa(r.Pounds), strconv.Itoa(r.Supply.LeadDays), yesNo(r.OneLot), strings.Join(r.For, " "),
		})
	}
	return v.sendCSV("to-buy.csv", table)
}

// trimPlanPage shows how the open trim is slit, metal by metal.
type trimPlanPage struct {
	Base
	Plan   desk.TrimPlan
	Groups []trimPlanGroup
}

func (trimPlanPage) file() string { return "trim-plan" }

type trimPlanGroup struct {
	desk.TrimGroup
	No    int
	Runs  []trimRun
	Waste string
	Saved string // feet less than slitting each trim on its own
}

type trimRun struct {
	Words        string
	Wide, Narrow template.HTML
}

// Feet writes a length of strip.
func (*trimPlanPage) Feet(l measure.Length) string { return wholeFeet(l) }

// Girth writes a blank's width as the folder is set.
func (*trimPlanPage) Girth(l measure.Length) string { return nestview.Across(l) }

func showTrimPlan(v *visit) error {
	plan, err := v.desk.TrimPlan(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &trimPlanPage{Base: Base{Title: "Trim plan", Sheet: "Coils", Tabs: v.coilTabs("Trim plan"), Block: Block{Thing: "Slitting of trim", State: "proposed"}}, Plan: plan}
	for n, g := range plan.Groups {
		one := trimPlanGroup{TrimGroup: g, No: n, Waste: strconv.FormatFloat(g.WastePct, 'f', 1, 64)}
		if g.ByHand > g.Feet {
			one.Saved = wholeFeet(g.ByHand - g.Feet)
		}
		items := g.Items()
		narrow := nestview.RunsAt(&g.Problem, g.Result, narrowBar)
		for i, pic := range nestview.Runs(&g.Problem, g.Result) {
			pic.ID, narrow[i].ID = fmt.Sprintf("slit-%d-%d", n, i), fmt.Sprintf("slit-%d-%d-phone", n, i)
			one.Runs = append(one.Runs, trimRun{Words: nestview.RunWords(g.Result.Runs[i], items), Wide: pic.SVG(), Narrow: narrow[i].SVG()})
		}
		p.Groups = append(p.Groups, one)
	}
	return v.show(p)
}

// doTrimPlan adopts the plan that was shown, or prints the run sheet of one metal.
func doTrimPlan(v *visit) error {
	if v.posted("do") != "adopt" {
		return doTrimSheet(v)
	}
	if _, err := v.desk.AdoptTrimPlan(v.ctx(), v.actor, v.number("stamp")); err != nil {
		return err
	}
	return v.redirectSaying("/coils/trim-plan", "The trim is promised its coil and sheets by this plan.")
}

// doTrimSheet prints the slitting and folding of one metal.
func doTrimSheet(v *visit) error {
	paper, err := v.desk.IssueTrimSheet(v.ctx(), v.actor, int(v.number("group")))
	if err != nil {
		return err
	}
	return v.redirect(fmt.Sprintf("/papers/%d", paper.ID))
}
