package web

import (
	"cmp"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// The API's own types: what programs see is written down here and in
// openapi.yaml, whatever becomes of the desk's records. Costs and margins are in
// none of them.

// apiAsk is an order as a program asks for it.
type apiAsk struct {
	Customer int64          `json:"customer_id"`
	Contact  order.Contact  `json:"contact"`
	Job      string         `json:"job"`
	PO       string         `json:"po"`
	Fulfil   order.Fulfil   `json:"fulfil"`
	ShipTo   apiAddress     `json:"ship_to"`
	Miles    *json.Number   `json:"miles"`
	WantBy   string         `json:"want_by"`
	Rush     bool           `json:"rush"`
	Note     string         `json:"note"`
	Lines    []apiAskedLine `json:"lines"`
}

type apiAddress struct {
	Street string `json:"street"`
	City   string `json:"city"`
	State  string `json:"state"`
	Postal string `json:"postal"`
}

type apiAskedLine struct {
	Kind     order.Kind    `json:"kind"`
	Code     string        `json:"code"`
	Material string        `json:"material"`
	Gauge    string        `json:"gauge"`
	Colour   string        `json:"color"`
	Rib      string        `json:"rib"`
	Count    int           `json:"count"`
	Cuts     []apiAskedCut `json:"cuts"`
	Section  *apiSection   `json:"section"` // of trim that is in no catalogue
}

type apiAskedCut struct {
	Pieces int    `json:"pieces"`
	Length string `json:"length"` // as people write it: 12' 6-1/2"
	Mark   string `json:"mark"`
}

// order gives the order that was asked for, with what can't be read at its field.
func (a apiAsk) order() (order.Order, error) {
	var l fault.List
	o := order.Order{
		CustomerID: a.Customer, Contact: a.Contact, Job: a.Job, PO: a.PO, Fulfil: a.Fulfil, Rush: a.Rush, Note: a.Note,
		ShipTo: party.Address{Street: a.ShipTo.Street, City: a.ShipTo.City, State: a.ShipTo.State, Postal: a.ShipTo.Postal},
	}
	if o.Fulfil == "" {
		o.Fulfil = order.PickUp
	}
	if a.Miles != nil {
		o.MilesTenths = readMiles(&l, a.Miles.String())
	}
	if a.WantBy != "" {
		day, err := time.Parse(time.DateOnly, a.WantBy)
		if err != nil {
			l.Addf("want_by", "write the day as 2026-03-02")
		}
		o.WantBy = day
	}
	for i, line := range a.Lines {
		o.Lines = append(o.Lines, line.line(&l, fmt.Sprintf("lines.%d.", i)))
	}
	return o, l.Err()
}

// apiNames are the names of the API for places of an order that the desk calls
// otherwise.
var apiNames = map[string]string{"colour": "color", "qty": "pieces", "customer": "customer_id"}

// apiField names the place of a fault as the API does.
func apiField(field string) string {
	parts := strings.Split(field, ".")
	for i, p := range parts {
		parts[i] = cmp.Or(apiNames[p], p)
	}
	if len(parts) > 2 && parts[0] == "lines" && slices.Contains([]string{"legs", "start", "end", "painted"}, parts[2]) {
		parts = slices.Insert(parts, 2, "section")
	}
	return strings.Join(parts, ".")
}

// asked gives the order that a program asks for.
func (v *visit) asked() (order.Order, error) {
	var ask apiAsk
	if err := v.decode(&ask); err != nil {
		return order.Order{}, err
	}
	return ask.order()
}

func readMiles(l *fault.List, s string) int64 {
	r, err := money.ReadRate(s)
	tenths := r.Mul(money.Int(10)).String()
	n, perr := strconv.ParseInt(tenths, 10, 64)
	if err != nil || perr != nil {
		l.Addf("miles", "write a number with at most one decimal, such as 12.5")
	}
	return n
}

func (a apiAskedLine) line(l *fault.List, at string) order.Line {
	line := order.Line{Kind: a.Kind, Code: a.Code, Material: a.Material, Gauge: a.Gauge, Colour: a.Colour, Rib: a.Rib, Count: a.Count}
	for i, c := range a.Cuts {
		field := fmt.Sprintf("%scuts.%d.length", at, i)
		r, err := measure.Read(c.Length, "")
		if err != nil {
			for _, f := range fault.All(err) {
				l.Addf(field, "%s", f.Sentence)
			}
		}
		line.Cuts = append(line.Cuts, order.CutItem{Qty: c.Pieces, Length: r.Length, Typed: r.Typed, Mark: c.Mark})
	}
	if a.Section != nil {
		if line.Kind != order.Trim {
			l.Addf(at+"section", "only trim has a section")
		}
		if line.Section = a.Section.section(l, at+"section."); line.Code == "" {
			line.Code, line.Name = drawnTrim, line.Section.Name
		}
	}
	return line
}

// apiMoney is money as a plain decimal with its currency; text, since a number
// would be rounded on the way.
type apiMoney struct {
	Amount   string `json:"amount"`
	Currency string `json:"currency"`
}

func moneyFor(a money.Amount) apiMoney { return apiMoney{a.Plain(), string(a.Currency())} }

type apiOffer struct {
	Goods    apiMoney `json:"goods"`
	SetUp    apiMoney `json:"set_up"`
	Minimum  apiMoney `json:"minimum"`
	Packing  apiMoney `json:"packing"`
	Delivery apiMoney `json:"delivery"`
	Rush     apiMoney `json:"rush"`
	Discount apiMoney `json:"discount"`
	Tax      apiMoney `json:"tax"`
	Total    apiMoney `json:"total"`
	Deposit  apiMoney `json:"deposit"`
}

// offerFor gives a price, nil for one that wasn't made.
func offerFor(o order.Offer) *apiOffer {
	if o.Total.IsZero() {
		return nil
	}
	return &apiOffer{moneyFor(o.Goods), moneyFor(o.SetUp), moneyFor(o.Minimum), moneyFor(o.Packing), moneyFor(o.Delivery),
		moneyFor(o.Rush), moneyFor(o.Discount), moneyFor(o.Tax), moneyFor(o.Total), moneyFor(o.Deposit)}
}

type apiLine struct {
	Kind     order.Kind `json:"kind"`
	Code     string     `json:"code"`
	Name     string     `json:"name"`
	Material string     `json:"material,omitempty"`
	Gauge    string     `json:"gauge,omitempty"`
	Colour   string     `json:"color,omitempty"`
	Pieces   int        `json:"pieces"`
	Feet     string     `json:"feet,omitempty"`
	Pounds   string     `json:"pounds"`
	Unit     apiMoney   `json:"unit"`
	PerFoot  bool       `json:"per_foot"`
	Amount   apiMoney   `json:"amount"`
	Cuts     []apiCut   `json:"cuts,omitempty"`
}

type apiCut struct {
	Pieces int    `json:"pieces"`
	Length string `json:"length"`
	Mark   string `json:"mark,omitempty"`
}

func lineFor(l order.Line) apiLine {
	out := apiLine{Kind: l.Kind, Code: l.Code, Name: l.Name, Material: l.Material, Gauge: l.Gauge, Colour: l.Colour,
		Pieces: l.Pieces(), Pounds: l.Pounds.String(), Unit: moneyFor(l.Unit), PerFoot: l.PerFoot, Amount: moneyFor(l.Amount)}
	if l.Kind != order.Accessory {
		out.Feet = l.Feet().Feet()
	}
	for _, c := range l.Cuts {
		out.Cuts = append(out.Cuts, apiCut{c.Qty, c.Length.String(), c.Mark})
	}
	return out
}

type apiOrderHead struct {
	ID       int64        `json:"id"`
	Number   string       `json:"number"`
	Version  int64        `json:"version"`
	State    order.State  `json:"state"`
	Customer int64        `json:"customer_id,omitempty"`
	Name     string       `json:"customer,omitempty"`
	Job      string       `json:"job,omitempty"`
	PO       string       `json:"po,omitempty"`
	Fulfil   order.Fulfil `json:"fulfil"`
	Promise  *time.Time   `json:"promise,omitempty"`
	Valid    string       `json:"valid_to,omitempty"`
	Alone    *apiOffer    `json:"alone,omitempty"`
	Shared   *apiOffer    `json:"shared,omitempty"`
	Created  time.Time    `json:"created_at"`
}

func headFor(o order.Order) apiOrderHead {
	h := apiOrderHead{ID: o.ID, Number: o.Number, Version: o.Version, State: o.State, Customer: o.CustomerID, Name: o.Customer,
		Job: o.Job, PO: o.PO, Fulfil: o.Fulfil, Alone: offerFor(o.Alone), Shared: offerFor(o.Shared), Created: o.CreatedAt.UTC()}
	if !o.Promise.IsZero() {
		promise := o.Promise.UTC()
		h.Promise = &promise
	}
	if !o.ValidTo.IsZero() {
		h.Valid = o.ValidTo.Format(time.DateOnly)
	}
	return h
}

type apiOrderFile struct {
	apiOrderHead
	Ready  *time.Time `json:"ready,omitempty"` // of a quote: what it can be promised for now
	Lines  []apiLine  `json:"lines"`
	Papers []apiSheet `json:"papers"`
}

type apiSheet struct {
	ID     int64     `json:"id"`
	Kind   string    `json:"kind"`
	Number string    `json:"number"`
	SHA256 string    `json:"sha256"`
	At     time.Time `json:"at"`
}

func apiPrice(v *visit) error {
	o, err := v.asked()
	if err != nil {
		return err
	}
	priced, err := v.desk.Ask(v.ctx(), v.actor, o)
	if err != nil {
		return notFoundIs(err, "customer_id")
	}
	out := struct {
		Alone    *apiOffer    `json:"alone"`
		Shared   *apiOffer    `json:"shared,omitempty"`
		Ready    *time.Time   `json:"ready,omitempty"`
		Lines    []apiLine    `json:"lines"`
		Warnings []words.Text `json:"warnings"`
	}{Alone: offerFor(priced.Order.Alone), Shared: offerFor(priced.Order.Shared), Warnings: append([]words.Text{}, priced.Warnings...)}
	if priced.Earliest.Found {
		ready := priced.Earliest.Ready.UTC()
		out.Ready = &ready
	}
	for _, l := range priced.Order.Lines {
		out.Lines = append(out.Lines, lineFor(l))
	}
	v.sendJSON(http.StatusOK, "application/json", out)
	return nil
}

func apiOrders(v *visit) error {
	f := desk.OrderFilter{Limit: pageSize + 1}
	if s := v.query("state"); s != "" {
		if !slices.Contains(order.States, order.State(s)) {
			return fault.Invalidf("state", "there is no state %q", s)
		}
		f.States = []order.State{order.State(s)}
	}
	var err error
	if s := v.query("customer_id"); s != "" {
		if f.CustomerID, err = strconv.ParseInt(s, 10, 64); err != nil || f.CustomerID <= 0 {
			return fault.Invalidf("customer_id", "give a customer's number")
		}
	}
	if f.Before, err = v.cursor("o"); err != nil {
		return err
	}
	list, err := v.desk.Orders(v.ctx(), v.actor, f)
	if err != nil {
		return err
	}
	return sendList(v, "o", list, func(o order.Order) int64 { return o.ID }, headFor)
}

func apiTakeOrder(v *visit) error {
	o, err := v.asked()
	if err != nil {
		return err
	}
	if o, err = v.desk.TakeOrder(v.ctx(), v.actor, o); err != nil {
		return notFoundIs(err, "customer_id")
	}
	v.c.Header("Location", "/api/v1/orders/"+strconv.FormatInt(o.ID, 10))
	return v.sendOrder(http.StatusCreated, o.ID)
}

func apiOrder(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	return v.sendOrder(http.StatusOK, id)
}

// sendOrder answers with an order, and keeps the answer of a keyed request.
func (v *visit) sendOrder(status int, id int64) error {
	f, err := v.desk.OrderFile(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	etag := tagOf(f)
	v.c.Header("ETag", etag)
	if v.c.Request.Method == http.MethodGet && v.c.GetHeader("If-None-Match") == etag {
		v.c.Status(http.StatusNotModified)
		v.c.Writer.WriteHeaderNow()
		return nil
	}
	out := apiOrderFile{apiOrderHead: headFor(f.Order), Lines: []apiLine{}, Papers: []apiSheet{}}
	if !f.Ready.IsZero() {
		ready := f.Ready.UTC()
		out.Ready = &ready
	}
	for _, l := range f.Order.Lines {
		out.Lines = append(out.Lines, lineFor(l))
	}
	for _, p := range f.Papers {
		out.Papers = append(out.Papers, apiSheet{p.ID, p.Kind, p.Number, p.SHA256, p.At.UTC()})
	}
	body, err := json.Marshal(out)
	if err != nil {
		return err
	}
	if v.key != nil {
		kept, err := json.Marshal(keptAnswer{etag, body})
		if err != nil {
			return err
		}
		if err := v.desk.KeepAnswer(v.ctx(), *v.key, status, v.c.Writer.Header().Get("Location"), kept); err != nil {
			return err
		}
	}
	v.send(status, "application/json", body)
	return nil
}

// seen gives the order in the path, if it is still as the program saw it.
func (v *visit) seen() (order.Order, error) {
	f, err := v.orderFile()
	if err != nil {
		return order.Order{}, err
	}
	return f.Order, v.matched(f.Order.Version)
}

func apiPaper(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	p, err := v.desk.Paper(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.sendPaper(p)
}

type apiCoil struct {
	ID       int64  `json:"id"`
	Tag      string `json:"tag"`
	Material string `json:"material"`
	Gauge    string `json:"gauge"`
	Colour   string `json:"color"`
	Width    string `json:"width_inches"`
	Lot      string `json:"lot"`
	OnHand   string `json:"on_hand_feet"`
	Promised string `json:"promised_feet"`
	Mounted  string `json:"mounted,omitempty"`
	Remnant  bool   `json:"remnant"`
}

func apiCoils(v *visit) error {
	after, err := v.cursor("c")
	if err != nil {
		return err
	}
	all, err := v.desk.Coils(v.ctx())
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(slices.Clone(all), func(c stock.Coil) bool { return c.ID <= after })
	slices.SortFunc(all, func(a, b stock.Coil) int { return int(a.ID - b.ID) })
	id := func(c stock.Coil) int64 { return c.ID }
	return sendList(v, "c", all[:min(len(all), pageSize+1)], id, func(c stock.Coil) apiCoil {
		return apiCoil{c.ID, c.Tag, c.Strip.Material, c.Strip.Gauge, c.Strip.Colour, c.Strip.Width.Inches(), c.Lot, c.OnHand.Feet(), c.Promised.Feet(), c.Mounted, c.Remnant}
	})
}

type apiCustomer struct {
	ID    int64  `json:"id"`
	Name  string `json:"name"`
	Email string `json:"email,omitempty"`
	Phone string `json:"phone,omitempty"`
	City  string `json:"city,omitempty"`
	State string `json:"state,omitempty"`
	Hold  bool   `json:"hold"`
}

func apiCustomers(v *visit) error {
	page, err := v.cursor("f")
	if err != nil {
		return err
	}
	list, more, err := v.desk.Customers(v.ctx(), v.actor, v.query("search"), int(page))
	if err != nil {
		return err
	}
	items := []apiCustomer{}
	for _, c := range list {
		items = append(items, apiCustomer{c.ID, c.Name, c.Email, c.Phone, c.Billing.City, c.Billing.State, c.Hold})
	}
	next := ""
	if more {
		next = cursorOf("f", page+1)
	}
	v.sendJSON(http.StatusOK, "application/json", apiList[apiCustomer]{items, next})
	return nil
}

// pageSize is how many records one answer lists.
const pageSize = 50

// apiList is one answer of a list; Next asks for the one after it.
type apiList[T any] struct {
	Items []T    `json:"items"`
	Next  string `json:"next_cursor,omitempty"`
}

// sendList answers with a page of records, of which one more than fits was read.
func sendList[R, T any](v *visit, kind string, list []R, id func(R) int64, out func(R) T) error {
	next := ""
	if len(list) > pageSize {
		list = list[:pageSize]
		next = cursorOf(kind, id(list[pageSize-1]))
	}
	items := make([]T, len(list))
	for i, r := range list {
		items[i] = out(r)
	}
	v.sendJSON(http.StatusOK, "application/json", apiList[T]{items, next})
	return nil
}

// cursorOf writes where the next answer begins; programs read nothing into it.
func cursorOf(kind string, at int64) string {
	return base64.RawURLEncoding.EncodeToString([]byte(kind + strconv.FormatInt(at, 10)))
}

// cursor reads what cursorOf wrote, 0 where none was sent.
func (v *visit) cursor(kind string) (int64, error) {
	s := v.query("cursor")
	if s == "" {
		return 0, nil
	}
	b, err := base64.RawURLEncoding.DecodeString(s)
	digits, ok := strings.CutPrefix(string(b), kind)
	n, perr := strconv.ParseInt(digits, 10, 64)
	if err != nil || !ok || perr != nil || n < 0 {
		return 0, fault.Invalidf("cursor", "send the next_cursor of the answer before")
	}
	return n, nil
}
