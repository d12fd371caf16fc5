package einvoice

import (
	"fmt"
	"io"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// Read reads a UBL 2.1 Invoice or CreditNote as far as a Document holds it; what
// a Document has no place for is passed over. It is for checking files that
// Write made: Read(Write(d)) gives d. The fault's field names the element.
func Read(r io.Reader) (Document, error) {
	root, err := parse(r)
	if err != nil {
		return Document{}, err
	}
	rd := reader{}
	d := rd.document(root)
	return d, rd.faults.Err()
}

// reader collects what it couldn't read.
type reader struct{ faults fault.List }

func (rd *reader) document(root node) Document {
	typeCode, lines := "cbc:InvoiceTypeCode", "cac:InvoiceLine"
	switch root.name {
	case "Invoice":
	case "CreditNote":
		typeCode, lines = "cbc:CreditNoteTypeCode", "cac:CreditNoteLine"
	default:
		rd.faults.Addf("file", "this is neither an invoice nor a credit note")
		return Document{}
	}
	d := Document{
		Specification: root.at("cbc:CustomizationID").text,
		Type:          Type(root.at(typeCode).text),
		Number:        root.at("cbc:ID").text,
		Issued:        rd.date(root, "cbc:IssueDate"),
		Due:           rd.date(root, "cbc:DueDate"),
		Currency:      root.at("cbc:DocumentCurrencyCode").text,
		Project:       root.at("cac:ProjectReference/cbc:ID").text,
		PO:            root.at("cac:OrderReference/cbc:ID").text,
		Order:         root.at("cac:OrderReference/cbc:SalesOrderID").text,
		Ticket:        root.at("cac:DespatchDocumentReference/cbc:ID").text,
		Seller:        readParty(root.at("cac:AccountingSupplierParty/cac:Party")),
		Buyer:         readParty(root.at("cac:AccountingCustomerParty/cac:Party")),
		Terms:         root.at("cac:PaymentTerms/cbc:Note").text,
		Delivery: Delivery{
			Day:     rd.date(root, "cac:Delivery/cbc:ActualDeliveryDate"),
			Name:    root.at("cac:Delivery/cac:DeliveryParty/cac:PartyName/cbc:Name").text,
			Address: readAddress(root.at("cac:Delivery/cac:DeliveryLocation/cac:Address")),
		},
		Totals: rd.totals(root),
	}
	if d.PO == noPO && d.Order != "" {
		d.PO = ""
	}
	for _, n := range root.all("cbc:Note") {
		d.Notes = append(d.Notes, n.text)
	}
	for _, n := range root.all("cac:BillingReference/cac:InvoiceDocumentReference") {
		d.Preceding = append(d.Preceding, Reference{n.at("cbc:ID").text, rd.date(n, "cbc:IssueDate")})
	}
	d.Adjustments = rd.adjustments(root)
	for _, n := range root.all("cac:TaxTotal/cac:TaxSubtotal") {
		d.Groups = append(d.Groups, Group{rd.tax(n, "cac:TaxCategory"), rd.number(n, "cbc:TaxableAmount"), rd.number(n, "cbc:TaxAmount"),
			n.at("cac:TaxCategory/cbc:TaxExemptionReason").text})
	}
	for i, n := range root.all(lines) {
		if i > 0 && len(rd.faults) > maxFaults {
			break
		}
		d.Lines = append(d.Lines, rd.line(n))
	}
	return d
}

// maxFaults is how many unreadable places are told before the rest is left.
const maxFaults = 50

func (rd *reader) date(n node, path string) time.Time {
	text := n.at(path).text
	if text == "" {
		return time.Time{}
	}
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		rd.faults.Addf(path, "“%s” isn't a date", text)
	}
	return t
}

func (rd *reader) number(n node, path string) Number {
	text := n.at(path).text
	if text == "" {
		return Number{}
	}
	r, err := money.ReadRate(text)
	if err != nil {
		rd.faults.Addf(path, "“%s” isn't a decimal number", text)
		return Number{}
	}
	return Num(r)
}

func (rd *reader) tax(n node, path string) Tax {
	return Tax{Category(n.at(path + "/cbc:ID").text), rd.number(n, path+"/cbc:Percent")}
}

func (rd *reader) adjustments(n node) (out []Adjustment) {
	for _, a := range n.all("cac:AllowanceCharge") {
		out = append(out, Adjustment{
			Charge: a.at("cbc:ChargeIndicator").text == "true", Reason: a.at("cbc:AllowanceChargeReason").text,
			Percent: rd.number(a, "cbc:MultiplierFactorNumeric"), Base: rd.number(a, "cbc:BaseAmount"),
			Amount: rd.number(a, "cbc:Amount"), Tax: rd.tax(a, "cac:TaxCategory"),
		})
	}
	return out
}

func (rd *reader) totals(root node) Totals {
	t := func(name string) Number { return rd.number(root, "cac:LegalMonetaryTotal/cbc:"+name) }
	return Totals{
		Lines: t("LineExtensionAmount"), Allowances: t("AllowanceTotalAmount"), Charges: t("ChargeTotalAmount"),
		WithoutTax: t("TaxExclusiveAmount"), Tax: rd.number(root, "cac:TaxTotal/cbc:TaxAmount"), WithTax: t("TaxInclusiveAmount"),
		Prepaid: t("PrepaidAmount"), Rounding: t("PayableRoundingAmount"), Payable: t("PayableAmount"),
	}
}

func (rd *reader) line(n node) Line {
	quantity := "cbc:InvoicedQuantity"
	if n.name == "cac:CreditNoteLine" {
		quantity = "cbc:CreditedQuantity"
	}
	before := len(rd.faults)
	line := Line{
		ID: n.at("cbc:ID").text, Note: n.at("cbc:Note").text, Quantity: rd.number(n, quantity), Unit: n.at(quantity).attr("unitCode"),
		Net: rd.number(n, "cbc:LineExtensionAmount"), Adjustments: rd.adjustments(n), Name: n.at("cac:Item/cbc:Name").text,
		Tax: rd.tax(n, "cac:Item/cac:ClassifiedTaxCategory"), Price: rd.number(n, "cac:Price/cbc:PriceAmount"),
		PerQuantity: rd.number(n, "cac:Price/cbc:BaseQuantity"), Discount: rd.number(n, "cac:Price/cac:AllowanceCharge/cbc:Amount"),
		Gross: rd.number(n, "cac:Price/cac:AllowanceCharge/cbc:BaseAmount"),
	}
	for i := before; i < len(rd.faults); i++ {
		rd.faults[i] = rd.faults[i].At(fmt.Sprintf("line %s", line.ID))
	}
	return line
}

func readAddress(n node) party.Address {
	return party.Address{Street: n.at("cbc:StreetName").text, City: n.at("cbc:CityName").text, State: n.at("cbc:CountrySubentity").text,
		Postal: n.at("cbc:PostalZone").text, Country: n.at("cac:Country/cbc:IdentificationCode").text}
}

func readParty(n node) Party {
	return Party{
		Name: n.at("cac:PartyLegalEntity/cbc:RegistrationName").text, Trade: n.at("cac:PartyName/cbc:Name").text,
		LegalID: n.at("cac:PartyLegalEntity/cbc:CompanyID").text, TaxID: n.at("cac:PartyTaxScheme/cbc:CompanyID").text,
		Address: readAddress(n.at("cac:PostalAddress")), Contact: n.at("cac:Contact/cbc:Name").text,
		Phone: n.at("cac:Contact/cbc:Telephone").text, Email: n.at("cac:Contact/cbc:ElectronicMail").text,
	}
}
