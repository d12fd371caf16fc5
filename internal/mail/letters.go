package mail

import (
	"time"

	"ribdesk/internal/words"
)

// draft is a letter before it is laid out. Paragraphs and rows that are empty
// are left out.
type draft struct {
	subject string
	says    []string
	rows    []row
}

// letters writes each kind. Its texts are in the catalogue of words.
var letters = map[Kind]func(words.Reader, Facts) draft{
	Quoted: quoted, Accepted: accepted, Moved: moved, Ready: ready, Leaving: leaving, Delivered: delivered, Invoiced: invoiced, Overdue: overdue,
}

func quoted(reader words.Reader, f Facts) draft {
	return draft{
		reader.T("Quote %s from %s", f.Order, f.Shop),
		[]string{
			reader.T("Here is your quote. It is attached, and you can read and accept it on its page."),
			reader.T("Please check lengths and quantities: pieces are cut to length and can't be taken back once cutting has begun."),
			reader.T("The price holds until %s. Whoever has the link can open the page, so pass it on with care.", words.Date(f.Until)),
		},
		[]row{
			orderRow(reader, f), jobRow(reader, f), totalRow(reader, f), {reader.T("Deposit due"), f.Deposit},
			{reader.T("Open until"), day(reader, f.Until)}, promiseRow(reader, f),
		},
	}
}

func accepted(reader words.Reader, f Facts) draft {
	d := draft{
		reader.T("Order %s is accepted", f.Order),
		[]string{
			reader.T("Thank you. Your order is accepted, and its acknowledgement is attached."),
			reader.T("Please read it line by line and tell us at once if anything is wrong: after cutting it can't be changed."),
		},
		[]row{orderRow(reader, f), jobRow(reader, f), poRow(reader, f), totalRow(reader, f), promiseRow(reader, f)},
	}
	if f.Deposit != "" {
		d.says = append(d.says, reader.T("A deposit of %s is due before we cut.", f.Deposit))
	}
	return d
}

func moved(reader words.Reader, f Facts) draft {
	now := reader.T("Your order is now promised for %s.", moment(reader, f.Promise))
	if !f.Was.IsZero() {
		now = reader.T("Your order was promised for %s. It is now promised for %s.", moment(reader, f.Was), moment(reader, f.Promise))
	}
	return draft{
		reader.T("Order %s has a new date", f.Order),
		[]string{now, reader.T("We are sorry if this upsets your plans. Call us if the new date doesn't work for you.")},
		[]row{orderRow(reader, f), jobRow(reader, f), {reader.T("Before"), moment(reader, f.Was)}, promiseRow(reader, f)},
	}
}

func ready(reader words.Reader, f Facts) draft {
	d := draft{rows: []row{orderRow(reader, f), jobRow(reader, f), poRow(reader, f), placeRow(reader, f)}}
	if f.PickUp {
		d.subject = reader.T("Order %s is ready to pick up", f.Order)
		d.says = []string{
			reader.T("Your order is cut, bundled and ready to pick up."),
			reader.T("Bring a vehicle or trailer that carries the longest piece, straps, edge protection and gloves: cut edges are razor sharp."),
		}
		return d
	}
	d.subject = reader.T("Order %s is ready", f.Order)
	d.says = []string{reader.T("Your order is cut and bundled. It waits for its delivery; you hear from us when it is on the way.")}
	return d
}

func leaving(reader words.Reader, f Facts) draft {
	return draft{
		reader.T("Order %s is on the way", f.Order),
		[]string{
			reader.T("Your delivery has left the shop. Please keep the way clear and have people or a machine there to unload."),
			reader.T("Wear gloves: cut edges are razor sharp. A long panel is a sail in the wind."),
		},
		[]row{orderRow(reader, f), jobRow(reader, f), ticketRow(reader, f), placeRow(reader, f), {reader.T("Driver"), f.Driver}},
	}
}

func delivered(reader words.Reader, f Facts) draft {
	d := draft{
		subject: reader.T("Order %s is delivered", f.Order),
		says:    []string{reader.T("Your delivery was handed over. The ticket is attached.")},
		rows: []row{
			orderRow(reader, f), jobRow(reader, f), ticketRow(reader, f), {reader.T("Received by"), f.Receiver},
			{reader.T("Left unattended, allowed by"), f.Left}, {reader.T("Handed over"), moment(reader, f.At)},
		},
	}
	if f.PickUp {
		d.subject = reader.T("Order %s is picked up", f.Order)
		d.says = []string{reader.T("Your order was handed over at the shop. The ticket is attached.")}
	}
	if f.Noted > 0 {
		d.says = append(d.says, reader.N(f.Noted, "%d remark was noted on the ticket; we'll come back to you about it.", "%d remarks were noted on the ticket; we'll come back to you about them.", f.Noted))
	}
	return d
}

func invoiced(reader words.Reader, f Facts) draft {
	return draft{
		reader.T("Invoice %s from %s", f.Invoice, f.Shop),
		[]string{reader.T("The invoice for order %s is attached. Thank you for your business.", f.Order)},
		[]row{invoiceRow(reader, f), orderRow(reader, f), jobRow(reader, f), poRow(reader, f), totalRow(reader, f), openRow(reader, f), dueRow(reader, f)},
	}
}

func overdue(reader words.Reader, f Facts) draft {
	return draft{
		reader.T("Invoice %s is past due", f.Invoice),
		[]string{
			reader.N(f.Days, "Invoice %s was due on %s, %d day ago, and %s of it are open. A copy is attached.",
				"Invoice %s was due on %s, %d days ago, and %s of it are open. A copy is attached.", f.Invoice, words.Date(f.Due), f.Days, f.Open),
			reader.T("If you have paid in the last days, thank you, and please take no notice of this. If something about the invoice isn't right, tell us."),
		},
		[]row{invoiceRow(reader, f), orderRow(reader, f), jobRow(reader, f), openRow(reader, f), dueRow(reader, f)},
	}
}

// The rows that several letters have.
func orderRow(reader words.Reader, f Facts) row   { return row{reader.T("Order"), f.Order} }
func jobRow(reader words.Reader, f Facts) row     { return row{reader.T("Job"), f.Job} }
func poRow(reader words.Reader, f Facts) row      { return row{reader.T("Your PO"), f.PO} }
func totalRow(reader words.Reader, f Facts) row   { return row{reader.T("Total"), f.Total} }
func placeRow(reader words.Reader, f Facts) row   { return row{reader.T("Where"), f.Place} }
func ticketRow(reader words.Reader, f Facts) row  { return row{reader.T("Delivery ticket"), f.Ticket} }
func invoiceRow(reader words.Reader, f Facts) row { return row{reader.T("Invoice"), f.Invoice} }
func openRow(reader words.Reader, f Facts) row    { return row{reader.T("Still to pay"), f.Open} }
func dueRow(reader words.Reader, f Facts) row     { return row{reader.T("Due"), day(reader, f.Due)} }
func promiseRow(reader words.Reader, f Facts) row {
	return row{reader.T("Promised for"), moment(reader, f.Promise)}
}

// day writes a day, "" for none.
func day(reader words.Reader, t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return reader.Day(t)
}

func moment(reader words.Reader, t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return reader.When(t)
}
