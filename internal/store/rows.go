package store

import (
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// rowTypes lists every row struct; a test compares them with the schema.
var rowTypes = []any{
	&customerRow{}, &siteRow{}, &certificateRow{}, &personRow{}, &sessionRow{},
	&throttleRow{}, &readinessRow{}, &eventRow{}, &keyRow{},
	&totpStepRow{}, &recoveryRow{}, &halfSessionRow{}, &programRow{}, &hookRow{}, &hookDeliveryRow{}, &mailRow{}, &quietAddressRow{},
	&catalogueRow{}, &settingRow{}, &rateRow{}, &coilRow{}, &movementRow{}, &reservationRow{}, &blockRow{},
	&pileRow{}, &pileMovementRow{}, &sheetPromiseRow{}, &sheetBlankRow{},
	&orderRow{}, &lineRow{}, &cutRow{}, &placedRow{}, &cutRecordRow{}, &bundleRow{}, &loadRow{}, &stopRow{}, &paperRow{}, &seriesRow{},
	&invoiceRow{}, &memoRow{}, &paymentRow{}, &itemRow{}, &creditRow{}, &applicationRow{}, &entryRow{}, &postingRow{}, &closeRow{}, &financeRow{},
	&planHistoryRow{}, &planSearchRow{}, &floorNoteRow{},
	&photoNoteRow{}, &cutListRow{}, &accountRequestRow{}, &messageRow{}, &inviteRow{}, &takeOffRow{},
	&photoRow{}, &distanceRow{}, &positionRow{}, &calendarLinkRow{}, &noticeRow{},
	&numberGapRow{}, &setupCodeRow{}, &passwordLinkRow{},
}

// convert turns rows into domain values.
func convert[R, V any](rows []R, value func(R) V) []V {
	values := make([]V, len(rows))
	for i, r := range rows {
		values[i] = value(r)
	}
	return values
}

// only gives the one record that was asked for, or says in the words of a format
// that there is none.
func only[V any](list []V, err error, missing string, args ...any) (none V, _ error) {
	if err != nil {
		return none, err
	}
	if len(list) == 0 {
		return none, fault.NotFoundf(missing, args...)
	}
	return list[0], nil
}

// update writes all columns of a row whose id is id and whose version is still
// the one the person saw; the caller has set the row's version one higher.
// kind is the record's name in the log, used to say who was faster.
func (tx *Tx) update(row any, kind string, id, seen int64) error {
	done := tx.db.Model(row).Where("id = ? AND version = ?", id, seen).Select("*").Omit("id", "created_at").Updates(row)
	if done.Error != nil || done.RowsAffected == 1 {
		return done.Error
	}
	var there int64
	if err := tx.db.Model(row).Where("id = ?", id).Count(&there).Error; err != nil {
		return err
	}
	if there == 0 {
		return fault.NotFoundf("there is no %s %d", kind, id)
	}
	return tx.changedMeanwhile(kind, id)
}

// changedMeanwhile says who changed a record since the person looked at it.
func (tx *Tx) changedMeanwhile(kind string, id int64) error {
	events, err := tx.Events(kind, id)
	if err != nil {
		return err
	}
	if len(events) == 0 {
		return fault.Conflictf("this %s was changed meanwhile; look at it again before you change it", kind)
	}
	last := events[len(events)-1]
	return fault.Conflictf("this %s was changed meanwhile by %s (%s, %s); look at it again before you change it",
		kind, last.PersonName, last.Action, last.At.Format("2006-01-02 15:04 UTC"))
}

// contains gives a pattern for LIKE ... ESCAPE '\' that finds s anywhere, in
// text that is kept in lower case.
func contains(s string) string {
	escaped := strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`).Replace(strings.ToLower(strings.TrimSpace(s)))
	return "%" + escaped + "%"
}

// Days are kept as text: a due date has no hour and no zone.
const dayForm = "2006-01-02"

func dayText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(dayForm)
}

func readDay(s string) time.Time {
	t, _ := time.Parse(dayForm, s) // "" is no day
	return t
}

// optional keeps an id that may be missing as NULL, so that it can be a foreign key.
func optional(id int64) *int64 {
	if id == 0 {
		return nil
	}
	return &id
}

func value(id *int64) int64 {
	if id == nil {
		return 0
	}
	return *id
}

// readRate reads a rate that this package wrote.
func readRate(s string) money.Rate {
	var r money.Rate
	_ = r.UnmarshalText([]byte(s)) // "" is 0
	return r
}
