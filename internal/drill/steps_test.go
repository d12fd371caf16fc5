package drill_test

import (
	"context"
	"database/sql"
	"testing"

	_ "modernc.org/sqlite" // registers "sqlite"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
)

// steps are the steps of an order whose statements are made to fail.
func steps() []step {
	return []step{
		{"order", nothing, func(t *testing.T, d *desk.Desk, _ int64) error {
			_, err := d.TakeOrder(t.Context(), clerk, shelfOrder())
			return err
		}},
		{"quote", taken, func(t *testing.T, d *desk.Desk, id int64) error {
			_, err := d.QuoteOrder(t.Context(), clerk, id, 0, nil)
			return err
		}},
		{"accept", quoted, func(t *testing.T, d *desk.Desk, id int64) error {
			_, err := d.AcceptOrder(t.Context(), clerk, id, 0, yes)
			return err
		}},
		{"made", running, func(t *testing.T, d *desk.Desk, _ int64) error {
			row := firstRow(t.Context(), d)
			_, err := d.RecordMade(t.Context(), boss, desk.Made{Key: "made", LineID: row.Line.ID, CutID: row.Cuts[0].ID, CoilID: row.Promises[0].CoilID, Pieces: 3})
			return err
		}},
		{"hand over", picked, func(t *testing.T, d *desk.Desk, id int64) error {
			_, err := d.PickUp(t.Context(), clerk, id, desk.HandOver{Key: "hand", Receiver: "Wren"})
			return err
		}},
		{"invoice", delivered, func(t *testing.T, d *desk.Desk, id int64) error {
			_, err := d.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: id})
			return err
		}},
		{"payment", billed, func(t *testing.T, d *desk.Desk, id int64) error {
			f, err := d.OrderFile(t.Context(), boss, id)
			if err != nil {
				return err
			}
			_, err = d.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: firm, Amount: f.Order.Charged().Total, Method: books.ByCheck, Reference: "77"})
			return err
		}},
	}
}

func nothing(*testing.T, *desk.Desk) int64 { return 0 }

func taken(t *testing.T, d *desk.Desk) int64 {
	t.Helper()
	o, err := d.TakeOrder(t.Context(), clerk, shelfOrder())
	if err != nil {
		t.Fatal(err)
	}
	return o.ID
}

func quoted(t *testing.T, d *desk.Desk) int64 { return offered(t, d, shelfOrder()).ID }

func billed(t *testing.T, d *desk.Desk) int64 {
	t.Helper()
	id := delivered(t, d)
	if _, err := d.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: id}); err != nil {
		t.Fatal(err)
	}
	return id
}

// delivered takes an order to where it can be invoiced.
func delivered(t *testing.T, d *desk.Desk) int64 {
	t.Helper()
	id := picked(t, d)
	if _, err := d.PickUp(t.Context(), clerk, id, desk.HandOver{Key: key(), Receiver: "Wren"}); err != nil {
		t.Fatal(err)
	}
	return id
}

// picked takes an order to where it can be handed over.
func picked(t *testing.T, d *desk.Desk) int64 {
	t.Helper()
	id := bundled(t, d, shelfOrder())
	if err := checkOff(t.Context(), d, id); err != nil {
		t.Fatal(err)
	}
	return id
}

// bundled takes an order from the shelf to where it can be loaded or checked.
func bundled(t *testing.T, d *desk.Desk, ask order.Order) int64 {
	t.Helper()
	o := offered(t, d, ask)
	if _, err := d.AcceptOrder(t.Context(), clerk, o.ID, o.Version, yes); err != nil {
		t.Fatal(err)
	}
	if _, err := d.PickFromShelf(t.Context(), clerk, o.ID); err != nil {
		t.Fatal(err)
	}
	return o.ID
}

// offered takes an order to where it can be accepted.
func offered(t *testing.T, d *desk.Desk, ask order.Order) order.Order {
	t.Helper()
	o, err := d.TakeOrder(t.Context(), clerk, ask)
	if err != nil {
		t.Fatal(err)
	}
	q, err := d.QuoteOrder(t.Context(), clerk, o.ID, o.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	return q.Order
}

// running takes an order of panels to where the machine makes them.
func running(t *testing.T, d *desk.Desk) int64 {
	t.Helper()
	o := shelfOrder()
	o.Lines = []order.Line{{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 20, Length: 12 * measure.Foot}}}}
	o = offered(t, d, o)
	if _, err := d.AcceptOrder(t.Context(), clerk, o.ID, 0, yes); err != nil {
		t.Fatal(err)
	}
	p, err := d.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.AdoptPlan(t.Context(), boss, p.Stamp); err != nil {
		t.Fatal(err)
	}
	return o.ID
}

func firstRow(ctx context.Context, d *desk.Desk) (row desk.SheetRow) {
	sheet, err := d.Sheet(ctx, boss, "FORMER")
	if err != nil || len(sheet.Runs) == 0 {
		return desk.SheetRow{Cuts: make([]desk.SheetCut, 1), Promises: make([]order.Reservation, 1)}
	}
	return sheet.Runs[0].Rows[0]
}

func openSQL(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=busy_timeout(5000)&_pragma=query_only(1)")
	if err != nil {
		t.Fatal(err)
	}
	return db
}

// dump gives every row of a table.
func dump(t *testing.T, db *sql.DB, table string) (all []any) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), "SELECT * FROM "+table)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		row, at := make([]any, len(columns)), make([]any, len(columns))
		for i := range row {
			at[i] = &row[i]
		}
		if err := rows.Scan(at...); err != nil {
			t.Fatal(err)
		}
		all = append(all, row)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return all
}
