package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/order"
)

// onSeen does something to the order in the path as the program saw it, and
// answers with the order. Who loses a race against somebody else is told the
// same as who comes too late: 412, as RFC 9110 has it for a condition that
// doesn't hold when the change is made.
func (v *visit) onSeen(do func(order.Order) error) error {
	o, err := v.seen()
	if err != nil {
		return err
	}
	if err := do(o); err != nil {
		return v.overtaken(o, err)
	}
	return v.sendOrder(http.StatusOK, o.ID)
}

// overtaken gives 412 for a conflict that somebody else's change brought about.
func (v *visit) overtaken(o order.Order, err error) error {
	if !fault.Is(err, fault.Conflict) {
		return err
	}
	f, rerr := v.desk.OrderFile(v.ctx(), v.actor, o.ID)
	if rerr != nil {
		return err
	}
	if late := v.matched(f.Order.Version); late != nil {
		return late
	}
	return err
}

func apiQuote(v *visit) error {
	return v.onSeen(func(o order.Order) error {
		_, err := v.desk.QuoteOrder(v.ctx(), v.actor, o.ID, o.Version, nil)
		return err
	})
}

// apiAccept accepts for somebody who saw when it will be ready: without that date
// they would take whichever there is.
func apiAccept(v *visit) error {
	var yes struct {
		Name    string `json:"name"`
		Title   string `json:"title"`
		Consent bool   `json:"consent"`
		Sharing bool   `json:"sharing"`
		Ready   string `json:"ready"`
	}
	if err := v.decode(&yes); err != nil {
		return err
	}
	ready, err := time.Parse(time.RFC3339, yes.Ready)
	if err != nil && yes.Ready != "" {
		return fault.Invalidf("ready", "write the moment as 2026-03-02T17:00:00Z")
	}
	return v.onSeen(func(o order.Order) error {
		if ready.IsZero() && o.State == order.Quoted && !o.Promise.IsZero() {
			return fault.Invalidf("ready", "send the date that was seen: the order's ready")
		}
		_, err := v.desk.AcceptOrder(v.ctx(), v.actor, o.ID, o.Version, desk.Yes{
			Name: strings.TrimSpace(yes.Name), Title: strings.TrimSpace(yes.Title), Consent: yes.Consent, Sharing: yes.Sharing, Ready: ready,
			Method: "program", Origin: v.c.ClientIP(),
		})
		return err
	})
}

// apiDecline ends a quote; why is one of the kinds that declined quotes are
// counted by.
func apiDecline(v *visit) error {
	var no struct {
		Why    order.Why `json:"why"`
		Reason string    `json:"reason"`
	}
	if err := v.decode(&no); err != nil {
		return err
	}
	reason := strings.TrimSpace(no.Reason)
	switch {
	case no.Why == "":
	case order.ReadWhy(no.Why.Words()) != no.Why:
		return fault.Invalidf("why", "choose one of %s, %s, %s, %s and %s", order.TooDear, order.TooLate, order.NotMade, order.JobLost, order.OtherWhys)
	case reason == "":
		reason = no.Why.Words()
	default:
		reason = no.Why.Words() + ": " + reason
	}
	return v.onSeen(func(o order.Order) error {
		_, err := v.desk.DeclineOrder(v.ctx(), v.actor, o.ID, o.Version, reason)
		return err
	})
}

func apiCancel(v *visit) error {
	var no struct {
		Reason string `json:"reason"`
	}
	if err := v.decode(&no); err != nil {
		return err
	}
	return v.onSeen(func(o order.Order) error {
		_, err := v.desk.CancelOrder(v.ctx(), v.actor, o.ID, o.Version, strings.TrimSpace(no.Reason))
		return err
	})
}

// apiReplace puts what is asked for now in the place of a draft.
func apiReplace(v *visit) error {
	next, err := v.asked()
	if err != nil {
		return err
	}
	return v.onSeen(func(o order.Order) error {
		next.ID, next.Version = o.ID, o.Version
		_, err := v.desk.ChangeOrder(v.ctx(), v.actor, next)
		return notFoundIs(err, "customer_id")
	})
}

// apiChange begins a change of an accepted order: a new draft, which takes its
// place when it is quoted and accepted in its turn.
func apiChange(v *visit) error {
	o, err := v.seen()
	if err != nil {
		return err
	}
	next, err := v.desk.ChangeAccepted(v.ctx(), v.actor, o.ID)
	if err != nil {
		return v.overtaken(o, err)
	}
	v.c.Header("Location", "/api/v1/orders/"+strconv.FormatInt(next.ID, 10))
	return v.sendOrder(http.StatusCreated, next.ID)
}

// drawnTrim is the code of trim that is in no catalogue: its section is all
// there is.
const drawnTrim = "DRAWN"

// apiSection is a trim section drawn leg by leg, lengths as people write them.
type apiSection struct {
	Name    string     `json:"name"`
	Legs    []apiLeg   `json:"legs"`
	Start   apiEdge    `json:"start"`
	End     apiEdge    `json:"end"`
	Painted metal.Side `json:"painted"`
}

type apiLeg struct {
	Length string  `json:"length"` // outside
	Turn   float64 `json:"turn"`   // degrees before this leg, + to the left
}

type apiEdge struct {
	Kick     string        `json:"kick"`
	KickTurn float64       `json:"kick_turn"`
	Hem      metal.HemKind `json:"hem"`
	HemDepth string        `json:"hem_depth"`
	HemSide  metal.Side    `json:"hem_side"`
}

// section reads the drawing, with what can't be read at its field.
func (s apiSection) section(l *fault.List, at string) *metal.Section {
	out := &metal.Section{Name: strings.TrimSpace(s.Name), Painted: s.Painted}
	for i, leg := range s.Legs {
		out.Legs = append(out.Legs, metal.Leg{Length: readInches(l, fmt.Sprintf("%slegs.%d.length", at, i), leg.Length), Turn: leg.Turn})
	}
	out.Start, out.End = s.Start.edge(l, at+"start."), s.End.edge(l, at+"end.")
	return out
}

func (e apiEdge) edge(l *fault.List, at string) metal.Edge {
	out := metal.Edge{KickTurn: e.KickTurn, Hem: e.Hem, HemSide: e.HemSide}
	if e.Kick != "" {
		out.Kick = readInches(l, at+"kick", e.Kick)
	}
	if e.HemDepth != "" {
		out.HemDepth = readInches(l, at+"hem_depth", e.HemDepth)
	}
	return out
}

// readInches reads a measure of a section; a bare number is in inches, as on the
// drawing of a trim.
func readInches(l *fault.List, field, typed string) measure.Length {
	r, err := measure.Read(typed, measure.Inches)
	if err != nil {
		for _, f := range fault.All(err) {
			l.Addf(field, "%s", f.Sentence)
		}
	}
	return r.Length
}
