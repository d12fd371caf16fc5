package store

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/words"
)

type orderRow struct {
	ID          int64 `gorm:"primaryKey"`
	Number      string
	Revision    int64
	State       string
	CustomerID  *int64
	Customer    string
	Contact     string
	Job         string
	Po          string
	Fulfil      string
	ShipTo      string
	MilesTenths int64
	SiteNotes   string
	WantBy      string
	Rush        bool
	Sharing     bool
	Discount    string
	Note        string
	Alone       string
	Shared      string
	Total       int64
	Currency    string
	Promise     *time.Time
	ValidTo     string
	Exempt      string
	PriceInputs string
	TokenHash   string
	Accepted    string
	Reason      string
	Follows     int64
	Why         string
	Search      string
	CreatedAt   time.Time
	UpdatedAt   time.Time
	CreatedBy   string
	Version     int64
}

func (orderRow) TableName() string { return "orders" }

func newOrderRow(o order.Order) (orderRow, error) {
	r := orderRow{
		ID: o.ID, Number: o.Number, Revision: int64(o.Revision), State: string(o.State), CustomerID: optional(o.CustomerID), Customer: o.Customer,
		Job: o.Job, Po: o.PO, Fulfil: string(o.Fulfil), MilesTenths: o.MilesTenths, SiteNotes: o.SiteNotes, WantBy: dayText(o.WantBy),
		Rush: o.Rush, Sharing: o.Sharing, Discount: o.Discount.String(), Note: o.Note, Total: o.Charged().Total.Cents(), Currency: string(o.Charged().Total.Currency()),
		Promise: optionalTime(o.Promise), ValidTo: dayText(o.ValidTo), Exempt: o.Exempt, PriceInputs: string(o.PriceJSON), Reason: o.Reason,
		Follows: o.Follows, Why: string(o.Why),
		CreatedAt: moment(o.CreatedAt), UpdatedAt: moment(o.UpdatedAt), CreatedBy: o.CreatedBy, Version: o.Version,
		Search: strings.ToLower(strings.Join([]string{o.Number, o.Customer, o.Contact.Name, o.Job, o.PO}, " ")),
	}
	if o.Token != "" {
		r.TokenHash = HashToken(o.Token)
	}
	for _, part := range []struct {
		to   *string
		from any
	}{{&r.Contact, o.Contact}, {&r.ShipTo, o.ShipTo}, {&r.Alone, o.Alone}, {&r.Shared, o.Shared}, {&r.Accepted, o.Accepted}} {
		b, err := json.Marshal(part.from)
		if err != nil {
			return r, err
		}
		*part.to = string(b)
	}
	return r, nil
}

func (r orderRow) order() (order.Order, error) {
	o := order.Order{
		ID: r.ID, Number: r.Number, Revision: int(r.Revision), Version: r.Version, State: order.State(r.State),
		CustomerID: value(r.CustomerID), Customer: r.Customer, Job: r.Job, PO: r.Po, Fulfil: order.Fulfil(r.Fulfil),
		MilesTenths: r.MilesTenths, SiteNotes: r.SiteNotes, WantBy: readDay(r.WantBy), Rush: r.Rush, Sharing: r.Sharing, Discount: readRate(r.Discount), Note: r.Note,
		Promise: readTime(r.Promise), ValidTo: readDay(r.ValidTo), Exempt: r.Exempt, PriceJSON: []byte(r.PriceInputs), Reason: r.Reason, Follows: r.Follows, Why: order.Why(r.Why),
		CreatedAt: r.CreatedAt.UTC(), UpdatedAt: r.UpdatedAt.UTC(), CreatedBy: r.CreatedBy,
	}
	return o, errors.Join(
		json.Unmarshal([]byte(r.Contact), &o.Contact), json.Unmarshal([]byte(r.ShipTo), &o.ShipTo),
		json.Unmarshal([]byte(r.Alone), &o.Alone), json.Unmarshal([]byte(r.Shared), &o.Shared),
		json.Unmarshal([]byte(r.Accepted), &o.Accepted),
	)
}

func optionalTime(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = moment(t)
	return &t
}

func readTime(t *time.Time) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.UTC()
}

// HashToken is how private links are kept: whoever reads the database can't
// open them.
func HashToken(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

type lineRow struct {
	ID       int64 `gorm:"primaryKey"`
	OrderID  int64
	Pos      int64
	Kind     string
	Code     string
	Name     string
	Material string
	Gauge    string
	Colour   string
	Rib      string
	Section  string
	Girth    int64
	Strip    int64
	Count    int64
	Minutes  int64
	Pounds   string
	Unit     int64
	PerFoot  bool
	Amount   int64
	Currency string
}

func (lineRow) TableName() string { return "order_lines" }

func newLineRow(orderID int64, pos int, l order.Line) (lineRow, error) {
	section := ""
	if l.Section != nil {
		b, err := json.Marshal(l.Section)
		if err != nil {
			return lineRow{}, err
		}
		section = string(b)
	}
	return lineRow{
		ID: l.ID, OrderID: orderID, Pos: int64(pos), Kind: string(l.Kind), Code: l.Code, Name: l.Name, Material: l.Material, Gauge: l.Gauge,
		Colour: l.Colour, Rib: l.Rib, Section: section, Girth: int64(l.Girth), Strip: int64(l.Strip), Count: int64(l.Count),
		Minutes: int64(l.Minutes), Pounds: l.Pounds.String(), Unit: l.Unit.Cents(), PerFoot: l.PerFoot, Amount: l.Amount.Cents(), Currency: string(l.Amount.Currency()),
	}, nil
}

func (r lineRow) line() (order.Line, error) {
	c := money.Currency(r.Currency)
	l := order.Line{
		ID: r.ID, Pos: int(r.Pos), Kind: order.Kind(r.Kind), Code: r.Code, Name: r.Name, Material: r.Material, Gauge: r.Gauge, Colour: r.Colour,
		Rib: r.Rib, Girth: measure.Length(r.Girth), Strip: measure.Length(r.Strip), Count: int(r.Count), Minutes: int(r.Minutes), Pounds: readRate(r.Pounds),
		Unit: money.Cents(r.Unit, c), PerFoot: r.PerFoot, Amount: money.Cents(r.Amount, c),
	}
	if r.Section == "" {
		return l, nil
	}
	return l, json.Unmarshal([]byte(r.Section), &l.Section)
}

type cutRow struct {
	ID     int64 `gorm:"primaryKey"`
	LineID int64
	Pos    int64
	Qty    int64
	Length int64
	Typed  string
	Mark   string
}

func (cutRow) TableName() string { return "cuts" }

func (r cutRow) cut() order.CutItem {
	return order.CutItem{ID: r.ID, Qty: int(r.Qty), Length: measure.Length(r.Length), Typed: r.Typed, Mark: r.Mark}
}

// AddOrder keeps a new order with its lines, and gives it its ids.
func (tx *Tx) AddOrder(actor party.Actor, o order.Order) (order.Order, error) {
	o.CreatedAt, o.UpdatedAt, o.CreatedBy, o.Version = tx.now, tx.now, actor.Name, 1
	row, err := newOrderRow(o)
	if err != nil {
		return o, err
	}
	if err := tx.db.Create(&row).Error; err != nil {
		return o, err
	}
	o.ID = row.ID
	if err := tx.addLines(&o); err != nil {
		return o, err
	}
	return o, tx.Log(actor, "asked", "order", o.ID, summary(o))
}

// summary is what the log keeps of an order at each step.
func summary(o order.Order) any {
	return struct {
		Number   string       `json:"number"`
		Revision int          `json:"revision"`
		State    order.State  `json:"state"`
		Lines    int          `json:"lines"`
		Total    money.Amount `json:"total"`
		Reason   string       `json:"reason,omitempty"`
	}{o.Number, o.Revision, o.State, len(o.Lines), o.Charged().Total, o.Reason}
}

// addLines writes all lines in one statement and all their cuts in another.
func (tx *Tx) addLines(o *order.Order) error {
	rows := make([]lineRow, len(o.Lines))
	for i, l := range o.Lines {
		var err error
		l.ID = 0
		if rows[i], err = newLineRow(o.ID, i+1, l); err != nil {
			return err
		}
	}
	if err := tx.db.Create(&rows).Error; err != nil {
		return err
	}
	var cuts []cutRow
	for i := range o.Lines {
		o.Lines[i].ID, o.Lines[i].Pos = rows[i].ID, i+1
		for j, c := range o.Lines[i].Cuts {
			cuts = append(cuts, cutRow{LineID: rows[i].ID, Pos: int64(j + 1), Qty: int64(c.Qty), Length: int64(c.Length), Typed: c.Typed, Mark: c.Mark})
		}
	}
	if len(cuts) == 0 {
		return nil
	}
	if err := tx.db.CreateInBatches(&cuts, 200).Error; err != nil {
		return err
	}
	k := 0
	for i := range o.Lines {
		for j := range o.Lines[i].Cuts {
			o.Lines[i].Cuts[j].ID = cuts[k].ID
			k++
		}
	}
	return nil
}

// SaveOrder keeps a changed order when its version is still the one seen. what
// is the word for the log. The lines stay as they are; ReplaceLines changes them.
func (tx *Tx) SaveOrder(actor party.Actor, o order.Order, what string) (order.Order, error) {
	seen := o.Version
	o.Version, o.UpdatedAt = seen+1, tx.now
	row, err := newOrderRow(o)
	if err != nil {
		return o, err
	}
	if o.Token == "" { // the link itself isn't known any more; keep its hash
		if err := tx.db.Model(&orderRow{}).Where("id = ?", o.ID).Select("token_hash").Scan(&row.TokenHash).Error; err != nil {
			return o, err
		}
	}
	if err := tx.update(&row, "order", o.ID, seen); err != nil {
		return o, err
	}
	return o, tx.Log(actor, what, "order", o.ID, summary(o))
}

// RevokeLink makes the order's private link useless.
func (tx *Tx) RevokeLink(actor party.Actor, orderID int64) error {
	if err := tx.db.Model(&orderRow{}).Where("id = ?", orderID).Update("token_hash", "").Error; err != nil {
		return err
	}
	return tx.Log(actor, "revoked link", "order", orderID, nil)
}

// ReplaceLines writes the lines anew; only while nothing refers to the old ones.
func (tx *Tx) ReplaceLines(o order.Order) (order.Order, error) {
	old := tx.db.Model(&lineRow{}).Select("id").Where("order_id = ?", o.ID)
	if err := tx.db.Where("line_id IN (?)", old).Delete(&cutRow{}).Error; err != nil {
		return o, err
	}
	if err := tx.db.Where("order_id = ?", o.ID).Delete(&lineRow{}).Error; err != nil {
		return o, err
	}
	return o, tx.addLines(&o)
}

// SaveLineFigures keeps what pricing said of a line.
func (tx *Tx) SaveLineFigures(l order.Line) error {
	row, err := newLineRow(0, l.Pos, l)
	if err != nil {
		return err
	}
	return tx.db.Model(&row).Where("id = ?", l.ID).Select("minutes", "pounds", "unit", "per_foot", "amount", "currency", "girth", "strip").Updates(&row).Error
}

// Order gives one order with its lines.
func (tx *Tx) Order(id int64) (order.Order, error) {
	return tx.oneOrder(tx.db.Where("id = ?", id), "there is no such order")
}

// OrderByNumber gives the order with this number.
func (tx *Tx) OrderByNumber(number string) (order.Order, error) {
	return tx.oneOrder(tx.db.Where("number = ?", number), "there is no order "+number)
}

// OrderByToken gives the order a private link opens.
func (tx *Tx) OrderByToken(token string) (order.Order, error) {
	if token == "" {
		return order.Order{}, fault.NotFoundf("this link opens nothing any more")
	}
	return tx.oneOrder(tx.db.Where("token_hash = ?", HashToken(token)), "this link opens nothing any more")
}

func (tx *Tx) oneOrder(q *gorm.DB, missing string) (order.Order, error) {
	list, err := tx.orders(q.Limit(1), true)
	return only(list, err, "%s", words.Say(missing))
}

// OrderFilter narrows a list of orders; zero fields don't narrow.
type OrderFilter struct {
	States     []order.State
	CustomerID int64
	By         string // the name of who asked
	Text       string // anywhere in number, names, job or PO
	Before     int64  // ids below this one, for paging
	Limit      int    // 50 when 0
	Lines      bool   // with lines and cuts
	Oldest     bool   // oldest first
}

// Orders gives the orders that fit, newest first.
func (tx *Tx) Orders(f OrderFilter) ([]order.Order, error) {
	q := tx.db
	if len(f.States) > 0 {
		q = q.Where("state IN ?", f.States)
	}
	if f.CustomerID != 0 {
		q = q.Where("customer_id = ?", f.CustomerID)
	}
	if f.By != "" {
		q = q.Where("created_by = ?", f.By)
	}
	if f.Text != "" {
		q = q.Where(`search LIKE ? ESCAPE '\'`, contains(f.Text))
	}
	if f.Before != 0 {
		q = q.Where("id < ?", f.Before)
	}
	if f.Limit == 0 {
		f.Limit = 50
	}
	by := "id DESC"
	if f.Oldest {
		by = "id"
	}
	return tx.orders(q.Order(by).Limit(f.Limit), f.Lines)
}

// CountOrders counts orders by state.
func (tx *Tx) CountOrders() (map[order.State]int, error) {
	var rows []struct {
		State string
		N     int
	}
	err := tx.db.Model(&orderRow{}).Select("state, COUNT(*) AS n").Group("state").Find(&rows).Error
	counts := map[order.State]int{}
	for _, r := range rows {
		counts[order.State(r.State)] = r.N
	}
	return counts, err
}

func (tx *Tx) orders(q *gorm.DB, withLines bool) ([]order.Order, error) {
	var rows []orderRow
	if err := q.Find(&rows).Error; err != nil {
		return nil, err
	}
	list := make([]order.Order, len(rows))
	ids := make([]int64, len(rows))
	at := map[int64]int{}
	for i, r := range rows {
		var err error
		if list[i], err = r.order(); err != nil {
			return nil, err
		}
		ids[i], at[r.ID] = r.ID, i
	}
	if !withLines || len(rows) == 0 {
		return list, nil
	}
	lines, err := tx.linesOf(ids)
	if err != nil {
		return nil, err
	}
	for _, l := range lines {
		o := &list[at[l.orderID]]
		o.Lines = append(o.Lines, l.Line)
	}
	return list, nil
}

type ownedLine struct {
	order.Line
	orderID int64
}

func (tx *Tx) linesOf(orderIDs []int64) ([]ownedLine, error) {
	var rows []lineRow
	if err := tx.db.Where("order_id IN ?", orderIDs).Order("order_id, pos").Find(&rows).Error; err != nil {
		return nil, err
	}
	lines := make([]ownedLine, len(rows))
	at := map[int64]int{}
	for i, r := range rows {
		l, err := r.line()
		if err != nil {
			return nil, err
		}
		lines[i], at[r.ID] = ownedLine{l, r.OrderID}, i
	}
	ofThese := tx.db.Model(&lineRow{}).Select("id").Where("order_id IN ?", orderIDs)
	var cuts []cutRow
	if err := tx.db.Where("line_id IN (?)", ofThese).Order("line_id, pos").Find(&cuts).Error; err != nil {
		return nil, err
	}
	for _, c := range cuts {
		l := &lines[at[c.LineID]]
		l.Cuts = append(l.Cuts, c.cut())
	}
	return lines, nil
}

// OrderOfLine gives the order a line belongs to.
func (tx *Tx) OrderOfLine(lineID int64) (order.Order, error) {
	var row lineRow
	err := tx.db.Take(&row, lineID).Error
	if err := found(err, "there is no such line"); err != nil {
		return order.Order{}, err
	}
	return tx.Order(row.OrderID)
}

// NextNumber takes the next number of a series; a rolled-back transaction gives
// it back, so a series has no gaps.
func (tx *Tx) NextNumber(series string) (n int64, err error) {
	q := tx.db.Raw(`UPDATE series SET "next" = "next" + 1 WHERE name = ? RETURNING "next" - 1`, series).Scan(&n)
	if q.Error != nil || q.RowsAffected > 0 {
		return n, q.Error
	}
	return 1, tx.db.Create(&seriesRow{Name: series, Next: 2}).Error
}

type seriesRow struct {
	Name string `gorm:"primaryKey"`
	Next int64
}

func (seriesRow) TableName() string { return "series" }
