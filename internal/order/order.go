// Package order holds an order and its lines, the steps allowed between its
// states, and the things made from it on the floor: placed runs, bundles, loads
// and stops. It decides which step may follow which; it knows no prices beyond
// the figures an order was given, no database and no clock.
package order

import (
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// State is where an order stands on its path.
type State string

// The states, in the order of the path; the last three end it early.
const (
	Draft     State = "draft"
	Quoted    State = "quoted"
	Accepted  State = "accepted"
	Planned   State = "planned"
	Cut       State = "cut"
	Loaded    State = "loaded"
	Delivered State = "delivered"
	Closed    State = "closed"
	Declined  State = "declined"
	Lapsed    State = "lapsed"
	Cancelled State = "cancelled"
)

// Path is the ruled line every order shows.
var Path = []State{Draft, Quoted, Accepted, Planned, Cut, Loaded, Delivered, Closed}

// Step is something done to an order as a whole.
type Step string

// The steps. Each is one use case.
const (
	Quote   Step = "quote"
	Reopen  Step = "reopen" // a quoted order goes back to draft for a new revision
	Accept  Step = "accept"
	Decline Step = "decline"
	Lapse   Step = "lapse"
	Plan    Step = "plan"
	Unplan  Step = "unplan" // replanning took its last run away
	Finish  Step = "finish" // the last piece is cut
	Load    Step = "load"
	Unload  Step = "unload"
	Deliver Step = "deliver"
	Close   Step = "close" // invoiced and paid
	Cancel  Step = "cancel"
)

// Steps lists every step.
var Steps = []Step{Quote, Reopen, Accept, Decline, Lapse, Plan, Unplan, Finish, Load, Unload, Deliver, Close, Cancel}

// steps is the whole table of what may follow what.
var steps = map[State]map[Step]State{
	Draft:     {Quote: Quoted, Cancel: Cancelled},
	Quoted:    {Accept: Accepted, Decline: Declined, Lapse: Lapsed, Reopen: Draft, Cancel: Cancelled},
	Accepted:  {Plan: Planned, Finish: Cut, Cancel: Cancelled},
	Planned:   {Unplan: Accepted, Finish: Cut, Cancel: Cancelled},
	Cut:       {Load: Loaded},
	Loaded:    {Unload: Cut, Deliver: Delivered},
	Delivered: {Close: Closed},
	Closed:    {},
	Declined:  {Reopen: Draft},
	Lapsed:    {Reopen: Draft},
	Cancelled: {},
}

// States lists every state, ended ones last.
var States = append(append([]State(nil), Path...), Declined, Lapsed, Cancelled)

// Next gives the state after a step, or the conflict that says why not.
func (s State) Next(step Step) (State, error) {
	to, ok := steps[s][step]
	if !ok {
		return s, fault.Conflictf("the order is %s; it can't be %s now", s, past[step])
	}
	return to, nil
}

// Allows reports whether the step is possible from s.
func (s State) Allows(step Step) bool { _, ok := steps[s][step]; return ok }

// Open reports whether work may still come of the order.
func (s State) Open() bool {
	switch s {
	case Closed, Declined, Lapsed, Cancelled:
		return false
	}
	return true
}

// Reached reports whether s lies at or past t on the path.
func (s State) Reached(t State) bool {
	at, want := -1, -1
	for i, p := range Path {
		if p == s {
			at = i
		}
		if p == t {
			want = i
		}
	}
	return at >= want && at >= 0
}

var past = map[Step]State{
	Quote: Quoted, Reopen: "opened again", Accept: Accepted, Decline: Declined, Lapse: Lapsed,
	Plan: Planned, Unplan: "taken out of the plan", Finish: "finished on the machine", Load: Loaded,
	Unload: "unloaded", Deliver: Delivered, Close: Closed, Cancel: Cancelled,
}

// Limits that no order passes; beyond them the answer is a refusal, not a crash.
const (
	MaxLines  = 200
	MaxCuts   = 1000
	MaxPieces = 1_000_000
)

// Kind says how a line is made.
type Kind string

// The kinds of line.
const (
	Formed    Kind = "formed"    // panel, gutter or downspout off a roll former
	Trim      Kind = "trim"      // folded from a blank
	Accessory Kind = "accessory" // from the shelf, by the piece
)

// CutItem is one row of a cut list: so many pieces of one length.
type CutItem struct {
	ID     int64          `json:"id,omitempty"`
	Qty    int            `json:"qty"`
	Length measure.Length `json:"length"`
	Typed  string         `json:"typed"` // as it was written
	Mark   string         `json:"mark"`  // the customer's own mark for the pieces
}

// Line is one product of an order with its cut list.
type Line struct {
	ID       int64
	Pos      int
	Kind     Kind
	Code     string // profile, shape or accessory
	Name     string
	Material string
	Gauge    string
	Colour   string
	Rib      string
	Section  *metal.Section // of trim, as ordered
	Girth    measure.Length // blank width of trim
	Strip    measure.Length // coil width it is made from
	Cuts     []CutItem
	Count    int // pieces of an accessory

	// Figures it was given when priced; papers print these.
	Minutes int // run time, whole minutes rounded up, at least 1
	Pounds  money.Rate
	Unit    money.Amount // per foot, or per piece of trim and accessories
	PerFoot bool
	Amount  money.Amount
}

// Pieces counts what is cut, or the pieces of an accessory.
func (l Line) Pieces() int {
	if l.Kind == Accessory {
		return l.Count
	}
	n := 0
	for _, c := range l.Cuts {
		n += c.Qty
	}
	return n
}

// Feet is the length of all pieces together.
func (l Line) Feet() (sum measure.Length) {
	for _, c := range l.Cuts {
		sum += c.Length.Times(c.Qty)
	}
	return sum
}

// Longest is the longest piece, 0 for an accessory.
func (l Line) Longest() (longest measure.Length) {
	for _, c := range l.Cuts {
		longest = max(longest, c.Length)
	}
	return longest
}

// Metal gives the strip that serves the line.
func (l Line) Metal() stock.Strip {
	return stock.Strip{Material: l.Material, Gauge: l.Gauge, Width: l.Strip, Colour: l.Colour}
}

// Fulfil is how the goods leave.
type Fulfil string

// The ways.
const (
	PickUp Fulfil = "pick-up"
	Haul   Fulfil = "delivery"
	OnSite Fulfil = "on-site" // the machine goes to the job
)

// Contact is whom to ask.
type Contact struct {
	Name  string `json:"name"`
	Email string `json:"email"`
	Phone string `json:"phone"`
}

// Offer is one of the two prices of a quote.
type Offer struct {
	Goods    money.Amount `json:"goods"`   // lines
	SetUp    money.Amount `json:"set_up"`  // changeovers charged
	Minimum  money.Amount `json:"minimum"` // difference to the minimum order
	Packing  money.Amount `json:"packing"`
	Delivery money.Amount `json:"delivery"`
	Rush     money.Amount `json:"rush"`
	Discount money.Amount `json:"discount"`
	Tax      money.Amount `json:"tax"`
	Total    money.Amount `json:"total"`
	Deposit  money.Amount `json:"deposit"`
}

// Acceptance is the evidence of an accepted quote.
type Acceptance struct {
	Name    string    `json:"name"`
	Title   string    `json:"title"`
	Consent string    `json:"consent"` // the text that was agreed to
	Hash    string    `json:"hash"`    // SHA-256 of the quote's PDF
	PaperID int64     `json:"paper_id"`
	Method  string    `json:"method"` // "private link", "counter", "account"
	Origin  string    `json:"origin"` // network address
	At      time.Time `json:"at"`
}

// Order is one customer's ask, from the first figure to the last payment.
type Order struct {
	ID          int64
	Number      string // Q-less: the same number from ask to invoice
	Revision    int
	Version     int64
	State       State
	CustomerID  int64 // 0 while nobody is known
	Customer    string
	Contact     Contact
	Job         string
	PO          string
	Fulfil      Fulfil
	ShipTo      party.Address
	MilesTenths int64
	SiteNotes   string
	WantBy      time.Time // zero: as soon as it fits
	Rush        bool
	Sharing     bool       // the customer takes the shared-set-up price
	Discount    money.Rate // share off the goods, by the owner's word
	Lines       []Line
	Note        string

	Alone     Offer
	Shared    Offer
	Promise   time.Time
	ValidTo   time.Time
	Exempt    string // certificate number the tax was left off for
	PriceJSON []byte // stored inputs of the price, replayable
	Token     string // private link, hashed at rest by the store
	Accepted  *Acceptance
	Reason    string // why declined or cancelled
	Why       Why    // the kind of reason of a declined quote
	Follows   int64  // the accepted order that this one changes, 0 for none
	TakeOff   string // on its way in: code of the roof take-off it is made from

	CreatedAt time.Time
	UpdatedAt time.Time
	CreatedBy string
}

// Why is a kind of reason to decline a quote, for counting.
type Why string

// The kinds.
const (
	TooDear   Why = "price"
	TooLate   Why = "date"
	NotMade   Why = "goods"
	JobLost   Why = "job"
	OtherWhys Why = "other"
)

// Whys lists the kinds in the order of a form.
var Whys = []Why{TooDear, TooLate, NotMade, JobLost, OtherWhys}

// Words says a kind of reason as a customer would.
func (w Why) Words() string {
	switch w {
	case TooDear:
		return words.Key("The price is too high")
	case TooLate:
		return words.Key("It comes too late")
	case NotMade:
		return words.Key("These aren't the goods we need")
	case JobLost:
		return words.Key("The job isn't going ahead")
	}
	return words.Key("Something else")
}

// ReadWhy gives the kind of a reason that begins with a kind's words, as the
// forms write it.
func ReadWhy(reason string) Why {
	for _, w := range Whys {
		if strings.HasPrefix(reason, w.Words()) {
			return w
		}
	}
	return OtherWhys
}

// Message is one of the messages between a customer and the shop about an order.
type Message struct {
	ID       int64
	OrderID  int64
	At       time.Time
	PersonID int64 // 0 for who holds the private link
	Name     string
	Ours     bool // written in the shop
	Body     string
}

// Check refuses what can't be a message.
func (m Message) Check() error {
	var l fault.List
	if n := len([]rune(strings.TrimSpace(m.Body))); n == 0 || n > 2000 {
		l.Addf("message", "write 1 to 2,000 characters")
	}
	if n := len([]rune(m.Name)); n == 0 || n > 80 {
		l.Addf("from", "say who writes, in at most 80 characters")
	}
	return l.Err()
}

// Charged gives the offer the order stands on.
func (o Order) Charged() Offer {
	if o.Sharing {
		return o.Shared
	}
	return o.Alone
}

// Pounds sums the lines' weights.
func (o Order) Pounds() (sum money.Rate) {
	for _, l := range o.Lines {
		sum = sum.Add(l.Pounds)
	}
	return sum
}

// Feet sums the lines' lengths.
func (o Order) Feet() (sum measure.Length) {
	for _, l := range o.Lines {
		sum += l.Feet()
	}
	return sum
}

// Longest is the longest piece of the order.
func (o Order) Longest() (longest measure.Length) {
	for _, l := range o.Lines {
		longest = max(longest, l.Longest())
	}
	return longest
}

// Apply takes one step, or says why it can't be taken now.
func (o *Order) Apply(step Step) error {
	to, err := o.State.Next(step)
	if err != nil {
		return err
	}
	o.State = to
	return nil
}

// Check refuses what no order can be, before anything is priced.
func (o Order) Check() error {
	var l fault.List
	if len(o.Lines) == 0 {
		l.Addf("lines", "add at least one line")
	}
	if len(o.Lines) > MaxLines {
		l.Addf("lines", "an order takes at most %d lines; make two of it", MaxLines)
	}
	cuts, pieces := 0, 0
	for i, line := range o.Lines {
		cuts += len(line.Cuts)
		pieces += line.Pieces()
		l.Add("lines."+itoa(i), line.check())
	}
	if cuts > MaxCuts {
		l.Addf("lines", "an order takes at most %d rows in its cut lists", MaxCuts)
	}
	if pieces > MaxPieces {
		l.Addf("lines", "an order takes at most %d pieces", MaxPieces)
	}
	switch o.Fulfil {
	case PickUp, Haul, OnSite:
	default:
		l.Addf("fulfil", "choose pick-up, delivery or forming on site")
	}
	if o.Fulfil != PickUp && strings.TrimSpace(o.ShipTo.Street) == "" {
		l.Addf("ship_to", "give the address to deliver to")
	}
	if o.MilesTenths < 0 || o.MilesTenths > 10_000 {
		l.Addf("miles", "give the road miles to the site, 0 to 1,000")
	}
	for field, s := range map[string]string{"job": o.Job, "po": o.PO, "contact.name": o.Contact.Name, "contact.phone": o.Contact.Phone} {
		if len([]rune(s)) > 120 || strings.ContainsAny(s, "\r\n\x00") {
			l.Addf(field, "use one line of at most 120 characters")
		}
	}
	if len([]rune(o.Note)) > 2000 {
		l.Addf("note", "use at most 2,000 characters")
	}
	return l.Err()
}

func (l Line) check() error {
	var f fault.List
	if l.Code == "" {
		f.Addf("code", "choose what to make")
	}
	if l.Kind == Accessory {
		if l.Count < 1 || l.Count > MaxPieces {
			f.Addf("count", "give a quantity from 1 to %d", MaxPieces)
		}
		return f.Err()
	}
	if len(l.Cuts) == 0 {
		f.Addf("cuts", "enter at least one length")
	}
	for i, c := range l.Cuts {
		if c.Qty < 1 || c.Qty > MaxPieces {
			f.Addf("cuts."+itoa(i)+".qty", "give a quantity from 1 to %d", MaxPieces)
		}
		if c.Length <= 0 {
			f.Addf("cuts."+itoa(i)+".length", "a length must be more than 0")
		}
	}
	return f.Err()
}
