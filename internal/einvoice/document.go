// Package einvoice writes an invoice or credit memo as a UBL 2.1 file that
// follows EN 16931, from the same record that the paper is printed from, reads
// such a file back, and checks either against the standard's rules to the cent.
//
// The file is for exchange between programs; the paper is the document. US sales
// tax stands in the place of VAT: each line carries the sum of the rates that
// were charged on it as category S, or category E with the reason where none
// was. The split by jurisdiction can't be told in such a file except in words;
// it stays in the invoice record and the journal. Where the shop rounds tax per
// jurisdiction or per item, the file's tax (one rounding per rate, as BR-CO-17
// asks) may differ from the invoice by cents; the difference is the file's
// rounding amount (BT-114), so the sum payable is always the invoice's.
//
// Sources: OASIS UBL 2.1 (element names and order), the rule texts of the CEN/TC
// 434 validation artefacts 1.3.16 for EN 16931, and for line arithmetic Peppol
// BIS Billing 3.0. It knows no database, page or network.
package einvoice

import (
	"time"

	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// Type is a document type of UNTDID 1001.
type Type string

// The types that the desk issues.
const (
	Invoice    Type = "380"
	CreditNote Type = "381" // its amounts are positive and mean money back
)

// Specification is the identifier of plain EN 16931 (BT-24).
const Specification = "urn:cen.eu:en16931:2017"

// Number is a decimal as a file carries it. The zero Number is absent. Amounts
// are Numbers and not money.Amount because a file may hold what money can't,
// such as three decimals, and the rules have to see it.
type Number struct {
	Value money.Rate
	Given bool
}

// Num gives a Number that is there.
func Num(r money.Rate) Number { return Number{r, true} }

// Document is an invoice or credit note in the terms of EN 16931; the comments
// give the standard's numbers.
type Document struct {
	Specification string    // BT-24
	Type          Type      // BT-3
	Number        string    // BT-1
	Issued        time.Time // BT-2
	Due           time.Time // BT-9; invoices only
	Currency      string    // BT-5
	Notes         []string  // BT-22
	Project       string    // BT-11; invoices only
	PO            string    // BT-13
	Order         string    // BT-14
	Ticket        string    // BT-16
	Preceding     []Reference
	Seller        Party
	Buyer         Party
	Delivery      Delivery
	Terms         string // BT-20
	Adjustments   []Adjustment
	Groups        []Group // BG-23
	Totals        Totals
	Lines         []Line
}

// Reference names an earlier invoice (BG-3).
type Reference struct {
	Number string    // BT-25
	Issued time.Time // BT-26
}

// Party is the seller or the buyer.
type Party struct {
	Name    string // BT-27, BT-44: the legal name
	Trade   string // BT-28, BT-45: the name on the sign, when it differs
	LegalID string // BT-30, BT-47: registration with the state of incorporation
	TaxID   string // BT-32: sales tax permit; the seller needs one
	Address party.Address
	Contact string // BT-41, BT-56
	Phone   string // BT-42, BT-57
	Email   string // BT-43, BT-58
}

// Delivery is when and where the goods were handed over (BG-13).
type Delivery struct {
	Day     time.Time // BT-72
	Name    string    // BT-70
	Address party.Address
}

// Adjustment is an allowance or charge on the document (BG-20, BG-21) or on a
// line (BG-27, BG-28), where it has no tax of its own.
type Adjustment struct {
	Charge  bool
	Reason  string
	Percent Number
	Base    Number
	Amount  Number
	Tax     Tax
}

// Category is a tax category of UNTDID 5305.
type Category string

// The categories that this package knows.
const (
	Standard Category = "S" // taxed at a rate
	Exempt   Category = "E" // not taxed, for a reason that is told
	Outside  Category = "O" // outside the scope of the tax
)

// Tax is a category with its rate in percent.
type Tax struct {
	Category Category
	Rate     Number
}

// Group is one group of the tax breakdown.
type Group struct {
	Tax     Tax    // BT-118, BT-119
	Taxable Number // BT-116
	Amount  Number // BT-117
	Reason  string // BT-120
}

// Totals are the document's sums (BG-22).
type Totals struct {
	Lines      Number // BT-106
	Allowances Number // BT-107
	Charges    Number // BT-108
	WithoutTax Number // BT-109
	Tax        Number // BT-110
	WithTax    Number // BT-112
	Prepaid    Number // BT-113
	Rounding   Number // BT-114
	Payable    Number // BT-115
}

// Line is an invoice line (BG-25).
type Line struct {
	ID          string // BT-126
	Note        string // BT-127
	Quantity    Number // BT-129
	Unit        string // BT-130
	Net         Number // BT-131
	Adjustments []Adjustment
	Name        string // BT-153
	Tax         Tax    // BT-151, BT-152
	Price       Number // BT-146
	Discount    Number // BT-147
	Gross       Number // BT-148
	PerQuantity Number // BT-149
}
