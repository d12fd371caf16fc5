package books_test

import (
	"fmt"

	"ribdesk/internal/books"
	"ribdesk/internal/money"
)

// An order of 1,000.00 with a deposit of 500.00, invoiced on delivery and paid
// by check.
func Example() {
	deposit, e1, _ := books.Payment{Number: "P-00001", Customer: 7, Day: day("2026-02-20"), Method: books.ByCheck, Reference: "1001",
		Order: "O-1", Deposit: true, Amount: usd(50000)}.Receive()
	d := draft(line("1", "1000", "1"))
	d.Deposits = []books.DepositUse{{Deposit: deposit, Amount: deposit.Open}}
	issued, _ := d.Issue(books.Series{Prefix: "INV-", Next: 1}.Number())
	fmt.Println("due", issued.Invoice.Due.Format("Jan 2"), issued.Invoice.AmountDue.Format())

	check, e2, _ := books.Payment{Number: "P-00002", Customer: 7, Day: day("2026-03-20"), Method: books.ByCheck, Reference: "1002", Amount: usd(60000)}.Receive()
	steps, left, _ := books.Settle(check, []books.Item{issued.Item}, day("2026-03-20"))
	fmt.Println("open", steps[0].Item.Open.Format(), "unapplied", left.Open.Format())

	entries := append([]books.Entry{e1, e2, steps[0].Entry}, issued.Entries...)
	trial, _ := books.TrialBalance(entries, day("2026-03-31"))
	for _, r := range trial.Rows {
		fmt.Printf("%-35s %8s %8s\n", r.Account.Name(), r.Debit, r.Credit)
	}
	// Output:
	// due Apr 1 $570.00
	// open $0.00 unapplied $30.00
	// Undeposited funds                   1,100.00     0.00
	// Unapplied customer credits              0.00    30.00
	// Sales tax payable: Example State        0.00    70.00
	// Sales: panels                           0.00 1,000.00
}

// ExampleSeries shows how numbers are written.
func ExampleSeries() {
	s := books.Series{Prefix: "CM-", Next: 7}
	fmt.Println(s.Number(), s.After().Number())
	// Output: CM-00007 CM-00008
}

// ExampleDepositFor spreads a deposit of 100.00 over three part invoices.
func ExampleDepositFor() {
	open, left := usd(10000), usd(30000)
	for _, part := range []money.Amount{usd(10000), usd(5000), usd(15000)} {
		take, _ := books.DepositFor(open, part, left)
		fmt.Print(take, " ")
		open, left = open.Sub(take), left.Sub(part)
	}
	// Output: 33.33 16.67 50.00
}
