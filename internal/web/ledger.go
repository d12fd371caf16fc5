package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
)

// journalPage is the journal, entry by entry, the newest first.
type journalPage struct {
	Base
	Entries            []books.Posted
	From, To           Field
	Account            Field
	Document           string // only entries of this document
	CSV                string
	Debit, Credit, Sum money.Amount // on the chosen account
}

func (journalPage) file() string { return "journal" }

// newestEntries are shown while nothing narrower is asked for.
const newestEntries = 60

func showJournal(v *visit) error {
	p, f, err := v.journalAsked()
	if err != nil {
		return v.again(p, err)
	}
	if f == (desk.JournalFilter{}) {
		f.Newest = newestEntries
	}
	if p.Entries, err = v.desk.Journal(v.ctx(), v.actor, f); err != nil {
		return err
	}
	slices.Reverse(p.Entries)
	p.addUp(f.Account)
	p.CSV = "/books/journal.csv?" + url.Values{"from": {dayQuery(f.From)}, "to": {dayQuery(f.To)}, "account": {string(f.Account)}, "document": {f.Document}}.Encode()
	return v.show(p)
}

// addUp sums what the entries do to the chosen account.
func (p *journalPage) addUp(a books.Account) {
	for _, e := range p.Entries {
		for _, posting := range e.Entry.Postings() {
			if posting.Account == a {
				p.Debit, p.Credit, p.Sum = p.Debit.Add(posting.Debit()), p.Credit.Add(posting.Credit()), p.Sum.Add(posting.Amount)
			}
		}
	}
}

func dayQuery(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

// journalAsked reads from the address which entries are wanted.
func (v *visit) journalAsked() (*journalPage, desk.JournalFilter, error) {
	p := &journalPage{Base: v.booksBase("Journal", "Journal"), Document: v.query("document"),
		From:    Field{Name: "from", Label: "From", Short: true, Optional: true, Value: v.query("from")},
		To:      Field{Name: "to", Label: "To", Short: true, Optional: true, Value: v.query("to")},
		Account: Field{Name: "account", Label: "Account", Optional: true, Value: v.query("account"), Options: []Option{{"", "All accounts"}}},
	}
	used, err := v.desk.AccountsUsed(v.ctx(), v.actor)
	if err != nil {
		return p, desk.JournalFilter{}, err
	}
	for _, a := range used {
		p.Account.Options = append(p.Account.Options, Option{string(a), string(a) + " " + a.Name()})
	}
	f := desk.JournalFilter{From: v.queryDay(&p.From), To: v.queryDay(&p.To), Account: books.Account(p.Account.Value), Document: p.Document}
	v.read = append(v.read, &p.Account)
	if !p.Account.offers(p.Account.Value) {
		v.wrong(&p.Account, "choose one of the list")
	}
	if !f.From.IsZero() && !f.To.IsZero() && f.To.Before(f.From) {
		v.wrong(&p.To, "this lies before the day it begins")
	}
	return p, f, v.wrongs()
}

// queryDay reads a day from the address; "" is none.
func (v *visit) queryDay(f *Field) time.Time {
	v.read = append(v.read, f)
	if f.Value == "" {
		return time.Time{}
	}
	d, err := readDay(f.Value)
	if err != nil {
		v.note(f, err)
	}
	return d
}

func sendJournalCSV(v *visit) error {
	_, f, err := v.journalAsked()
	if err != nil {
		return err
	}
	body, err := v.desk.JournalCSV(v.ctx(), v.actor, f)
	if err != nil {
		return err
	}
	return v.sendFile("text/csv; charset=utf-8", "journal.csv", false, body)
}

// trialPage is the trial balance, and where a period is closed.
type trialPage struct {
	Base
	Trial   books.Trial
	Through Field
	Close   Field
	Closed  time.Time
}

func (trialPage) file() string { return "trial" }

func (v *visit) loadTrial() (*trialPage, error) {
	p := &trialPage{Base: v.booksBase("Trial balance", "Trial balance"),
		Through: Field{Name: "as_of", Label: "Through", Short: true, Optional: true, Value: v.query("as_of"), Help: "Empty is today."},
		Close:   Field{Name: "through", Label: "Close through", Short: true, Help: "The last day of the period. Nothing can be posted into it afterwards.", Prefix: "close."},
	}
	through := v.queryDay(&p.Through)
	if err := v.wrongs(); err != nil {
		return p, err
	}
	if through.IsZero() {
		through = v.desk.Now().In(v.zoneOf())
	}
	r, err := v.desk.Receivables(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p.Closed = r.Closed
	if today := books.Day(v.desk.Now().In(v.zoneOf())); books.Day(through).Before(today) && books.Day(through).After(r.Closed) {
		p.Close.Value = usDay(through) // what is looked at is what may be closed
	}
	p.Block = Block{Thing: "Trial balance", State: closedWord(r.Closed), Date: through.Format(time.DateOnly)}
	p.Trial, err = v.desk.TrialBalance(v.ctx(), v.actor, through)
	return p, err
}

func (v *visit) zoneOf() *time.Location {
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return time.UTC
	}
	return seller.Location()
}

func showTrial(v *visit) error {
	p, err := v.loadTrial()
	if p != nil && err != nil {
		return v.again(p, err)
	}
	if err != nil {
		return err
	}
	return v.show(p)
}

func doCloseBooks(v *visit) error {
	p, err := v.loadTrial()
	if err != nil {
		return err
	}
	through := v.day(&p.Close)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.CloseBooks(v.ctx(), v.actor, through); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/books/trial", "The books are closed through "+through.Format("January 2, 2006")+".")
}

// habitsPage holds the shop's habits about money.
type habitsPage struct {
	Base
	Version              int64
	Late, RemitTo, Extra Field
	ReturnFee            Field
}

func (habitsPage) file() string { return "habits" }

func (v *visit) loadHabits() (*habitsPage, error) {
	rules, version, err := v.desk.BooksRules(v.ctx())
	if err != nil {
		return nil, err
	}
	return &habitsPage{Base: v.booksBase("Habits about money", "Habits"), Version: version,
		Late:      Field{Name: "late_days", Label: "Nothing more on account while anything is later than", Unit: "days", Keys: "numeric", Short: true, Value: strconv.Itoa(rules.LateDays)},
		RemitTo:   Field{Name: "remit_to", Label: "Where to pay, as printed on invoices", Rows: 4, Optional: true, Value: strings.Join(rules.RemitTo, "\n"), Help: "Empty prints the shop's name and address."},
		ReturnFee: Field{Name: "return_fee", Label: "Fee for a payment that the bank returns", Unit: "$", Keys: "decimal", Short: true, Optional: true, Value: plainOrNone(rules.ReturnFee), Help: "Stands in the form when a check bounces; each case decides anew. Only where it was agreed or posted; local law limits it."},
		Extra:     Field{Name: "late_fee", Label: "Late fee, as printed", Optional: true, Value: rules.LateFee, Help: "Only where it was agreed; local law limits it."},
	}, nil
}

// plainOrNone writes an amount for a field, nothing for 0.
func plainOrNone(a money.Amount) string {
	if a.IsZero() {
		return ""
	}
	return a.Plain()
}

func showHabits(v *visit) error {
	p, err := v.loadHabits()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doSaveHabits(v *visit) error {
	p, err := v.loadHabits()
	if err != nil {
		return err
	}
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	r := desk.BooksRules{LateDays: v.whole(&p.Late), RemitTo: strings.Split(v.text(&p.RemitTo), "\n"), LateFee: v.text(&p.Extra), ReturnFee: v.amount(&p.ReturnFee, seller.Currency)}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.SaveBooksRules(v.ctx(), v.actor, r, v.number("version")); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/books/habits", "Kept.")
}
