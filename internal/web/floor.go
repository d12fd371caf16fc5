package web

import (
	"fmt"
	"html/template"
	"strconv"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// floorsPage lets an operator choose a machine.
type floorsPage struct {
	Base
	Machines []stock.Machine
}

func (floorsPage) file() string { return "floors" }

func showFloors(v *visit) error {
	machines, err := v.desk.Machines(v.ctx())
	if err != nil {
		return err
	}
	return v.show(&floorsPage{Base: Base{Title: "Floor", Sheet: "Run plan", Tabs: v.planTabs("Floor"), Block: Block{Thing: "Floor"}}, Machines: machines})
}

// floorPage is what an operator runs a machine from.
type floorPage struct {
	Base
	Floor  desk.Floor
	Hands  bool
	Rows   []floorRow // of the run that is on, or comes first
	Swatch template.HTML
	Check  *order.FloorNote
	OffBy  string // how far the checked piece is off, "" within the tolerance
	Next   []runRow

	Length, Why     Field // scrap
	Lost            Field // the coil it is lost from
	Measured        Field
	Note            Field
	Minutes, Reason Field
}

func (floorPage) file() string { return "floor" }

// floorRow is a line on the machine, its coil and its pieces.
type floorRow struct {
	desk.SheetRow
	Coil  *stock.Coil // it is cut from: mounted, or promised to it
	On    bool        // that coil is on the machine
	Coils []Option    // to thread
}

// lossReasons are what metal is lost to, most often (common practice, no
// published source).
var lossReasons = []string{"lead-in", "lead-out", "wrong length", "dented or scratched", "paint fault", "jam", "off at the side"}

func (v *visit) newFloorPage() (*floorPage, error) {
	f, err := v.desk.Floor(v.ctx(), v.actor, v.c.Param("machine"))
	if err != nil {
		return nil, err
	}
	p := &floorPage{
		Base:  Base{Title: f.Machine.Name, Sheet: "Run plan", Tabs: v.planTabs("Floor"), Block: Block{Thing: "Floor", Number: f.Machine.Code, State: floorState(f)}},
		Floor: f, Hands: v.actor.Role == party.Owner || v.actor.Role == party.Operator,
		Lost:     Field{Name: "coil", Label: "From coil"},
		Length:   Field{Name: "length", Label: "Length lost", Short: true, Unit: "ft", Help: "Such as 3 or 2' 6\"."},
		Why:      Field{Name: "reason", Label: "Why"},
		Measured: Field{Name: "measured", Label: "Measured", Short: true, Help: "Such as 12' 6 1/2\"."},
		Note:     Field{Name: "note", Label: "Why it stands"},
		Minutes:  Field{Name: "minutes", Label: "For about", Options: []Option{{"30", "half an hour"}, {"60", "an hour"}, {"120", "two hours"}, {"240", "half a day"}, {"1440", "until tomorrow"}, {"4320", "three days"}}},
		Reason:   Field{Name: "reason", Label: "What is wrong", Prefix: "down-"},
	}
	for _, why := range lossReasons {
		p.Why.Options = append(p.Why.Options, Option{why, why})
	}
	if len(f.Runs) > 0 {
		p.run(f.Runs[0])
	}
	for i, r := range f.Runs {
		if i > 0 {
			p.Next = append(p.Next, newRunRow(r.Run, i+1, f.Now))
		}
	}
	return p, nil
}

func floorState(f desk.Floor) string {
	switch {
	case f.Down != nil:
		return "out of work"
	case f.Stopped != nil:
		return "stopped"
	case len(f.Runs) > 0 && f.Runs[0].Begun():
		return "running"
	}
	return "ready"
}

// run fills in the first run: its coils and its check.
func (p *floorPage) run(r desk.SheetRun) {
	p.Swatch = swatchOf(r.Colour)
	p.Check = p.Floor.CheckedPiece(r)
	if p.Check != nil {
		if off, out := desk.OffBy(*p.Check); out {
			p.OffBy = off.FeetInches(32)
		}
	}
	known := map[int64]bool{}
	for _, line := range r.Rows {
		row := floorRow{SheetRow: line}
		for i, c := range p.Floor.ToLoad(line) {
			if row.Coil == nil || c.Mounted == p.Floor.Machine.Code {
				coil := c
				row.Coil, row.On = &coil, c.Mounted == p.Floor.Machine.Code
			}
			name := fmt.Sprintf("%s, %s ft", c.Tag, wholeFeet(c.OnHand))
			if i == 0 && len(line.Promises) > 0 {
				name += ", promised"
			}
			row.Coils = append(row.Coils, Option{strconv.FormatInt(c.ID, 10), name})
			if !known[c.ID] {
				p.Lost.Options = append(p.Lost.Options, Option{strconv.FormatInt(c.ID, 10), c.Tag})
				known[c.ID] = true
			}
		}
		p.Rows = append(p.Rows, row)
	}
	if m := p.Floor.Mounted; m != nil {
		p.Lost.Value = strconv.FormatInt(m.ID, 10)
		if !known[m.ID] {
			p.Lost.Options = append(p.Lost.Options, Option{p.Lost.Value, m.Tag})
		}
	}
}

// First is the piece that is checked first: the longest that isn't made.
func (p *floorPage) First() (f struct {
	Line int64
	Cut  order.CutItem
}) {
	for _, row := range p.Rows {
		for _, c := range row.Cuts {
			if c.Left() > 0 {
				f.Line, f.Cut = row.Line.ID, c.CutItem
				return f
			}
		}
	}
	return f
}

// Nanometres writes a length for a hidden field.
func (*floorPage) Nanometres(l measure.Length) string { return strconv.FormatInt(int64(l), 10) }

// Time writes a moment of the day.
func (p *floorPage) Time(t time.Time) string { return planTime(t, p.Floor.Zone) }

// Clock writes a time of today.
func (p *floorPage) Clock(t time.Time) string { return t.In(p.Floor.Zone).Format("3:04 PM") }

func showFloor(v *visit) error {
	p, err := v.newFloorPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// onFloor does one thing at a machine and comes back to its page; what is wrong
// is shown there.
func (v *visit) onFloor(said string, do func(p *floorPage) error) error {
	p, err := v.newFloorPage()
	if err != nil {
		return err
	}
	err = do(p)
	if wrong := v.wrongs(); wrong != nil {
		return v.again(p, wrong)
	}
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/floor/"+p.Floor.Machine.Code, said)
}

// tapKey is the key of a tap: the one of its form.
func (v *visit) tapKey() string { return v.posted("form_key") }

func doMade(v *visit) error {
	return v.onFloor("", func(*floorPage) error {
		pieces, err := strconv.Atoi(v.posted("pieces"))
		if err != nil {
			return fault.Invalidf("pieces", "say how many pieces")
		}
		_, err = v.desk.RecordMade(v.ctx(), v.actor, desk.Made{Key: v.tapKey(), LineID: v.number("line"), CutID: v.number("cut"), CoilID: v.number("coil"), Pieces: pieces})
		return err
	})
}

func doThread(v *visit) error {
	return v.onFloor("The coil is on. Its lead-in is booked.", func(p *floorPage) error {
		return v.desk.ThreadCoil(v.ctx(), v.actor, desk.Thread{Key: v.tapKey(), Machine: p.Floor.Machine.Code, CoilID: v.number("coil"), LineID: v.number("line")})
	})
}

func doFloorScrap(v *visit) error {
	return v.onFloor("Booked as scrap.", func(p *floorPage) error {
		coil, length, why := v.choice(&p.Lost), v.length(&p.Length, measure.Feet).Near(measure.SixtyFourth), v.choice(&p.Why)
		if v.wrongs() != nil {
			return nil
		}
		id, err := strconv.ParseInt(coil, 10, 64)
		if err != nil {
			return err
		}
		return v.desk.Scrap(v.ctx(), v.actor, id, length, why)
	})
}

func doEndCoil(v *visit) error {
	return v.onFloor("The coil is closed. What it was promised to is looked for on others.", func(*floorPage) error {
		return v.desk.EndCoil(v.ctx(), v.actor, v.number("coil"))
	})
}

func doFloorNote(v *visit) error {
	return v.onFloor("", func(p *floorPage) error {
		n := order.FloorNote{Key: v.tapKey(), Machine: p.Floor.Machine.Code, Kind: order.NoteKind(v.posted("kind")), LineID: v.number("line")}
		switch n.Kind {
		case order.Stopped:
			n.Note = v.text(&p.Note)
		case order.Checked:
			n.Nominal, n.Measured = measure.Length(v.number("nominal")), v.length(&p.Measured, measure.Inches)
		}
		if v.wrongs() != nil {
			return nil
		}
		return v.desk.NoteOnFloor(v.ctx(), v.actor, n)
	})
}

func doFault(v *visit) error {
	return v.onFloor("Noted. The plan shows what it does; the owner decides on it.", func(p *floorPage) error {
		minutes, _ := strconv.Atoi(v.choice(&p.Minutes)) // the choice is one of the list
		reason := v.text(&p.Reason)
		if reason == "" {
			v.wrong(&p.Reason, "say what is wrong")
		}
		if v.wrongs() != nil {
			return nil
		}
		_, err := v.desk.StandStill(v.ctx(), v.actor, p.Floor.Machine.Code, minutes, reason)
		return err
	})
}

// doUp ends a fault early.
func doUp(v *visit) error {
	return v.onFloor("Going again.", func(p *floorPage) error {
		if p.Floor.Down == nil {
			return nil
		}
		return v.desk.EndBlock(v.ctx(), v.actor, p.Floor.Down.ID)
	})
}

// doRunSheet prints one run's sheet and opens it.
func doRunSheet(v *visit) error {
	run, err := strconv.Atoi(v.posted("run"))
	if err != nil {
		return fault.NotFoundf("there is no such run")
	}
	paper, err := v.desk.IssueRunSheet(v.ctx(), v.actor, v.c.Param("machine"), run)
	if err != nil {
		return err
	}
	return v.redirect("/papers/" + strconv.FormatInt(paper.ID, 10))
}
