package store

import "time"

// Program is something other than a person that may ask the desk.
type Program struct {
	ID        int64
	Name      string
	TokenHash string
	Scopes    string // separated by spaces
	PersonID  int64  // who let it in
	Revoked   bool
	CreatedAt time.Time
	SeenAt    time.Time
}

type programRow struct {
	ID        int64 `gorm:"primaryKey"`
	Name      string
	TokenHash string
	Scopes    string
	PersonID  int64
	Revoked   bool
	CreatedAt time.Time
	SeenAt    time.Time
}

func (programRow) TableName() string { return "programs" }

func (r programRow) program() Program {
	p := Program(r)
	p.CreatedAt, p.SeenAt = r.CreatedAt.UTC(), r.SeenAt.UTC()
	return p
}

// AddProgram keeps a new program, dated now.
func (tx *Tx) AddProgram(p *Program) error {
	p.CreatedAt, p.SeenAt = tx.now, tx.now
	row := programRow(*p)
	err := tx.db.Create(&row).Error
	p.ID = row.ID
	return err
}

// Program gives one program.
func (tx *Tx) Program(id int64) (Program, error) {
	var row programRow
	err := tx.db.Take(&row, id).Error
	return row.program(), found(err, "there is no program %d", id)
}

// ProgramByToken gives the program with this token hash.
func (tx *Tx) ProgramByToken(hash string) (Program, error) {
	var row programRow
	err := tx.db.Where("token_hash = ?", hash).Take(&row).Error
	return row.program(), found(err, "there is no such program")
}

// Programs gives all programs, those that may still ask first.
func (tx *Tx) Programs() ([]Program, error) {
	var rows []programRow
	err := tx.db.Order("revoked, name, id").Find(&rows).Error
	return convert(rows, programRow.program), err
}

// RevokeProgram makes a program's token worth nothing.
func (tx *Tx) RevokeProgram(id int64) error {
	return tx.db.Model(&programRow{}).Where("id = ?", id).Update("revoked", true).Error
}

// TouchProgram notes that a program asked now.
func (tx *Tx) TouchProgram(id int64) error {
	return tx.db.Model(&programRow{}).Where("id = ?", id).Update("seen_at", tx.now).Error
}
