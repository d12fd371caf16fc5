package store

import (
	"time"

	"gorm.io/gorm/clause"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

type photoRow struct {
	ID        int64 `gorm:"primaryKey"`
	Key       string
	StopID    int64
	Exception int64
	Kind      string
	Body      []byte
	SHA256    string `gorm:"column:sha256"`
	MadeAt    time.Time
	MadeBy    string
}

func (photoRow) TableName() string { return "photos" }

func (r photoRow) photo() order.Photo {
	return order.Photo{ID: r.ID, Key: r.Key, StopID: r.StopID, Exception: int(r.Exception), Kind: r.Kind, Body: r.Body, SHA256: r.SHA256, At: r.MadeAt.UTC(), By: r.MadeBy}
}

// AddPhoto keeps a picture for good. fresh is false when this key was kept
// before: then nothing is written.
func (tx *Tx) AddPhoto(actor party.Actor, p order.Photo) (fresh bool, err error) {
	var there int64
	if err := tx.db.Model(&photoRow{}).Where("key = ?", p.Key).Count(&there).Error; err != nil || there > 0 {
		return false, err
	}
	row := photoRow{Key: p.Key, StopID: p.StopID, Exception: int64(p.Exception), Kind: p.Kind, Body: p.Body, SHA256: p.SHA256, MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return false, err
	}
	return true, tx.Log(actor, "photo", "stop", p.StopID, map[string]any{"photo": row.ID, "sha256": p.SHA256})
}

// Photo gives one picture with its bytes.
func (tx *Tx) Photo(id int64) (order.Photo, error) {
	var row photoRow
	err := tx.db.Take(&row, id).Error
	return row.photo(), found(err, "there is no such picture")
}

// PhotosOf gives the pictures of stops without their bytes, oldest first.
func (tx *Tx) PhotosOf(stopIDs ...int64) ([]order.Photo, error) {
	var rows []photoRow
	err := tx.db.Omit("body").Where("stop_id IN ?", stopIDs).Order("id").Find(&rows).Error
	return convert(rows, photoRow.photo), err
}

type distanceRow struct {
	ID          int64 `gorm:"primaryKey"`
	FromPlace   string
	ToPlace     string
	MilesTenths int64
}

func (distanceRow) TableName() string { return "distances" }

func (r distanceRow) distance() order.Distance {
	return order.Distance{From: r.FromPlace, To: r.ToPlace, MilesTenths: r.MilesTenths}
}

// SaveDistance keeps how far two places are apart, in place of what was known.
func (tx *Tx) SaveDistance(d order.Distance) error {
	row := distanceRow{FromPlace: min(d.From, d.To), ToPlace: max(d.From, d.To), MilesTenths: d.MilesTenths}
	return tx.db.Clauses(clause.OnConflict{
		Columns: []clause.Column{{Name: "from_place"}, {Name: "to_place"}}, DoUpdates: clause.AssignmentColumns([]string{"miles_tenths"}),
	}).Create(&row).Error
}

// Distances gives what is known between these places.
func (tx *Tx) Distances(places []string) ([]order.Distance, error) {
	var rows []distanceRow
	err := tx.db.Where("from_place IN ? AND to_place IN ?", places, places).Order("id").Find(&rows).Error
	return convert(rows, distanceRow.distance), err
}

type positionRow struct {
	Place     string `gorm:"primaryKey"`
	Latitude  string
	Longitude string
}

func (positionRow) TableName() string { return "positions" }

func (r positionRow) position() order.Position { return order.Position(r) }

// SavePosition keeps where a place lies.
func (tx *Tx) SavePosition(p order.Position) error {
	row := positionRow(p)
	return tx.db.Save(&row).Error
}

// Positions gives where these places lie, as far as it is known.
func (tx *Tx) Positions(places []string) ([]order.Position, error) {
	var rows []positionRow
	err := tx.db.Where("place IN ?", places).Order("place").Find(&rows).Error
	return convert(rows, positionRow.position), err
}

type calendarLinkRow struct {
	ID        int64 `gorm:"primaryKey"`
	TokenHash string
	Machine   string
	Purpose   string
	MadeAt    time.Time
	MadeBy    string
	Revoked   bool
}

func (calendarLinkRow) TableName() string { return "calendar_links" }

func (r calendarLinkRow) link() order.CalendarLink {
	return order.CalendarLink{ID: r.ID, Machine: r.Machine, For: r.Purpose, By: r.MadeBy, At: r.MadeAt.UTC(), Revoked: r.Revoked}
}

// AddCalendarLink keeps a link by the hash of its token.
func (tx *Tx) AddCalendarLink(actor party.Actor, l order.CalendarLink, token string) (order.CalendarLink, error) {
	row := calendarLinkRow{TokenHash: HashToken(token), Machine: l.Machine, Purpose: l.For, MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return l, err
	}
	return row.link(), tx.Log(actor, "made calendar link", "calendar", row.ID, map[string]string{"machine": l.Machine, "for": l.For})
}

// RevokeCalendarLink makes a link open nothing any more.
func (tx *Tx) RevokeCalendarLink(actor party.Actor, id int64) error {
	done := tx.db.Model(&calendarLinkRow{}).Where("id = ?", id).Update("revoked", true)
	if done.Error == nil && done.RowsAffected == 0 {
		return fault.NotFoundf("there is no such calendar link")
	}
	if done.Error != nil {
		return done.Error
	}
	return tx.Log(actor, "revoked calendar link", "calendar", id, nil)
}

// CalendarLinks gives every link, the newest first.
func (tx *Tx) CalendarLinks() ([]order.CalendarLink, error) {
	var rows []calendarLinkRow
	err := tx.db.Order("id DESC").Find(&rows).Error
	return convert(rows, calendarLinkRow.link), err
}

// CalendarLink gives the link of a token that holds.
func (tx *Tx) CalendarLink(token string) (order.CalendarLink, error) {
	var row calendarLinkRow
	err := tx.db.Where("token_hash = ? AND revoked = ?", HashToken(token), false).Take(&row).Error
	return row.link(), found(err, "there is no such calendar")
}

type noticeRow struct {
	LineID    int64 `gorm:"primaryKey"`
	Machine   string
	StartsAt  time.Time
	EndsAt    time.Time
	Sequence  int64
	Cancelled bool
	ChangedAt time.Time
}

func (noticeRow) TableName() string { return "run_notices" }

func (r noticeRow) notice() order.RunNotice {
	return order.RunNotice{LineID: r.LineID, Machine: r.Machine, Start: r.StartsAt.UTC(), End: r.EndsAt.UTC(), Sequence: int(r.Sequence), Cancelled: r.Cancelled, At: r.ChangedAt.UTC()}
}

// RunNotices gives what calendars are told of a machine's runs that end after a
// moment, by start.
func (tx *Tx) RunNotices(machine string, from time.Time) ([]order.RunNotice, error) {
	var rows []noticeRow
	err := tx.db.Where("machine = ? AND ends_at > ?", machine, moment(from)).Order("starts_at, line_id").Find(&rows).Error
	return convert(rows, noticeRow.notice), err
}

// notify brings what calendars are told up to the places in the plan: a line
// that moved gets its new times and a higher sequence, and one that has no place
// any more is cancelled. It runs in the transaction that changes the plan.
func (tx *Tx) notify() error {
	var places []placedRow
	if err := tx.db.Where("done_at IS NULL").Find(&places).Error; err != nil {
		return err
	}
	var told []noticeRow
	if err := tx.db.Find(&told, "cancelled = ? OR line_id IN (?)", false, tx.db.Model(&placedRow{}).Select("line_id")).Error; err != nil {
		return err
	}
	before := make(map[int64]noticeRow, len(told))
	for _, n := range told {
		before[n.LineID] = n
	}
	var changed []noticeRow
	for _, p := range places {
		old, known := before[p.LineID]
		delete(before, p.LineID)
		if known && !old.Cancelled && old.Machine == p.Machine && old.StartsAt.Equal(p.StartsAt) && old.EndsAt.Equal(p.EndsAt) {
			continue
		}
		n := noticeRow{LineID: p.LineID, Machine: p.Machine, StartsAt: p.StartsAt, EndsAt: p.EndsAt, ChangedAt: tx.now}
		if known {
			n.Sequence = old.Sequence + 1
		}
		changed = append(changed, n)
	}
	gone, err := tx.gone(before)
	if err != nil {
		return err
	}
	changed = append(changed, gone...)
	if len(changed) == 0 {
		return nil
	}
	return tx.db.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "line_id"}}, UpdateAll: true}).CreateInBatches(&changed, 200).Error
}

// gone gives the notices of lines that have no place any more, as cancelled.
// Lines that are done keep theirs: they happened.
func (tx *Tx) gone(told map[int64]noticeRow) (out []noticeRow, err error) {
	var done []int64
	if err := tx.db.Model(&placedRow{}).Where("done_at IS NOT NULL").Pluck("line_id", &done).Error; err != nil {
		return nil, err
	}
	for _, id := range done {
		delete(told, id)
	}
	for _, n := range told {
		if n.Cancelled {
			continue
		}
		n.Cancelled, n.Sequence, n.ChangedAt = true, n.Sequence+1, tx.now
		out = append(out, n)
	}
	return out, nil
}
