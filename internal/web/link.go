package web

import (
	"ribdesk/internal/party"
)

// linkedOrder gives the page of the order that a private link opens. Whoever
// holds the link sees what its customer may see, and no more.
func (v *visit) linkedOrder() (*orderPage, error) {
	f, err := v.desk.OpenLink(v.ctx(), v.c.Param("token"))
	if err != nil {
		return nil, err
	}
	if err := v.readAs(f.Order.CustomerID); err != nil {
		return nil, err
	}
	p := newOrderPage(f, party.Actor{Role: party.Visitor}, v.reader)
	p.Title, p.Sheet, p.Token = v.reader.T("Quote %s", f.Order.Number), "", v.c.Param("token")
	p.Block.Thing, p.Block.By = "Quote", ""
	p.From.Value = f.Order.Contact.Name
	return p, v.drawOrder(p)
}

func showLink(v *visit) error {
	p, err := v.linkedOrder()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doAcceptLink(v *visit) error {
	p, err := v.linkedOrder()
	if err != nil {
		return err
	}
	if _, err := v.desk.AcceptByLink(v.ctx(), p.Token, v.yesOf(p)); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/q/"+p.Token, "Thank you: the order is accepted, and acknowledged on paper below.")
}

func doDeclineLink(v *visit) error {
	p, err := v.linkedOrder()
	if err != nil {
		return err
	}
	reason, err := v.whyDeclined(p)
	if err != nil {
		return v.again(p, err)
	}
	if _, err := v.desk.DeclineByLink(v.ctx(), p.Token, reason); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/q/"+p.Token, "Declined. Thank you for saying why.")
}

// doWriteByLink keeps a question about a quote.
func doWriteByLink(v *visit) error {
	p, err := v.linkedOrder()
	if err != nil {
		return err
	}
	if err := v.desk.WriteByLink(v.ctx(), p.Token, v.text(&p.From), v.text(&p.Message)); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/q/"+p.Token, "Sent. The shop answers on this page.")
}

func showLinkPaper(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	paper, err := v.desk.PaperByLink(v.ctx(), v.c.Param("token"), id)
	if err != nil {
		return err
	}
	return v.sendPaper(paper)
}
