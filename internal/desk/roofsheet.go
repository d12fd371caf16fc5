package desk

import (
	"context"
	"fmt"

	"ribdesk/internal/document"
	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/roof"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// DrawRoof draws the planes of a roof with their panels, in a reader's words. id
// begins the ids of the pictures.
func DrawRoof(r roof.Result, id string, reader words.Reader) []drawing.RoofPlane {
	out := make([]drawing.RoofPlane, len(r.Planes))
	for i, l := range r.Planes {
		out[i] = drawPlane(l, fmt.Sprintf("%s-%d", id, i+1), reader)
	}
	return out
}

func drawPlane(l roof.Laid, id string, reader words.Reader) drawing.RoofPlane {
	_, _, high := l.Outline.Reach()
	v := drawing.RoofPlane{ID: id, Title: PlaneName(l, reader), Rise: reader.Read(high.Up(measure.Sixteenth)),
		Desc: reader.T("%d panels, numbered from %s to %s; what is hatched is cut off on site.", len(l.Panels), l.Panels[0].Mark, l.Panels[len(l.Panels)-1].Mark)}
	for _, run := range l.Runs {
		v.Outline = append(v.Outline, drawing.Point{X: run.From.X.InInches(), Y: run.From.Y.InInches()})
		v.Edges = append(v.Edges, reader.Read(run.Edge)+" "+reader.Read(run.Length))
	}
	for _, p := range l.Panels {
		panel := drawing.RoofPanel{Mark: p.Mark, Left: p.Left.InInches(), Right: p.Right.InInches()}
		for _, piece := range p.Pieces {
			panel.Pieces = append(panel.Pieces, [2]float64{piece.From.InInches(), piece.To.InInches()})
		}
		v.Panels = append(v.Panels, panel)
	}
	for _, h := range l.Holes {
		v.Openings = append(v.Openings, drawing.RoofOpening{Label: reader.Read(h.Kind), Left: h.Left.InInches(), Right: h.Right.InInches(), Low: h.Low.InInches(), High: h.High.InInches()})
	}
	return v
}

// PlaneName names a plane by its letter, the name it was given, and how often
// the roof has it.
func PlaneName(l roof.Laid, reader words.Reader) string {
	name := reader.T("Plane %s", l.Letter)
	if l.Plane.Name != "" {
		name += ", " + l.Plane.Name
	}
	if n := l.Plane.Copies; n > 1 {
		name += ", " + reader.T("%d times", n)
	}
	return name
}

// PlaneFacts says in a sentence or two what a plane comes to.
func PlaneFacts(l roof.Laid, reader words.Reader) string {
	s := reader.T("Pitch %s (%.1f°): each foot of run is %.4f ft of slope.", l.Plane.Pitch.String(), l.Plane.Pitch.Degrees(), l.Plane.Pitch.Factor()) +
		" " + reader.T("%s sq ft covered, %s sq ft ordered.", l.Net.SquareFeet(), l.Ordered.SquareFeet())
	first, last := l.Ends()
	switch {
	case first > 0 && last > 0:
		s += " " + reader.T("The first panel is ripped to %s, the last to %s.", first.Up(measure.Sixteenth).Across(), last.Up(measure.Sixteenth).Across())
	case first > 0:
		s += " " + reader.T("The first panel is ripped to %s.", first.Up(measure.Sixteenth).Across())
	case last > 0:
		s += " " + reader.T("The last panel is ripped to %s.", last.Up(measure.Sixteenth).Across())
	}
	return s
}

// partWords names the parts as a list of fixings does.
var partWords = map[RoofPart]words.Text{
	PartClip: words.Say("Panel clips"), PartClipScrew: words.Say("Screws for clips"), PartPanelScrew: words.Say("Panel screws"), PartTrimScrew: words.Say("Trim screws"),
	PartInside: words.Say("Closure strips, inside"), PartOutside: words.Say("Closure strips, outside"), PartTape: words.Say("Butyl tape, rolls"),
}

// Words names the part.
func (p RoofPart) Words() words.Text { return partWords[p] }

// RoofRulesSaid writes the rules a roof was laid by.
func RoofRulesSaid(a RoofAsk, reader words.Reader) []string {
	r := a.Roof.Rules
	from := map[roof.Start]words.Text{roof.FromLeft: words.Say("Laid from the left."), roof.FromRight: words.Say("Laid from the right."), roof.Centred: words.Say("Laid centred, both ends ripped alike.")}
	long := reader.T("Panels that are too long are refused.")
	if r.TooLong == roof.Lap {
		long = reader.T("Panels that are too long are lapped by %s, full pieces from the eave up.", r.EndLap)
	}
	openings := reader.T("Panels run through at openings and are cut out on site.")
	if r.AtOpenings == roof.SplitThere {
		openings = reader.T("A panel whose whole cover an opening takes is split there.")
	}
	out := []string{
		reader.Read(from[r.Start]) + " " + openings,
		reader.T("Past the eave %s, hem %s, held back %s from the ridge; lengths up to the next %s.", r.Overhang, r.Hem, r.RidgeGap, r.Step) + " " + long,
		reader.T("Trim in pieces of %s, lapped by %s; ridge, hips, valleys and transitions are counted once for the two planes that meet there.", r.Stick, r.TrimLap),
	}
	if a.Roof.Product.Fixing == roof.Clips {
		return append(out, reader.T("Clips at most %s apart along each seam, %d screws each; trim screws %s apart.", r.ClipSpacing, r.ScrewsPerClip, r.TrimSpacing))
	}
	return append(out, reader.T("Panel screws in rows at most %s apart, %s across; side laps every %s; trim screws %s apart.", r.RowSpacing, r.AcrossSpacing, r.StitchSpacing, r.TrimSpacing))
}

// TakeOffSheet prints a kept take-off as it stands. The same record gives the
// same bytes.
func (d *Desk) TakeOffSheet(ctx context.Context, actor party.Actor, code string) ([]byte, error) {
	k, err := d.TakeOff(ctx, actor, code)
	if err != nil {
		return nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	o := order.Order{Number: fmt.Sprintf("T-%d", k.ID), Revision: int(k.Version), State: order.Draft, Fulfil: order.PickUp}
	var c party.Customer
	err = d.store.Read(ctx, func(tx *store.Tx) (err error) {
		if k.OrderID != 0 {
			if o, err = tx.Order(k.OrderID); err != nil {
				return err
			}
		}
		o.CustomerID = k.CustomerID
		c, err = customerOf(tx, o)
		return err
	})
	if err != nil {
		return nil, err
	}
	return document.Render(s.takeOffPaper(o, c, k))
}

// issueTakeOffs prints the take-offs that an order was made from, with its quote.
func (d *Desk) issueTakeOffs(tx *store.Tx, actor party.Actor, s *snapshot, o order.Order, c party.Customer) error {
	kept, err := s.readTakeOffs(tx, actor, o.ID)
	if err != nil {
		return err
	}
	for _, k := range kept {
		if _, err := d.issue(tx, actor, o, c, s.takeOffPaper(o, c, k)); err != nil {
			return err
		}
	}
	return nil
}

// paperPlane is how wide a plane is drawn for paper: so wide that most panels
// have room for their mark.
const paperPlane = 560

// takeOffPaper fills the sheet of a take-off.
func (s *snapshot) takeOffPaper(o order.Order, c party.Customer, k KeptRoof) *document.TakeOff {
	reader := s.readerOf(c)
	t := &document.TakeOff{Head: s.head(o, c, s.saidAt(k.TakeOff), k.MadeBy), Coverage: k.Ask.Roof.Product.Coverage,
		Goods: s.goods(k.Lines[0], reader), Rules: RoofRulesSaid(k.Ask, reader)}
	if k.OrderID == 0 {
		t.State = "kept"
	}
	if t.Job == "" {
		t.Job = k.Name
	}
	r := k.Result
	t.Summary = []document.TakeOffNeed{
		{What: reader.T("panels"), Need: reader.T("%d pieces, %s ft", r.Pieces, r.Feet.Feet())},
		{What: reader.T("area"), Need: reader.T("%s sq ft", r.Net.SquareFeet())},
		{What: reader.T("waste"), Need: reader.T("%s sq ft, %s %%", r.Waste().SquareFeet(), r.Waste().Percent(r.Ordered))},
	}
	for i, view := range DrawRoof(r, "plane", reader) {
		l := r.Planes[i]
		view.Width = paperPlane
		t.Planes = append(t.Planes, document.TakeOffPlane{Name: view.Title, Facts: []string{PlaneFacts(l, reader)}, Drawing: view, Cuts: cutsOf(l.Groups())})
	}
	t.Cuts = cutsOf(r.Groups)
	for _, n := range k.Trims {
		t.Trim = append(t.Trim, document.TakeOffNeed{What: reader.Read(n.Kind), Need: reader.Read(n.Length), Item: n.Shape.Name, Pieces: reader.T("%d of %s", n.Pieces, k.Ask.Roof.Rules.Stick)})
	}
	for _, n := range k.Parts {
		t.Parts = append(t.Parts, document.TakeOffNeed{What: reader.Read(n.Part.Words()), Need: fmt.Sprint(n.Count), Item: n.Item.Name, Pieces: UnitName(n.Item.Unit, reader)})
	}
	for _, said := range RoofSays {
		t.Says = append(t.Says, reader.Read(said))
	}
	for _, n := range r.Notes {
		t.Says = append(t.Says, reader.Read(n.Text))
	}
	return t
}

func cutsOf(groups []roof.Group) (out []document.TakeOffCut) {
	for _, g := range groups {
		out = append(out, document.TakeOffCut{Pieces: g.Qty, Length: g.Length, Marks: g.AllMarks()})
	}
	return out
}
