package demo

import (
	"context"

	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// piles are the flat sheets for trim that come in during the three weeks.
var piles = []struct {
	day    int
	colour string
	lot    string
	sheets int
	each   int64 // cents
}{
	{4, "CHAR", "L-2301", 24, 46_00},
	{11, "BRZ", "L-2317", 16, 46_00},
}

func (l *life) planSheets() {
	for _, p := range piles {
		l.plan(l.at(l.workday(p.day), 7, 40), func(ctx context.Context) error {
			_, err := l.ReceiveSheets(ctx, l.as(party.Counter), desk.SheetReceipt{
				Strip:  stock.Strip{Material: "AZ50", Gauge: "24 ga", Width: span("48 in"), Colour: p.colour},
				Length: span("10 ft"), Sheets: p.sheets, Lot: p.lot, Supplier: "Demo Coil Supply", Landed: money.Cents(int64(p.sheets)*p.each, money.USD),
			})
			return err
		})
	}
}
