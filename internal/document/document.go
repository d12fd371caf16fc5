// Package document prints the papers of the shop: quote, order acknowledgement,
// run sheet, bundle labels, pick and delivery ticket, invoice, credit memo,
// statement, coil tag, purchase list and roof take-off. Values in, bytes out.
//
// A paper prints the figures it is given and computes none: no sum, tax, weight
// or date is made here. Its struct, as JSON, is the record of what was issued,
// and the same record gives the same bytes (Reprint). A paper that misses what
// it must carry by its nature (a number, a quote's last day) is refused with a
// fault at the field.
//
// The package knows no database, page or clock. Only here does the desk meet
// the PDF library.
package document

import (
	"encoding/json"
	"fmt"
	"runtime/debug"

	"ribdesk/internal/fault"
)

// Edition counts how papers are printed, and is kept with each. It is raised
// whenever any paper's bytes change, be it by a word, a font or a Go release that
// compresses otherwise: a paper of an earlier edition prints to other bytes than
// were issued, and nothing is wrong with it.
const Edition = 2

// Kind names a sort of paper; it is stored beside the record.
type Kind string

// The kinds of paper.
const (
	KindQuote           Kind = "quote"
	KindAcknowledgement Kind = "acknowledgement"
	KindRunSheet        Kind = "run-sheet"
	KindBundleLabels    Kind = "bundle-labels"
	KindPickTicket      Kind = "pick-ticket"
	KindDeliveryTicket  Kind = "delivery-ticket"
	KindInvoice         Kind = "invoice"
	KindCreditMemo      Kind = "credit-memo"
	KindStatement       Kind = "statement"
	KindCoilTag         Kind = "coil-tag"
	KindPurchaseList    Kind = "purchase-list"
	KindTakeOff         Kind = "roof-take-off"
)

// Document is one paper. The structs of this package are all there are.
type Document interface {
	Kind() Kind
	check(*fault.List)
	head() *Head
	size() sheetSize
	compose(*composer)
}

var makers = map[Kind]func() Document{
	KindQuote:           func() Document { return &Quote{} },
	KindAcknowledgement: func() Document { return &OrderAcknowledgement{} },
	KindRunSheet:        func() Document { return &RunSheet{} },
	KindBundleLabels:    func() Document { return &BundleLabels{} },
	KindPickTicket:      func() Document { return &PickTicket{} },
	KindDeliveryTicket:  func() Document { return &DeliveryTicket{} },
	KindInvoice:         func() Document { return &Invoice{} },
	KindCreditMemo:      func() Document { return &CreditMemo{} },
	KindStatement:       func() Document { return &Statement{} },
	KindCoilTag:         func() Document { return &CoilTag{} },
	KindPurchaseList:    func() Document { return &PurchaseList{} },
	KindTakeOff:         func() Document { return &TakeOff{} },
}

// Render prints the paper as PDF. A fault says what the paper misses; any other
// error is a defect.
func Render(d Document) (pdf []byte, err error) {
	var l fault.List
	d.head().check(&l)
	d.check(&l)
	if err := l.Err(); err != nil {
		return nil, err
	}
	// The PDF library panics on what it can't set; the text is cleaned before,
	// and this keeps a slip from taking the server down.
	defer func() {
		if r := recover(); r != nil {
			pdf, err = nil, fmt.Errorf("document: printing a %s: %v\n%s", d.Kind(), r, debug.Stack())
		}
	}()
	return printed(d)
}

// Record gives the paper as the JSON that is stored when it is issued.
func Record(d Document) ([]byte, error) { return json.Marshal(d) }

// Thing names a kind of paper, as a key of the catalogue of package words.
func Thing(k Kind) string { return string(things[k]) }

// Decode reads a stored record.
func Decode(kind Kind, record []byte) (Document, error) {
	maker, ok := makers[kind]
	if !ok {
		return nil, fault.Invalidf("kind", "there is no paper called “%s”", kind)
	}
	d := maker()
	if err := json.Unmarshal(record, d); err != nil {
		return nil, fault.Invalidf("record", "this isn't the record of a %s", kind).Because(err)
	}
	return d, nil
}

// Reprint prints a stored record; it gives the bytes that Render gave.
func Reprint(kind Kind, record []byte) ([]byte, error) {
	d, err := Decode(kind, record)
	if err != nil {
		return nil, err
	}
	return Render(d)
}
