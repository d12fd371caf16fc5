package desk

import (
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// Records as the store gives them, under names of the desk, so that nobody
// above it needs to know the store.
type (
	// Event is one line of the log.
	Event = store.Event
	// OrderFilter says which orders are wanted.
	OrderFilter = store.OrderFilter
	// OrderHead is what a list of records says of an order.
	OrderHead = store.OrderHead
	// RateSheet is what things cost and earn from a day on.
	RateSheet = store.RateSheet
	// Shelved is an item of the catalogue with its id and version.
	Shelved[T stock.Item] = store.Shelved[T]
	// TakeOff is a roof take-off as it is kept.
	TakeOff = store.TakeOff
)
