package mail

import (
	"bytes"
	"fmt"
	"html/template"
	"slices"
	texttemplate "text/template"
	"time"

	"ribdesk/internal/words"
)

// Kind is what a customer is told of.
type Kind string

// The kinds, in the order of an order's path.
const (
	Quoted    Kind = "quote"
	Accepted  Kind = "accepted"
	Moved     Kind = "promise-moved"
	Ready     Kind = "ready"
	Leaving   Kind = "on-the-way"
	Delivered Kind = "delivered"
	Invoiced  Kind = "invoice"
	Overdue   Kind = "overdue"
)

// Kinds lists them.
var Kinds = []Kind{Quoted, Accepted, Moved, Ready, Leaving, Delivered, Invoiced, Overdue}

// Valid reports whether k is one of the kinds.
func (k Kind) Valid() bool { return slices.Contains(Kinds, k) }

// Name says a kind to the shop's own people.
func (k Kind) Name() string {
	return map[Kind]string{
		Quoted: "Quote sent", Accepted: "Order accepted", Moved: "Promise moved", Ready: "Ready", Leaving: "On the way",
		Delivered: "Delivered", Invoiced: "Invoice", Overdue: "Invoice overdue",
	}[k]
}

// Language is that of the receiver.
type Language = words.Language

// The languages.
const (
	English = words.English
	Spanish = words.Spanish
)

// Languages lists them.
var Languages = []Language{English, Spanish}

// Facts are what a message tells, as they stood when it was caused. Amounts are
// written already, with their currency; moments are in the shop's own zone.
type Facts struct {
	Shop    string `json:"shop"`
	Address string `json:"address"`
	Phone   string `json:"phone"`
	Email   string `json:"email"`

	To       string    `json:"to"` // whom it greets
	Order    string    `json:"order"`
	Job      string    `json:"job,omitempty"`
	PO       string    `json:"po,omitempty"`
	Total    string    `json:"total,omitempty"`
	Deposit  string    `json:"deposit,omitempty"`
	Until    time.Time `json:"until,omitzero"` // last day of a quote
	Promise  time.Time `json:"promise,omitzero"`
	Was      time.Time `json:"was,omitzero"` // the promise before
	PickUp   bool      `json:"pick_up,omitempty"`
	Place    string    `json:"place,omitempty"` // where it goes
	Driver   string    `json:"driver,omitempty"`
	Ticket   string    `json:"ticket,omitempty"`
	Receiver string    `json:"receiver,omitempty"`
	Left     string    `json:"left,omitempty"` // who allowed leaving it unattended
	At       time.Time `json:"at,omitzero"`    // of the hand-over
	Noted    int       `json:"noted,omitempty"`
	Invoice  string    `json:"invoice,omitempty"`
	Open     string    `json:"open,omitempty"` // still to be paid
	Due      time.Time `json:"due,omitzero"`
	Days     int       `json:"days,omitempty"` // past due
}

// Letter is a message as it reads, without its way.
type Letter struct {
	Subject string
	Text    string
	HTML    string
}

// Write writes the letter of a kind; link is the order's private page, "" for
// none. A language that isn't known is written in English.
func Write(k Kind, lang Language, f Facts, link string) (Letter, error) {
	write, ok := letters[k]
	if !ok {
		return Letter{}, fmt.Errorf("there is no letter %q", k)
	}
	known, _ := words.Known(string(lang))
	reader := words.Reader{Language: known}
	d := write(reader, f)
	page := filled{Lang: string(known), Shop: f.Shop, Greeting: reader.T("Hello,"), Questions: reader.T("Questions? Answer this mail."), Foot: []string{f.Shop}}
	if f.To != "" {
		page.Greeting = reader.T("Hello %s,", f.To)
	}
	if f.Phone != "" {
		page.Questions = reader.T("Questions? Answer this mail or call %s.", f.Phone)
	}
	page.Says = slices.DeleteFunc(d.says, func(s string) bool { return s == "" })
	page.Rows = slices.DeleteFunc(d.rows, func(r row) bool { return r.Value == "" })
	if link != "" {
		page.Link, page.LinkName = link, reader.T("See the quote, ask, accept or decline")
	}
	for _, line := range []string{f.Address, f.Phone, f.Email} {
		if line != "" {
			page.Foot = append(page.Foot, line)
		}
	}
	return page.write(d.subject)
}

// row is one fact with its label.
type row struct{ Label, Value string }

// filled is a letter before it is laid out.
type filled struct {
	Lang, Shop, Greeting string
	Says                 []string
	Rows                 []row
	Link, LinkName       string
	Questions            string
	Foot                 []string
}

func (p filled) write(subject string) (Letter, error) {
	var text, html bytes.Buffer
	if err := plain.Execute(&text, p); err != nil {
		return Letter{}, err
	}
	err := rich.Execute(&html, struct {
		filled
		Subject string
	}{p, subject})
	return Letter{Subject: subject, Text: text.String(), HTML: html.String()}, err
}

var plain = texttemplate.Must(texttemplate.New("plain").Parse(`{{.Greeting}}
{{range .Says}}
{{.}}
{{end}}{{if .Rows}}
{{range .Rows}}{{.Label}}: {{.Value}}
{{end}}{{end}}{{if .LinkName}}
{{.LinkName}}:
{{.Link}}
{{end}}
{{.Questions}}

{{range .Foot}}{{.}}
{{end}}`))

// rich is plain enough for any mail reader: no picture, no script, nothing that
// is fetched from anywhere.
var rich = template.Must(template.New("rich").Parse(`<!doctype html>
<html lang="{{.Lang}}"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{{.Subject}}</title></head>
<body style="margin:0;padding:24px 16px;background:#ffffff;color:#1a1a1a;font:16px/1.5 'Open Sans',Arial,sans-serif">
<div style="max-width:560px;margin:0 auto">
<p style="margin:0 0 20px;padding:0 0 10px;border-bottom:2px solid #1a1a1a;font-weight:bold">{{.Shop}}</p>
<p style="margin:0 0 12px">{{.Greeting}}</p>
{{range .Says}}<p style="margin:0 0 12px">{{.}}</p>
{{end}}{{if .Rows}}<table role="presentation" style="border-collapse:collapse;margin:20px 0;width:100%">
{{range .Rows}}<tr><td style="padding:6px 16px 6px 0;border-top:1px solid #c4c4c4;color:#4a4a4a;vertical-align:top">{{.Label}}</td><td style="padding:6px 0;border-top:1px solid #c4c4c4;text-align:right;vertical-align:top">{{.Value}}</td></tr>
{{end}}</table>
{{end}}{{if .LinkName}}<p style="margin:20px 0"><a href="{{.Link}}" style="display:inline-block;padding:12px 18px;background:#1a1a1a;color:#ffffff;text-decoration:none">{{.LinkName}}</a></p>
{{end}}<p style="margin:0 0 20px">{{.Questions}}</p>
<p style="margin:0;padding:10px 0 0;border-top:1px solid #c4c4c4;color:#4a4a4a;font-size:14px">{{range $i, $l := .Foot}}{{if $i}}<br>{{end}}{{$l}}{{end}}</p>
</div></body></html>
`))
