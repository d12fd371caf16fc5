package party

import (
	"time"
	"unicode/utf8"

	"ribdesk/internal/fault"
)

// AccountRequest is a firm that asked for an account.
type AccountRequest struct {
	ID         int64
	Firm       string
	Name       string // of the person who asks
	Email      string
	Phone      string
	Address    Address
	Note       string
	Language   string
	Standing   Standing
	Reason     string // of a no
	CustomerID int64  // the customer it became
	AskedAt    time.Time
	DecidedAt  time.Time
	DecidedBy  string
}

// Standing is what became of a request.
type Standing string

// The standings.
const (
	Waiting  Standing = "waiting"
	Approved Standing = "approved"
	Declined Standing = "declined"
)

// Check refuses a request that nobody could answer.
func (r AccountRequest) Check() error {
	var l fault.List
	checkText(&l, "firm", r.Firm, 1, 120)
	checkText(&l, "name", r.Name, 1, 80)
	checkEmail(&l, "email", r.Email)
	checkText(&l, "phone", r.Phone, 0, 40)
	checkText(&l, "street", r.Address.Street, 0, 120)
	checkText(&l, "city", r.Address.City, 0, 80)
	checkText(&l, "state", r.Address.State, 0, 20)
	checkText(&l, "postal", r.Address.Postal, 0, 20)
	if utf8.RuneCountInString(r.Note) > 1000 {
		l.Addf("note", "use at most %d characters", 1000)
	}
	return l.Err()
}
