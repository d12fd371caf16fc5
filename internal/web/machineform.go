package web

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/stock"
)

func machineCells(m stock.Machine) []string {
	makes := strings.Join(m.Profiles, ", ")
	if m.Folder {
		makes = "folded trim"
	}
	speed := "–"
	if m.Speed.Sign() > 0 {
		speed = m.Speed.String() + " ft/min"
	}
	return []string{m.MaxStrip.Across().String(), speed, makes}
}

func machineForm(b *binder, m *stock.Machine) error {
	profiles, err := codesOf[stock.Profile](b.v)
	if err != nil {
		return err
	}
	b.part("Machine", func(*formPart) {
		named(b, "machine", &m.Code, &m.Name)
		b.tick(Field{Name: "folder", Label: "Folds trim from blanks instead of forming profiles"}, &m.Folder)
		b.length(Field{Name: "max_strip", Label: "Widest strip or sheet", Short: true}, &m.MaxStrip)
	})
	b.part("Profiles it runs", func(*formPart) { ticks(b, "profiles", profiles, &m.Profiles) })
	b.part("Times", func(p *formPart) {
		p.Say = "Run minutes = (feet / speed + pieces × (shear + handling) / 60) × (1 + allowance)."
		b.rate(Field{Name: "speed", Label: "Forming speed", Unit: "ft/min", Short: true, Optional: true}, &m.Speed)
		b.rate(Field{Name: "shear", Label: "Shear, a cut", Unit: "s", Short: true, Optional: true}, &m.Shear)
		b.rate(Field{Name: "handling", Label: "Handling, a piece", Unit: "s", Short: true, Optional: true}, &m.Handling)
		b.percent(Field{Name: "allowance", Label: "Allowance", Short: true, Optional: true, Help: "For what always comes between."}, &m.Allowance)
		b.length(Field{Name: "lead_in", Label: "Lead-in of a coil", Short: true, Optional: true}, &m.LeadIn)
		b.length(Field{Name: "lead_out", Label: "Lead-out", Short: true, Optional: true}, &m.LeadOut)
	})
	b.part("Folder", func(p *formPart) {
		p.Say = "Only for a folder."
		b.rate(Field{Name: "bend", Label: "A bend", Unit: "s", Short: true, Optional: true}, &m.Bend)
		b.rate(Field{Name: "hem", Label: "A hem", Unit: "s", Short: true, Optional: true}, &m.Hem)
		b.rate(Field{Name: "slit", Label: "Slitting, a sheet", Unit: "min", Short: true, Optional: true}, &m.Slit)
		b.length(Field{Name: "min_leg", Label: "Shortest leg it holds", Short: true, Optional: true}, &m.MinLeg)
		b.length(Field{Name: "max_fold", Label: "Longest piece", Short: true, Optional: true}, &m.MaxFold)
	})
	b.part("Service", func(p *formPart) {
		p.Say = "The run plan's calendar says when it is due. Leave empty what it doesn't go by."
		b.whole(Field{Name: "service_feet", Label: "Every", Unit: "ft", Short: true, Optional: true}, &m.ServiceFeet)
		b.whole(Field{Name: "service_hours", Label: "Or every", Unit: "h", Short: true, Optional: true}, &m.ServiceHours)
		b.whole(Field{Name: "service_minutes", Label: "It takes", Unit: "min", Short: true, Optional: true}, &m.ServiceMinutes)
	})
	changeRule(b, m)
	rows(b, "week", "Open time", "Add an open time", &m.Week, func(_ int, w *stock.Window) {
		b.weekday(Field{Name: "day", Label: "Day", Short: true}, &w.Day)
		b.clock(Field{Name: "from", Label: "From", Short: true, Help: "Such as 7:00."}, &w.From)
		b.clock(Field{Name: "to", Label: "To", Short: true, Help: "Such as 15:30."}, &w.To)
	})
	return nil
}

// changeRule is what a change between two runs takes, part by part.
func changeRule(b *binder, m *stock.Machine) {
	keys := strings.Join(stock.SetupKeys, ", ")
	list := rows(b, "rule", "Changeover part", "Add a part of the rule", &m.Rule, func(_ int, p *stock.ChangePart) {
		b.text(Field{Name: "name", Label: "Part", Short: true}, &p.Name)
		b.words(Field{Name: "keys", Label: "Counts when one of these differs", Help: "Of: " + keys + "."}, &p.Keys)
		b.whole(Field{Name: "minutes", Label: "Takes", Unit: "min", Short: true}, &p.Minutes)
		b.length(Field{Name: "scrap", Label: "Strip lost", Short: true, Optional: true}, &p.Scrap)
		b.words(Field{Name: "covers", Label: "Done along with it", Optional: true, Help: "Names of later parts that then don't count."}, &p.Covers)
		if p.Name != "" {
			b.at.Title = "Changeover part: " + p.Name
		}
		rows(b, "pairs", "Pair", "Add a pair with minutes of its own", &p.Pairs, func(_ int, pair *stock.ChangePair) {
			b.text(Field{Name: "from", Label: "From", Short: true}, &pair.From)
			b.text(Field{Name: "to", Label: "To", Short: true}, &pair.To)
			b.whole(Field{Name: "minutes", Label: "Takes", Unit: "min", Short: true}, &pair.Minutes)
			b.length(Field{Name: "scrap", Label: "Strip lost", Short: true, Optional: true}, &pair.Scrap)
		})
	})
	list.Say = "What it takes to go from one run to the next: each part counts when one of its keys differs, in this order."
}

// ticks reads which of some codes are ticked.
func ticks(b *binder, name string, codes []Option, at *[]string) {
	was := map[string]bool{}
	for _, c := range *at {
		was[c] = true
	}
	if b.reading {
		*at = nil
	}
	for _, o := range codes {
		on := was[o.Value]
		b.tick(Field{Name: name + "." + o.Value, Label: o.Label}, &on)
		if b.reading && on {
			*at = append(*at, o.Value)
		}
	}
}

func (b *binder) weekday(f Field, at *time.Weekday) {
	for d := time.Sunday; d <= time.Saturday; d++ {
		f.Options = append(f.Options, Option{strconv.Itoa(int(d)), d.String()})
	}
	p := b.add(f)
	if !b.reading {
		p.Value = strconv.Itoa(int(*at))
		return
	}
	if n, err := strconv.Atoi(b.v.choice(p)); err == nil {
		*at = time.Weekday(n)
	}
}

// clock reads when a window of the week begins or ends: a time of the day, a full
// hour alone, or the end of the day.
func (b *binder) clock(f Field, at *int) {
	p := b.add(f)
	if !b.reading {
		p.Value = fmt.Sprintf("%d:%02d", *at/60, *at%60)
		return
	}
	s := b.v.text(p)
	if s == "24:00" {
		*at = 24 * 60
		return
	}
	if _, err := strconv.Atoi(s); err == nil {
		s += ":00"
	}
	minutes, err := readClock(s)
	if err != nil {
		b.v.note(p, err)
		return
	}
	*at = minutes
}
