package store

import (
	"errors"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"
)

// PlanSearch is a search for the best plan of a change, under way or ended. It
// stands in the database so that any server of the shop can show it. It holds
// nothing that couldn't be worked out again, and leaves no line in the log.
type PlanSearch struct {
	Change  string // which change of the plan, as a key
	Problem string // hash of what is planned
	Began   time.Time
	Seen    time.Time // its server was at work on it
	Result  []byte    // empty while it goes on
}

// searchesKept is how long an old search stays.
const searchesKept = 24 * time.Hour

type planSearchRow struct {
	ChangeKey string `gorm:"primaryKey"`
	Problem   string
	BeganAt   time.Time
	SeenAt    time.Time
	Result    []byte
}

func (planSearchRow) TableName() string { return "plan_searches" }

// PlanSearch gives the newest search for a change.
func (tx *Tx) PlanSearch(change string) (p PlanSearch, found bool, err error) {
	var row planSearchRow
	err = tx.db.Where("change_key = ?", change).Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return p, false, nil
	}
	return PlanSearch{row.ChangeKey, row.Problem, row.BeganAt.UTC(), row.SeenAt.UTC(), row.Result}, err == nil, err
}

// SavePlanSearch keeps a search in the place of the one for the same change, seen
// now, and forgets old ones.
func (tx *Tx) SavePlanSearch(p PlanSearch) error {
	if p.Result == nil {
		p.Result = []byte{}
	}
	row := planSearchRow{p.Change, p.Problem, p.Began, tx.now, p.Result}
	if err := tx.db.Clauses(clause.OnConflict{UpdateAll: true}).Create(&row).Error; err != nil {
		return err
	}
	return tx.db.Where("seen_at < ?", moment(tx.now.Add(-searchesKept))).Delete(&planSearchRow{}).Error
}

// DropPlanSearch forgets a search that came to nothing.
func (tx *Tx) DropPlanSearch(change string) error {
	return tx.db.Where("change_key = ?", change).Delete(&planSearchRow{}).Error
}
