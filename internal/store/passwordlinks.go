package store

import "time"

type passwordLinkRow struct {
	ID        int64 `gorm:"primaryKey"`
	TokenHash string
	PersonID  int64
	CreatedAt time.Time
}

func (passwordLinkRow) TableName() string { return "password_links" }

// AddPasswordLink keeps the hash of a link by which a person chooses a password.
// Links they had before open nothing any more.
func (tx *Tx) AddPasswordLink(personID int64, token string) error {
	if err := tx.DropPasswordLinks(personID); err != nil {
		return err
	}
	return tx.db.Create(&passwordLinkRow{TokenHash: HashToken(token), PersonID: personID, CreatedAt: tx.now}).Error
}

// PasswordLink gives whose link it is, and since when.
func (tx *Tx) PasswordLink(token string) (personID int64, since time.Time, err error) {
	var row passwordLinkRow
	err = tx.db.Where("token_hash = ?", HashToken(token)).Take(&row).Error
	return row.PersonID, row.CreatedAt.UTC(), found(err, "this link opens nothing any more; ask the shop for a new one")
}

// DropPasswordLinks ends the links of a person.
func (tx *Tx) DropPasswordLinks(personID int64) error {
	return tx.db.Where("person_id = ?", personID).Delete(&passwordLinkRow{}).Error
}
