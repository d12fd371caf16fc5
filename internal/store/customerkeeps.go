package store

import (
	"encoding/json"
	"fmt"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

type photoNoteRow struct {
	ID      int64 `gorm:"primaryKey"`
	OrderID int64
	Kind    string
	Body    []byte
	SHA256  string `gorm:"column:sha256"`
	Caption string
	Ours    bool
	MadeAt  time.Time
	MadeBy  string
}

func (photoNoteRow) TableName() string { return "photo_notes" }

func (r photoNoteRow) note() order.PhotoNote {
	return order.PhotoNote{ID: r.ID, OrderID: r.OrderID, Kind: r.Kind, Body: r.Body, SHA256: r.SHA256, Caption: r.Caption, Ours: r.Ours, At: r.MadeAt.UTC(), By: r.MadeBy}
}

// AddPhotoNote keeps a picture with an order for good.
func (tx *Tx) AddPhotoNote(p order.PhotoNote) (order.PhotoNote, error) {
	row := photoNoteRow{OrderID: p.OrderID, Kind: p.Kind, Body: p.Body, SHA256: p.SHA256, Caption: p.Caption, Ours: p.Ours, MadeAt: tx.now, MadeBy: p.By}
	err := tx.db.Create(&row).Error
	return row.note(), err
}

// PhotoNotes gives the pictures of an order without their bytes, oldest first.
func (tx *Tx) PhotoNotes(orderID int64) ([]order.PhotoNote, error) {
	var rows []photoNoteRow
	err := tx.db.Omit("body").Where("order_id = ?", orderID).Order("id").Find(&rows).Error
	return convert(rows, photoNoteRow.note), err
}

// PhotoNote gives one picture of an order with its bytes.
func (tx *Tx) PhotoNote(orderID, id int64) (order.PhotoNote, error) {
	var row photoNoteRow
	err := tx.db.Where("id = ? AND order_id = ?", id, orderID).Take(&row).Error
	return row.note(), found(err, "there is no such picture")
}

type cutListRow struct {
	ID         int64 `gorm:"primaryKey"`
	CustomerID int64
	Name       string
	Lines      string
	Pieces     int64
	MadeAt     time.Time
	MadeBy     string
}

func (cutListRow) TableName() string { return "cut_lists" }

func (r cutListRow) list() (order.SavedList, error) {
	s := order.SavedList{ID: r.ID, CustomerID: r.CustomerID, Name: r.Name, Pieces: int(r.Pieces), At: r.MadeAt.UTC(), By: r.MadeBy}
	if err := json.Unmarshal([]byte(r.Lines), &s.Lines); err != nil {
		return s, fmt.Errorf("cut list %d: %w", r.ID, err)
	}
	return s, nil
}

// AddCutList keeps a list under a name that its customer has no other of.
func (tx *Tx) AddCutList(s order.SavedList) (order.SavedList, error) {
	var there int64
	if err := tx.db.Model(&cutListRow{}).Where("customer_id = ? AND name = ?", s.CustomerID, s.Name).Count(&there).Error; err != nil {
		return s, err
	}
	if there > 0 {
		return s, fault.Invalidf("list_name", "there is a list called “%s” already; take another name", s.Name)
	}
	text, err := json.Marshal(s.Lines)
	if err != nil {
		return s, err
	}
	row := cutListRow{CustomerID: s.CustomerID, Name: s.Name, Lines: string(text), Pieces: int64(s.Pieces), MadeAt: tx.now, MadeBy: s.By}
	if err := tx.db.Create(&row).Error; err != nil {
		return s, err
	}
	return row.list()
}

// CutLists gives a customer's lists by name.
func (tx *Tx) CutLists(customerID int64) ([]order.SavedList, error) {
	var rows []cutListRow
	if err := tx.db.Where("customer_id = ?", customerID).Order("name").Find(&rows).Error; err != nil {
		return nil, err
	}
	lists := make([]order.SavedList, len(rows))
	for i, r := range rows {
		var err error
		if lists[i], err = r.list(); err != nil {
			return nil, err
		}
	}
	return lists, nil
}

// CutList gives one list.
func (tx *Tx) CutList(id int64) (order.SavedList, error) {
	var row cutListRow
	if err := tx.db.Take(&row, id).Error; err != nil {
		return order.SavedList{}, found(err, "there is no such list")
	}
	return row.list()
}

// DropCutList forgets a list.
func (tx *Tx) DropCutList(id int64) error { return tx.db.Delete(&cutListRow{}, id).Error }

type accountRequestRow struct {
	ID         int64 `gorm:"primaryKey"`
	Firm       string
	Name       string
	Email      string
	Phone      string
	Street     string
	City       string
	State      string
	Postal     string
	Note       string
	Language   string
	Standing   string
	Reason     string
	CustomerID int64
	AskedAt    time.Time
	DecidedAt  time.Time
	DecidedBy  string
}

func (accountRequestRow) TableName() string { return "account_requests" }

func (r accountRequestRow) request() party.AccountRequest {
	return party.AccountRequest{
		ID: r.ID, Firm: r.Firm, Name: r.Name, Email: r.Email, Phone: r.Phone,
		Address: party.Address{Street: r.Street, City: r.City, State: r.State, Postal: r.Postal, Country: "US"},
		Note:    r.Note, Language: r.Language, Standing: party.Standing(r.Standing), Reason: r.Reason, CustomerID: r.CustomerID,
		AskedAt: r.AskedAt.UTC(), DecidedAt: r.DecidedAt.UTC(), DecidedBy: r.DecidedBy,
	}
}

// AddAccountRequest keeps a request that waits.
func (tx *Tx) AddAccountRequest(r party.AccountRequest) (party.AccountRequest, error) {
	row := accountRequestRow{
		Firm: r.Firm, Name: r.Name, Email: r.Email, Phone: r.Phone, Street: r.Address.Street, City: r.Address.City, State: r.Address.State, Postal: r.Address.Postal,
		Note: r.Note, Language: r.Language, Standing: string(party.Waiting), AskedAt: tx.now, DecidedAt: tx.now,
	}
	err := tx.db.Create(&row).Error
	return row.request(), err
}

// AccountRequests gives requests of a standing: those that wait oldest first,
// answered ones newest first.
func (tx *Tx) AccountRequests(of party.Standing, most int) ([]party.AccountRequest, error) {
	var rows []accountRequestRow
	order := "id"
	if of != party.Waiting {
		order = "decided_at DESC, id DESC"
	}
	err := tx.db.Where("standing = ?", string(of)).Order(order).Limit(most).Find(&rows).Error
	return convert(rows, accountRequestRow.request), err
}

// CountAccountRequests counts those that wait.
func (tx *Tx) CountAccountRequests() (n int64, err error) {
	err = tx.db.Model(&accountRequestRow{}).Where("standing = ?", string(party.Waiting)).Count(&n).Error
	return n, err
}

// AccountRequest gives one request.
func (tx *Tx) AccountRequest(id int64) (party.AccountRequest, error) {
	var row accountRequestRow
	err := tx.db.Take(&row, id).Error
	return row.request(), found(err, "there is no such request")
}

// DecideAccountRequest keeps what became of a request, once.
func (tx *Tx) DecideAccountRequest(r party.AccountRequest) error {
	done := tx.db.Model(&accountRequestRow{}).Where("id = ? AND standing = ?", r.ID, string(party.Waiting)).
		Updates(map[string]any{"standing": string(r.Standing), "reason": r.Reason, "customer_id": r.CustomerID, "decided_at": tx.now, "decided_by": r.DecidedBy})
	if done.Error == nil && done.RowsAffected != 1 {
		return fault.Conflictf("this request was answered meanwhile")
	}
	return done.Error
}
