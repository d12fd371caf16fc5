package plan

// Move is a line whose machine or run differs between two plans.
type Move struct {
	Line, Order  string
	FromMachine  string
	ToMachine    string
	From, To     Job
	NewlyLate    bool // it ended by its due time before and doesn't now
	NoLongerLate bool
}

// Difference says what a new plan changes.
type Difference struct {
	Moved   []Move   // lines in both plans whose machine, start or end differs
	Added   []string // lines only in the new plan
	Removed []string // lines only in the old plan
	Broken  []Move   // those of Moved whose due time is newly missed
	Change  Objective
}

// Diff compares two plans, each of its own problem: lines may have come or gone
// between them. Due times are those of the second problem. Both objectives are
// worked out by the checker, so both plans must be sound.
func Diff(before Problem, old Plan, after Problem, now Plan) (Difference, error) {
	was, err := Check(before, old)
	if err != nil {
		return Difference{}, err
	}
	is, err := Check(after, now)
	if err != nil {
		return Difference{}, err
	}
	d := Difference{Change: is.Minus(was)}
	for _, l := range after.Lines {
		toMachine, to := now.Find(l.ID)
		fromMachine, from := old.Find(l.ID)
		if from == nil {
			d.Added = append(d.Added, l.ID)
			continue
		}
		if fromMachine == toMachine && from.Start == to.Start && from.End == to.End {
			continue
		}
		m := Move{Line: l.ID, Order: l.Order, FromMachine: fromMachine, ToMachine: toMachine, From: *from, To: *to,
			NewlyLate: from.End <= l.Due && to.End > l.Due, NoLongerLate: from.End > l.Due && to.End <= l.Due}
		d.Moved = append(d.Moved, m)
		if m.NewlyLate {
			d.Broken = append(d.Broken, m)
		}
	}
	for _, l := range before.Lines {
		if machine, _ := now.Find(l.ID); machine == "" {
			d.Removed = append(d.Removed, l.ID)
		}
	}
	return d, nil
}
