package store

import (
	"errors"
	"strings"
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/party"
)

type personRow struct {
	ID           int64 `gorm:"primaryKey"`
	Name         string
	Email        string
	Role         string
	CustomerID   *int64
	PasswordHash string
	TOTPSecret   string `gorm:"column:totp_secret"`
	Disabled     bool
	Version      int64
	CreatedAt    time.Time
}

func (personRow) TableName() string { return "people" }

func (r personRow) person() party.Person {
	return party.Person{
		ID: r.ID, Name: r.Name, Email: r.Email, Role: party.Role(r.Role), CustomerID: value(r.CustomerID),
		PasswordHash: r.PasswordHash, TOTPSecret: r.TOTPSecret, Disabled: r.Disabled,
		Version: r.Version, CreatedAt: r.CreatedAt.UTC(),
	}
}

func rowOfPerson(p party.Person) *personRow {
	return &personRow{
		ID: p.ID, Name: p.Name, Email: strings.ToLower(p.Email), Role: string(p.Role), CustomerID: optional(p.CustomerID),
		PasswordHash: p.PasswordHash, TOTPSecret: p.TOTPSecret, Disabled: p.Disabled,
		Version: p.Version, CreatedAt: p.CreatedAt,
	}
}

// AddPerson keeps a new person and sets its ID, Version and CreatedAt.
func (tx *Tx) AddPerson(p *party.Person) error {
	p.Version, p.CreatedAt = 1, tx.now
	row := rowOfPerson(*p)
	if err := tx.db.Create(row).Error; err != nil {
		return err
	}
	*p = row.person()
	return nil
}

// ChangePerson keeps a changed person; p.Version is the one that was looked at.
func (tx *Tx) ChangePerson(p *party.Person) error {
	row := rowOfPerson(*p)
	row.Version++
	if err := tx.update(row, "person", p.ID, p.Version); err != nil {
		return err
	}
	p.Version = row.Version
	return nil
}

// Person gives one person.
func (tx *Tx) Person(id int64) (party.Person, error) {
	var row personRow
	err := tx.db.Take(&row, id).Error
	return row.person(), found(err, "there is no person %d", id)
}

// PersonByEmail gives the person who signs in with this address.
func (tx *Tx) PersonByEmail(email string) (party.Person, error) {
	var row personRow
	err := tx.db.Where("email = ?", strings.ToLower(strings.TrimSpace(email))).Take(&row).Error
	return row.person(), found(err, "nobody signs in with %s", email)
}

// People gives everybody who can or could sign in, by name.
func (tx *Tx) People() ([]party.Person, error) {
	var rows []personRow
	err := tx.db.Order("disabled, name, id").Find(&rows).Error
	return convert(rows, personRow.person), err
}

// CountPeople tells how many people there are, disabled ones too.
func (tx *Tx) CountPeople() (n int64, err error) {
	err = tx.db.Model(&personRow{}).Count(&n).Error
	return n, err
}

// CountOwners tells how many owners can sign in.
func (tx *Tx) CountOwners() (n int64, err error) {
	err = tx.db.Model(&personRow{}).Where("role = ? AND disabled = ?", string(party.Owner), false).Count(&n).Error
	return n, err
}

// Session is one browser a person is signed in with.
type Session struct {
	ID        int64
	TokenHash string
	PersonID  int64
	Address   string
	Agent     string
	CreatedAt time.Time
	SeenAt    time.Time
}

type sessionRow struct {
	ID        int64 `gorm:"primaryKey"`
	TokenHash string
	PersonID  int64
	Address   string
	Agent     string
	CreatedAt time.Time
	SeenAt    time.Time
}

func (sessionRow) TableName() string { return "sessions" }

func (r sessionRow) session() Session {
	s := Session(r)
	s.CreatedAt, s.SeenAt = r.CreatedAt.UTC(), r.SeenAt.UTC()
	return s
}

// AddSession keeps a new session, dated now.
func (tx *Tx) AddSession(s *Session) error {
	s.CreatedAt, s.SeenAt = tx.now, tx.now
	row := sessionRow(*s)
	err := tx.db.Create(&row).Error
	s.ID = row.ID
	return err
}

// SessionByToken gives the session with this token hash.
func (tx *Tx) SessionByToken(hash string) (Session, error) {
	var row sessionRow
	err := tx.db.Where("token_hash = ?", hash).Take(&row).Error
	return row.session(), found(err, "there is no such session")
}

// TouchSession notes that a session was used now.
func (tx *Tx) TouchSession(id int64) error {
	return tx.db.Model(&sessionRow{}).Where("id = ?", id).Update("seen_at", tx.now).Error
}

// Sessions gives a person's sessions, newest first.
func (tx *Tx) Sessions(personID int64) ([]Session, error) {
	var rows []sessionRow
	err := tx.db.Where("person_id = ?", personID).Order("id DESC").Find(&rows).Error
	return convert(rows, sessionRow.session), err
}

// EndSession ends one session by its token hash.
func (tx *Tx) EndSession(hash string) error {
	return tx.db.Where("token_hash = ?", hash).Delete(&sessionRow{}).Error
}

// EndSessions ends a person's sessions, except the one with the token hash keep.
func (tx *Tx) EndSessions(personID int64, keep string) error {
	return tx.db.Where("person_id = ? AND token_hash <> ?", personID, keep).Delete(&sessionRow{}).Error
}

// ForgetSessions deletes sessions that were not used since idle or that are
// older than made.
func (tx *Tx) ForgetSessions(idle, made time.Time) error {
	return tx.db.Where("seen_at < ? OR created_at < ?", idle, made).Delete(&sessionRow{}).Error
}

type throttleRow struct {
	Bucket    string `gorm:"primaryKey"`
	StartedAt time.Time
	Tries     int64
}

func (throttleRow) TableName() string { return "throttles" }

// Try counts a try in a bucket and gives how many there were in the window that
// holds now, this one included, and when the window ends.
func (tx *Tx) Try(bucket string, window time.Duration) (tries int64, ends time.Time, err error) {
	var row throttleRow
	err = tx.db.Where("bucket = ?", bucket).Take(&row).Error
	switch {
	case errors.Is(err, gorm.ErrRecordNotFound):
		row = throttleRow{Bucket: bucket, StartedAt: tx.now}
	case err != nil:
		return 0, ends, err
	case tx.now.Sub(row.StartedAt) >= window, tx.now.Before(row.StartedAt): // over, or the clock went back
		row.StartedAt, row.Tries = tx.now, 0
	}
	row.Tries++
	return row.Tries, row.StartedAt.Add(window).UTC(), tx.db.Save(&row).Error
}

// ForgetTries empties a bucket.
func (tx *Tx) ForgetTries(bucket string) error {
	return tx.db.Where("bucket = ?", bucket).Delete(&throttleRow{}).Error
}

// ForgetOldTries deletes buckets begun before a time.
func (tx *Tx) ForgetOldTries(before time.Time) error {
	return tx.db.Where("started_at < ?", before).Delete(&throttleRow{}).Error
}
