package books

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/money"
)

// JournalHeader is the header row of the journal export, in this order for ever.
var JournalHeader = []string{"date", "entry", "account", "account_name", "debit", "credit", "currency", "document", "customer", "memo"}

// WriteJournal writes the journal as CSV for any accountant: RFC 4180 (CRLF,
// header row, quotes doubled), UTF-8 without a byte order mark, one row a
// posting, dates as 2006-01-02, amounts as 1234.50 with the other side empty.
// Text cells are safe to open in a spreadsheet, see SafeCell.
func WriteJournal(w io.Writer, journal []Posted) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(JournalHeader); err != nil {
		return err
	}
	for _, p := range journal {
		for _, row := range p.rows() {
			if err := out.Write(row); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

func (p Posted) rows() [][]string {
	customer := ""
	if id := p.Entry.Customer(); id != 0 {
		customer = strconv.FormatInt(id, 10)
	}
	var rows [][]string
	for _, line := range p.Entry.postings {
		rows = append(rows, []string{
			p.Entry.Day().Format(time.DateOnly), strconv.FormatInt(p.No, 10), SafeCell(string(line.Account)), SafeCell(line.Account.Name()),
			side(line.Debit()), side(line.Credit()), string(line.Amount.Currency()), SafeCell(p.Entry.Document()), customer, SafeCell(p.Entry.Memo()),
		})
	}
	return rows
}

func side(a money.Amount) string {
	if a.IsZero() {
		return ""
	}
	return a.Plain()
}

// SafeCell puts an apostrophe before a text that a spreadsheet would take for a
// formula: one that starts with = + - @, a tab, a carriage return or a NUL
// (OWASP ASVS 5.0.0, 1.2.10). Don't use it on numbers.
func SafeCell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r\x00", rune(s[0])) {
		return "'" + s
	}
	return s
}
