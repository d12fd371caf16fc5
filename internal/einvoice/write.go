package einvoice

import (
	"bytes"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
)

// Edition counts how files are written, and is kept with each. It is raised
// whenever any file's bytes change.
const Edition = 1

// Write gives the UBL 2.1 file of a document: Invoice for 380, CreditNote for
// 381. Equal documents give equal bytes. It refuses a document that breaks a
// rule of Check, naming rule and place. Text is escaped; what XML can't hold
// becomes U+FFFD.
func Write(d Document) ([]byte, error) {
	var l fault.List
	for _, v := range Check(d) {
		l.Addf(v.Where, "%s: %s", v.Rule, v.Text)
	}
	if err := l.Err(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	w := writer{d.Currency}
	w.document(d).write(&b, "")
	return b.Bytes(), nil
}

// writer carries the currency that every amount names.
type writer struct{ currency string }

func (w writer) document(d Document) node {
	name, space, typeCode := "Invoice", nsInvoice, "cbc:InvoiceTypeCode"
	due, project := d.Due, d.Project
	if d.Type == CreditNote {
		name, space, typeCode = "CreditNote", nsCreditNote, "cbc:CreditNoteTypeCode"
		due, project = time.Time{}, ""
	}
	root := node{name: name, attrs: []string{"xmlns", space, "xmlns:cac", nsAggregate, "xmlns:cbc", nsBasic}}
	add := func(kids ...node) { root.kids = append(root.kids, kids...) }
	add(leaf("cbc:CustomizationID", d.Specification), leaf("cbc:ID", d.Number), date("cbc:IssueDate", d.Issued),
		date("cbc:DueDate", due), leaf(typeCode, string(d.Type)))
	for _, note := range d.Notes {
		add(leaf("cbc:Note", note))
	}
	add(leaf("cbc:DocumentCurrencyCode", d.Currency), orderReference(d))
	for _, p := range d.Preceding {
		add(branch("cac:BillingReference", branch("cac:InvoiceDocumentReference", leaf("cbc:ID", p.Number), date("cbc:IssueDate", p.Issued))))
	}
	add(branch("cac:DespatchDocumentReference", leaf("cbc:ID", d.Ticket)), branch("cac:ProjectReference", leaf("cbc:ID", project)),
		branch("cac:AccountingSupplierParty", writeParty(d.Seller)), branch("cac:AccountingCustomerParty", writeParty(d.Buyer)),
		delivery(d.Delivery), branch("cac:PaymentTerms", leaf("cbc:Note", d.Terms)))
	for _, a := range d.Adjustments {
		add(w.adjustment(a))
	}
	add(w.taxTotal(d), w.totals(d.Totals))
	for _, line := range d.Lines {
		add(w.line(d.Type, line))
	}
	return root
}

func date(name string, t time.Time) node {
	if t.IsZero() {
		return node{}
	}
	return leaf(name, t.Format(time.DateOnly))
}

// orderReference needs an ID of its own in UBL; NA stands for a purchase order
// that the buyer didn't give, as is usual in UBL.
func orderReference(d Document) node {
	po := d.PO
	if po == "" && d.Order != "" {
		po = noPO
	}
	return branch("cac:OrderReference", leaf("cbc:ID", po), leaf("cbc:SalesOrderID", d.Order))
}

const noPO = "NA"

func writeAddress(name string, a party.Address) node {
	return branch(name, leaf("cbc:StreetName", a.Street), leaf("cbc:CityName", a.City), leaf("cbc:PostalZone", a.Postal),
		leaf("cbc:CountrySubentity", a.State), branch("cac:Country", leaf("cbc:IdentificationCode", a.Country)))
}

// salesTax is the code of state sales tax in UNTDID 5153 (from memory); a permit number under
// it is no VAT number, and needn't look like one.
const salesTax = "STT"

func writeParty(p Party) node {
	return branch("cac:Party",
		branch("cac:PartyName", leaf("cbc:Name", p.Trade)),
		writeAddress("cac:PostalAddress", p.Address),
		schemed("cac:PartyTaxScheme", leaf("cbc:CompanyID", p.TaxID), salesTax),
		branch("cac:PartyLegalEntity", leaf("cbc:RegistrationName", p.Name), leaf("cbc:CompanyID", p.LegalID)),
		branch("cac:Contact", leaf("cbc:Name", p.Contact), leaf("cbc:Telephone", p.Phone), leaf("cbc:ElectronicMail", p.Email)))
}

// schemed gives an element that ends in a tax scheme, nothing when it would
// hold the scheme alone.
func schemed(name string, id node, scheme string) node {
	if id.empty() {
		return node{}
	}
	return branch(name, id, branch("cac:TaxScheme", leaf("cbc:ID", scheme)))
}

func delivery(d Delivery) node {
	return branch("cac:Delivery", date("cbc:ActualDeliveryDate", d.Day),
		branch("cac:DeliveryLocation", writeAddress("cac:Address", d.Address)),
		branch("cac:DeliveryParty", branch("cac:PartyName", leaf("cbc:Name", d.Name))))
}

func (w writer) amount(name string, n Number) node {
	if !n.Given {
		return node{}
	}
	return leaf(name, n.Value.Fixed(2), "currencyID", w.currency)
}

// price may carry more decimals than an amount.
func (w writer) price(name string, n Number) node {
	if !n.Given {
		return node{}
	}
	return leaf(name, n.Value.String(), "currencyID", w.currency)
}

func number(name string, n Number, attrs ...string) node {
	if !n.Given {
		return node{}
	}
	return leaf(name, n.Value.String(), attrs...)
}

// vat is the scheme that EN 16931 asks for on every category, whatever the tax.
const vat = "VAT"

func category(name string, t Tax, reason string) node {
	if t.Category == "" {
		return node{}
	}
	return branch(name, leaf("cbc:ID", string(t.Category)), number("cbc:Percent", t.Rate),
		leaf("cbc:TaxExemptionReason", reason), branch("cac:TaxScheme", leaf("cbc:ID", vat)))
}

func (w writer) adjustment(a Adjustment) node {
	indicator := "false"
	if a.Charge {
		indicator = "true"
	}
	return branch("cac:AllowanceCharge", leaf("cbc:ChargeIndicator", indicator), leaf("cbc:AllowanceChargeReason", a.Reason),
		number("cbc:MultiplierFactorNumeric", a.Percent), w.amount("cbc:Amount", a.Amount), w.amount("cbc:BaseAmount", a.Base),
		category("cac:TaxCategory", a.Tax, ""))
}

func (w writer) taxTotal(d Document) node {
	n := branch("cac:TaxTotal", w.amount("cbc:TaxAmount", d.Totals.Tax))
	for _, g := range d.Groups {
		n.kids = append(n.kids, branch("cac:TaxSubtotal", w.amount("cbc:TaxableAmount", g.Taxable), w.amount("cbc:TaxAmount", g.Amount),
			category("cac:TaxCategory", g.Tax, g.Reason)))
	}
	return n
}

func (w writer) totals(t Totals) node {
	return branch("cac:LegalMonetaryTotal",
		w.amount("cbc:LineExtensionAmount", t.Lines), w.amount("cbc:TaxExclusiveAmount", t.WithoutTax),
		w.amount("cbc:TaxInclusiveAmount", t.WithTax), w.amount("cbc:AllowanceTotalAmount", t.Allowances),
		w.amount("cbc:ChargeTotalAmount", t.Charges), w.amount("cbc:PrepaidAmount", t.Prepaid),
		w.amount("cbc:PayableRoundingAmount", t.Rounding), w.amount("cbc:PayableAmount", t.Payable))
}

func (w writer) line(t Type, line Line) node {
	name, quantity := "cac:InvoiceLine", "cbc:InvoicedQuantity"
	if t == CreditNote {
		name, quantity = "cac:CreditNoteLine", "cbc:CreditedQuantity"
	}
	n := branch(name, leaf("cbc:ID", line.ID), leaf("cbc:Note", line.Note), number(quantity, line.Quantity, "unitCode", line.Unit),
		w.amount("cbc:LineExtensionAmount", line.Net))
	for _, a := range line.Adjustments {
		n.kids = append(n.kids, w.adjustment(a))
	}
	price := branch("cac:Price", w.price("cbc:PriceAmount", line.Price), number("cbc:BaseQuantity", line.PerQuantity, "unitCode", line.Unit))
	if line.Discount.Given {
		price.kids = append(price.kids, branch("cac:AllowanceCharge", leaf("cbc:ChargeIndicator", "false"),
			w.price("cbc:Amount", line.Discount), w.price("cbc:BaseAmount", line.Gross)))
	}
	n.kids = append(n.kids, branch("cac:Item", leaf("cbc:Name", line.Name), category("cac:ClassifiedTaxCategory", line.Tax, "")), price)
	return n
}
