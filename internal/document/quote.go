package document

import (
	"time"

	"ribdesk/internal/caution"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Offer is one of the two prices of a quote.
type Offer struct {
	Total     money.Amount `json:"total"`
	Ready     time.Time    `json:"ready,omitzero"` // estimate
	Condition string       `json:"condition,omitempty"`
	Chosen    bool         `json:"chosen,omitempty"` // the lines of this quote add up to it
}

// Acceptance is who accepted, what and how.
type Acceptance struct {
	Name    string    `json:"name"`
	Title   string    `json:"title,omitempty"`
	At      time.Time `json:"at"`
	Method  string    `json:"method"`
	Origin  string    `json:"origin,omitempty"`
	Hash    string    `json:"hash"` // SHA-256 of the quote's bytes
	Consent bool      `json:"consent"`
}

// Quote offers work at a price until a day.
type Quote struct {
	Head
	ValidUntil   time.Time         `json:"valid_until"`
	Lines        []Line            `json:"lines"`
	Charges      []Charge          `json:"charges,omitempty"`
	Subtotal     money.Amount      `json:"subtotal"`
	Taxes        []Tax             `json:"taxes,omitempty"`
	Exempt       []Exemption       `json:"exempt,omitempty"`
	Total        money.Amount      `json:"total"`
	Alone        *Offer            `json:"alone,omitempty"`
	Sharing      *Offer            `json:"sharing,omitempty"`
	Deposit      money.Amount      `json:"deposit"`
	Terms        string            `json:"terms"`
	LeadTime     string            `json:"lead_time,omitempty"`
	Pounds       int               `json:"pounds,omitempty"`
	Longest      measure.Length    `json:"longest,omitempty"`
	Sections     []drawing.Section `json:"sections,omitempty"`
	Exclusions   []string          `json:"exclusions,omitempty"` // beyond the usual ones
	TermsVersion string            `json:"terms_version"`
	Acceptance   *Acceptance       `json:"acceptance,omitempty"` // nil leaves blanks to sign
}

// Kind names the paper.
func (*Quote) Kind() Kind { return KindQuote }

// A merchant's firm offer holds three months at most (UCC 2-205), so no quote
// states a later day, and none goes without one.
func (q *Quote) check(l *fault.List) {
	switch {
	case q.ValidUntil.IsZero():
		l.Addf("valid_until", "give the last day this quote holds")
	case q.ValidUntil.Before(q.Issued.Truncate(24 * time.Hour)):
		l.Addf("valid_until", "the last day can't be before the quote")
	case q.ValidUntil.After(q.Issued.AddDate(0, 3, 0)):
		l.Addf("valid_until", "a quote holds three months at most, until %s", q.Issued.AddDate(0, 3, 0).Format("Jan 2, 2006"))
	}
	if len(q.Lines) == 0 {
		l.Addf("lines", "a quote needs at least one line")
	}
}

func (q *Quote) compose(c *composer) {
	c.masthead(
		fact{c.t(wDate), c.date(q.Issued)}, fact{c.t(wValidUntil), c.date(q.ValidUntil)}, fact{c.t(wTerms), q.Terms},
		fact{c.t(wLeadTime), q.LeadTime}, fact{c.t(wWeight), c.pounds(q.Pounds)}, fact{c.t(wLongest), c.lengthOrNone(q.Longest)},
	)
	c.lines(q.Lines)
	c.charges(q.Charges)
	rows := c.reckoning(q.Subtotal, q.Taxes, q.Exempt, wTaxOn)
	rows = append(rows, sum{name: c.t(wTotal), figure: q.Total.Format(), strong: true})
	if !q.Deposit.IsZero() {
		rows = append(rows, sum{name: c.t(wDeposit), figure: q.Deposit.Format()})
	}
	c.sums(rows...)
	q.offers(c)
	c.drawn(q.Sections)
	c.title(c.t(wExclusions))
	c.paragraphs(bodySize, append([]string{c.t(wFirm), c.t(wTakeOff), c.t(wNotIncluded), c.t(wNoCancel)}, q.Exclusions...)...)
	c.paragraphs(bodySize, c.f(wTermsVersion, q.TermsVersion))
	c.cautions(caution.Quote)
	c.acceptance(q.Acceptance)
}

// offers prints both prices, whichever the lines show.
func (q *Quote) offers(c *composer) {
	var rows []record
	for _, o := range []struct {
		name  word
		offer *Offer
	}{{wAlone, q.Alone}, {wSharing, q.Sharing}} {
		if o.offer == nil {
			continue
		}
		note := ""
		if o.offer.Chosen {
			note = c.t(wThisQuote)
		}
		rows = append(rows, record{cells: []string{c.t(o.name), join("; ", note, o.offer.Condition), c.date(o.offer.Ready), o.offer.Total.Format()}, strong: o.offer.Chosen})
	}
	if len(rows) == 0 {
		return
	}
	c.title(c.t(wTwoPrices))
	c.table([]column{
		{title: "", width: 62}, {title: c.t(wOnCondition)}, {title: c.t(wReady), width: 28}, {title: c.t(wInAll), width: 32, right: true, size: 11},
	}, rows)
}

// acceptance prints who accepted, or the blanks for it.
func (c *composer) acceptance(a *Acceptance) {
	c.title(c.t(wAcceptance))
	if a == nil {
		c.paragraphs(bodySize, c.t(wAcceptText))
		c.strips[len(c.strips)-1].keep = true
		c.blanks(fact{c.t(wName), ""}, fact{c.t(wTitle), ""}, fact{c.t(wSignature), ""}, fact{c.t(wWhen), ""})
		return
	}
	consent := wNo2
	if a.Consent {
		consent = wYes
	}
	c.paragraphs(bodySize,
		c.f(wAcceptedBy, a.Name, a.Title, c.moment(a.At), a.Method, a.Origin, c.t(consent)),
		c.f(wAcceptedHash, a.Hash))
}

// OrderAcknowledgement says what was ordered, as accepted.
type OrderAcknowledgement struct {
	Head
	Quote         string       `json:"quote"` // number and revision
	Lines         []Line       `json:"lines"`
	Charges       []Charge     `json:"charges,omitempty"`
	Subtotal      money.Amount `json:"subtotal"`
	Taxes         []Tax        `json:"taxes,omitempty"`
	Exempt        []Exemption  `json:"exempt,omitempty"`
	Total         money.Amount `json:"total"`
	Deposit       money.Amount `json:"deposit"`
	Terms         string       `json:"terms"`
	Differences   []string     `json:"differences,omitempty"` // from the customer's PO
	ChangeUntil   time.Time    `json:"change_until,omitzero"`
	DeliveryFrom  time.Time    `json:"delivery_from,omitzero"`
	DeliveryUntil time.Time    `json:"delivery_until,omitzero"`
	Pounds        int          `json:"pounds,omitempty"`

	Longest      measure.Length `json:"longest,omitempty"`
	TermsVersion string         `json:"terms_version"`
	Acceptance   *Acceptance    `json:"acceptance,omitempty"`
}

// Kind names the paper.
func (*OrderAcknowledgement) Kind() Kind { return KindAcknowledgement }

func (a *OrderAcknowledgement) check(l *fault.List) {
	if len(a.Lines) == 0 {
		l.Addf("lines", "an acknowledgement needs at least one line")
	}
}

func (a *OrderAcknowledgement) compose(c *composer) {
	c.masthead(
		fact{c.t(wDate), c.date(a.Issued)}, fact{c.t(wQuoteNumber), a.Quote}, fact{c.t(wTerms), a.Terms},
		fact{c.t(wChangeUntil), c.moment(a.ChangeUntil)}, fact{c.t(wDelivery), c.span(a.DeliveryFrom, a.DeliveryUntil)},
		fact{c.t(wWeight), c.pounds(a.Pounds)}, fact{c.t(wLongest), c.lengthOrNone(a.Longest)},
	)
	c.space(1.5)
	c.paragraphs(10, c.t(wAckText))
	c.title(c.t(wDifferences))
	if len(a.Differences) == 0 {
		c.paragraphs(bodySize, c.t(wNoDifference))
	}
	c.paragraphs(bodySize, a.Differences...)
	c.lines(a.Lines)
	c.charges(a.Charges)
	rows := c.reckoning(a.Subtotal, a.Taxes, a.Exempt, wTaxOn)
	rows = append(rows, sum{name: c.t(wTotal), figure: a.Total.Format(), strong: true})
	if !a.Deposit.IsZero() {
		rows = append(rows, sum{name: c.t(wDeposit), figure: a.Deposit.Format()})
	}
	c.sums(rows...)
	c.title(c.t(wNotes))
	c.paragraphs(bodySize, c.t(wNoCancel), c.f(wTermsVersion, a.TermsVersion))
	c.cautions(caution.Acknowledgment)
	if a.Acceptance != nil {
		c.acceptance(a.Acceptance)
	}
}
