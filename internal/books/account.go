package books

import (
	"sort"
	"strings"
	"unicode"

	"ribdesk/internal/fault"
)

// Kind is where an account stands in the accounts of a firm.
type Kind string

// The kinds. Assets and expenses usually have a debit balance, the others a
// credit balance.
const (
	Asset     Kind = "asset"
	Liability Kind = "liability"
	Income    Kind = "income"
	Expense   Kind = "expense"
)

// Account is one account by its number; an account kept per sales group or per
// tax jurisdiction carries that name after a colon, as in "4000:panels". The
// first digit follows general bookkeeping practice (1 assets, 2 liabilities,
// 4 income, 6 expenses; common practice, no published source).
type Account string

// The chart. Sales and SalesTax give the accounts that are kept per name.
const (
	Cash            Account = "1000" // money in the bank
	Undeposited     Account = "1010" // checks, cash and card slips not yet banked
	Receivable      Account = "1100" // what customers owe now: the open items
	Retention       Account = "1110" // invoiced, but agreed to be held back until released
	Deposits        Account = "2000" // paid before the goods: owed until applied
	Unapplied       Account = "2010" // money received and credit memos not yet applied
	Delivery        Account = "4100" // delivery charges
	FinanceIncome   Account = "4200" // finance charges
	ReturnFees      Account = "4210" // fees for payments that the bank returned
	DepositsKept    Account = "4300" // deposits kept on orders cancelled after cutting
	Discounts       Account = "4900" // allowances on invoices
	TermsDiscounts  Account = "4910" // early-payment discounts
	BadDebt         Account = "6000" // written off, less recovered
	salesPrefix             = "4000"
	salesTaxPrefix          = "2200"
	maxAccountRunes         = 60
)

type chartRow struct {
	name string
	kind Kind
}

var chart = map[Account]chartRow{
	Cash:           {"Cash in bank", Asset},
	Undeposited:    {"Undeposited funds", Asset},
	Receivable:     {"Accounts receivable", Asset},
	Retention:      {"Retention receivable", Asset},
	Deposits:       {"Customer deposits", Liability},
	Unapplied:      {"Unapplied customer credits", Liability},
	salesTaxPrefix: {"Sales tax payable", Liability},
	salesPrefix:    {"Sales", Income},
	Delivery:       {"Delivery income", Income},
	FinanceIncome:  {"Finance charges", Income},
	ReturnFees:     {"Returned-payment fees", Income},
	DepositsKept:   {"Deposits kept", Income},
	Discounts:      {"Discounts given", Income},
	TermsDiscounts: {"Early-payment discounts", Income},
	BadDebt:        {"Bad debt", Expense},
}

// Sales gives the sales account of a group such as "panels".
func Sales(group string) Account { return Account(salesPrefix + ":" + group) }

// SalesTax gives the account of the tax owed to a jurisdiction.
func SalesTax(jurisdiction string) Account { return Account(salesTaxPrefix + ":" + jurisdiction) }

func (a Account) split() (number Account, name string, named bool) {
	n, name, named := strings.Cut(string(a), ":")
	return Account(n), name, named
}

// Number gives the account's number without the name it is kept by.
func (a Account) Number() string {
	number, _, _ := a.split()
	return string(number)
}

// Name gives the account's name for people, as in "Sales: panels".
func (a Account) Name() string {
	number, name, named := a.split()
	row := chart[number]
	if named {
		return row.name + ": " + name
	}
	return row.name
}

// Kind gives the account's kind, "" for an account outside the chart.
func (a Account) Kind() Kind {
	number, _, _ := a.split()
	return chart[number].kind
}

// Check refuses an account that isn't in the chart, at field "account".
func (a Account) Check() error {
	number, name, named := a.split()
	perName := number == salesPrefix || number == salesTaxPrefix
	if _, known := chart[number]; !known || named != perName {
		return fault.Invalidf("account", "“%s” isn't an account of this shop's chart", a)
	}
	if named && (strings.TrimSpace(name) == "" || len([]rune(name)) > maxAccountRunes ||
		strings.IndexFunc(name, unicode.IsControl) >= 0) {
		return fault.Invalidf("account", "the account %s needs a plain name of 1 to %d characters", number, maxAccountRunes)
	}
	return nil
}

// Chart lists the accounts that every shop has, in order, without those kept
// per sales group or jurisdiction.
func Chart() []Account {
	var as []Account
	for a := range chart {
		if a != salesPrefix && a != salesTaxPrefix {
			as = append(as, a)
		}
	}
	sort.Slice(as, func(i, j int) bool { return as[i] < as[j] })
	return as
}
