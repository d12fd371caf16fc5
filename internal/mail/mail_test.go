package mail_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"io"
	"math/big"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net"
	netmail "net/mail"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/mail"
	"ribdesk/internal/mail/mailtest"
)

var central = time.FixedZone("CST", -6*3600)

var facts = mail.Facts{
	Shop: "Eave & Ridge", Address: "1 Mill Road, Springfield, MO 65801", Phone: "555-0100", Email: "desk@example.com", To: "Wren <Sparrow>",
	Order: "1042", Job: "Barn", PO: "77", Total: "$1,234.50", Deposit: "$200.00", Until: time.Date(2026, 3, 17, 0, 0, 0, 0, central),
	Promise: time.Date(2026, 3, 5, 14, 30, 0, 0, central), Was: time.Date(2026, 3, 4, 9, 0, 0, 0, central), PickUp: true, Place: "1 Mill Road",
	Driver: "Bo", Ticket: "T1001", Receiver: "Al", At: time.Date(2026, 3, 5, 15, 0, 0, 0, central), Noted: 2,
	Invoice: "INV-00007", Open: "$1,034.50", Due: time.Date(2026, 4, 4, 0, 0, 0, 0, central), Days: 14,
}

// Every kind reads in both languages, says what it is about, leaves no template
// behind, and no fact can bring markup into its HTML.
func TestLetters(t *testing.T) {
	said := map[mail.Kind][]string{
		mail.Quoted: {"1042", "$1,234.50", "https://x/q/tok"}, mail.Accepted: {"1042", "$200.00"}, mail.Moved: {"1042"}, mail.Ready: {"1 Mill Road"},
		mail.Leaving: {"T1001", "Bo"}, mail.Delivered: {"T1001", "Al", "2"}, mail.Invoiced: {"INV-00007", "$1,034.50"}, mail.Overdue: {"INV-00007", "14", "$1,034.50"},
	}
	for _, k := range mail.Kinds {
		var both []string
		for _, lang := range mail.Languages {
			link := ""
			if k == mail.Quoted {
				link = "https://x/q/tok"
			}
			l, err := mail.Write(k, lang, facts, link)
			if err != nil {
				t.Fatalf("%s %s: %v", k, lang, err)
			}
			for _, want := range said[k] {
				if !strings.Contains(l.Text, want) {
					t.Errorf("%s %s doesn't say %q:\n%s", k, lang, want, l.Text)
				}
				if !strings.Contains(l.HTML, strings.ReplaceAll(want, "&", "&amp;")) {
					t.Errorf("the HTML of %s %s doesn't say %q", k, lang, want)
				}
			}
			for _, bad := range []string{"{{", "<no value>", "%!", "0001"} {
				if strings.Contains(l.Subject+l.Text+l.HTML, bad) {
					t.Errorf("%s %s holds %q", k, lang, bad)
				}
			}
			if strings.Contains(l.HTML, "Wren <") || !strings.Contains(l.HTML, "Wren &lt;Sparrow&gt;") {
				t.Errorf("the HTML of %s %s takes a name for markup", k, lang)
			}
			if strings.Contains(l.HTML, "<img") || strings.Contains(l.HTML, "<script") || strings.Contains(l.Subject, "\n") {
				t.Errorf("%s %s fetches something or runs something", k, lang)
			}
			both = append(both, l.Subject+l.Text)
		}
		if both[0] == both[1] {
			t.Errorf("%s reads the same in both languages", k)
		}
	}
}

// Moments are written as the language does, in the zone of the shop.
func TestSpanishDates(t *testing.T) {
	l, err := mail.Write(mail.Moved, mail.Spanish, facts, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"mié 4 mar 2026, 9:00 a. m.", "jue 5 mar 2026, 2:30 p. m."} {
		if !strings.Contains(l.Text, want) {
			t.Errorf("no %q in\n%s", want, l.Text)
		}
	}
	if l, err = mail.Write(mail.Moved, "", facts, ""); err != nil || !strings.Contains(l.Text, "Thu Mar 5, 2026 2:30 PM") {
		t.Errorf("%v\n%s", err, l.Text)
	}
}

func message() mail.Message {
	return mail.Message{
		ID: "abc123@example.com", Date: time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC), FromName: "Taller Ñandú & Co.", ReplyTo: "desk@example.com",
		ToName: "Wren Sparrow", To: "wren@example.com", Subject: "Cotización 1042", Text: "Hola\n.punto al principio\n", HTML: "<p>Hola</p>",
		Files: []mail.File{{Name: "quote-1042.pdf", Kind: "application/pdf", Body: []byte("%PDF-1.7 not really")}},
	}
}

func server(s *mailtest.Sink) mail.Server {
	return mail.Server{Host: s.Host, Port: s.Port, From: "desk@example.com", Security: mail.Plain}
}

// A message arrives whole: headers, both bodies, the file; a dot that begins a
// line too (RFC 5321, 4.5.2).
func TestSend(t *testing.T) {
	sink := mailtest.Start(t)
	if err := server(sink).Send(t.Context(), message()); err != nil {
		t.Fatal(err)
	}
	got := sink.Taken()
	if len(got) != 1 || got[0].To != "wren@example.com" {
		t.Fatalf("%+v", got)
	}
	h := got[0].Message.Header
	decode := new(mime.WordDecoder).DecodeHeader
	subject, _ := decode(h.Get("Subject"))
	from, err := netmail.ParseAddress(h.Get("From"))
	if err != nil || from.Name != "Taller Ñandú & Co." || from.Address != "desk@example.com" || subject != "Cotización 1042" {
		t.Errorf("from %v %v, subject %q", from, err, subject)
	}
	if h.Get("Message-ID") != "<abc123@example.com>" || h.Get("Auto-Submitted") != "auto-generated" || h.Get("Reply-To") != "<desk@example.com>" {
		t.Errorf("headers %v", h)
	}
	if at, err := h.Date(); err != nil || !at.Equal(message().Date) {
		t.Errorf("dated %v, %v", at, err)
	}
	parts := partsOf(t, h.Get("Content-Type"), got[0].Message.Body)
	if strings.ReplaceAll(parts["text/plain"], "\r\n", "\n") != message().Text || parts["text/html"] != message().HTML || parts["application/pdf"] != "%PDF-1.7 not really" {
		t.Errorf("parts %q", parts)
	}
}

// partsOf gives the decoded parts of a message by their type.
func partsOf(t *testing.T, contentType string, body io.Reader) map[string]string {
	t.Helper()
	kind, params, err := mime.ParseMediaType(contentType)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	if !strings.HasPrefix(kind, "multipart/") {
		t.Fatalf("a message of type %s", kind)
	}
	r := multipart.NewReader(body, params["boundary"])
	for {
		p, err := r.NextRawPart()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		kind, _, _ := mime.ParseMediaType(p.Header.Get("Content-Type"))
		if strings.HasPrefix(kind, "multipart/") {
			for k, v := range partsOf(t, p.Header.Get("Content-Type"), p) {
				out[k] = v
			}
			continue
		}
		var from io.Reader = p
		switch strings.ToLower(p.Header.Get("Content-Transfer-Encoding")) {
		case "base64":
			from = base64.NewDecoder(base64.StdEncoding, p)
		case "quoted-printable":
			from = quotedprintable.NewReader(p)
		}
		text, err := io.ReadAll(from)
		if err != nil {
			t.Fatal(err)
		}
		out[kind] = string(text)
	}
}

// What isn't taken is an error; only what no further try would mend is Refused.
func TestFaultsOfTheServer(t *testing.T) {
	for _, c := range []struct {
		fault   mailtest.Fault
		refused bool
		says    string
	}{
		{mailtest.Busy, false, "421"}, {mailtest.NoMailbox, true, "550 to the receiver's address"}, {mailtest.Later, false, "451"},
		{mailtest.DropData, false, "broke"}, {mailtest.DropAnswer, false, "broke"},
	} {
		sink := mailtest.Start(t)
		sink.Next(c.fault)
		m := message()
		m.Files[0].Body = []byte(strings.Repeat("%PDF", 50_000)) // long enough to be in the middle of
		err := server(sink).Send(t.Context(), m)
		if err == nil || mail.IsRefused(err) != c.refused || !strings.Contains(err.Error(), c.says) {
			t.Errorf("fault %d: %v, refused %t", c.fault, err, mail.IsRefused(err))
		}
	}
	nobody := mail.Server{Host: "127.0.0.1", Port: 1, From: "desk@example.com", Security: mail.Plain}
	if err := nobody.Send(t.Context(), message()); err == nil || mail.IsRefused(err) || !strings.Contains(err.Error(), "doesn't answer") {
		t.Errorf("nobody there: %v", err)
	}
}

// When the caller's time ends, the connection is cut.
func TestSendEndsWithItsContext(t *testing.T) {
	sink := mailtest.Start(t)
	sink.Next(mailtest.Hang)
	ctx, stop := context.WithCancel(t.Context())
	went := make(chan error, 1)
	go func() { went <- server(sink).Send(ctx, message()) }()
	for len(sink.Taken()) == 0 {
		time.Sleep(time.Millisecond)
	}
	stop()
	select {
	case err := <-went:
		if err == nil {
			t.Error("taken, though nobody said so")
		}
	case <-time.After(5 * time.Second):
		t.Fatal("still sending")
	}
}

// STARTTLS with a password: the certificate is checked, a wrong password says no
// more than that, and nothing goes out in the open when the server doesn't offer
// it (RFC 3207).
func TestStartTLSAndPassword(t *testing.T) {
	sink := mailtest.Start(t)
	config, roots := certificate(t)
	sink.Login("desk", "s3cret words")
	s := server(sink)
	s.Security, s.User, s.Password, s.Roots = mail.StartTLS, "desk", "s3cret words", roots
	if err := s.Send(t.Context(), message()); err == nil || len(sink.Taken()) > 0 {
		t.Fatal("sent in the open")
	}
	sink.StartTLS(config)
	if err := s.Send(t.Context(), message()); err != nil {
		t.Fatal(err)
	}
	s.Roots = x509.NewCertPool()
	if err := s.Send(t.Context(), message()); err == nil {
		t.Error("any certificate is believed")
	}
	s.Roots, s.Password = roots, "wrong s3cret"
	err := s.Send(t.Context(), message())
	sent := base64.StdEncoding.EncodeToString([]byte("\x00desk\x00wrong s3cret"))
	if err == nil || !strings.Contains(err.Error(), "535") || strings.Contains(err.Error(), "s3cret") || strings.Contains(err.Error(), sent) {
		t.Errorf("a wrong password: %v", err)
	}
	if n := len(sink.Taken()); n != 1 {
		t.Errorf("%d taken", n)
	}
}

func certificate(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	card := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true}
	raw, err := x509.CreateCertificate(rand.Reader, card, card, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	read, err := x509.ParseCertificate(raw)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(read)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{raw}, PrivateKey: key}}}, roots
}

// A name with a line break could add a header or a receiver: it is refused, and
// nothing is sent.
func TestHeadersCannotBeInjected(t *testing.T) {
	sink := mailtest.Start(t)
	for name, spoil := range map[string]func(*mail.Message){
		"receiver's name": func(m *mail.Message) { m.ToName = "Wren\r\nBcc: all@example.com" },
		"sender's name":   func(m *mail.Message) { m.FromName = "Shop\nX-Evil: yes" },
		"subject":         func(m *mail.Message) { m.Subject = "Quote\r\n\r\n<script>" },
		"address":         func(m *mail.Message) { m.To = "wren@example.com>\r\nRCPT TO:<all@example.com" },
		"two addresses":   func(m *mail.Message) { m.To = "wren@example.com, all@example.com" },
		"answers":         func(m *mail.Message) { m.ReplyTo = "x@example.com\r\nBcc: y@example.com" },
		"id":              func(m *mail.Message) { m.ID = "a@b>\r\nX: y" },
		"file":            func(m *mail.Message) { m.Files[0].Name = "a\r\nb.pdf" },
		"nul":             func(m *mail.Message) { m.Subject = "a\x00b" },
	} {
		m := message()
		spoil(&m)
		if err := server(sink).Send(t.Context(), m); !mail.IsRefused(err) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if n := sink.Connections(); n != 0 {
		t.Errorf("%d connections were made", n)
	}
}

func TestServerCheck(t *testing.T) {
	good := mail.Server{Host: "mail.example.com", Port: 587, From: "desk@example.com", Security: mail.StartTLS}
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*mail.Server){
		"host": func(s *mail.Server) { s.Host = "a b" }, "port": func(s *mail.Server) { s.Port = 70000 }, "from": func(s *mail.Server) { s.From = "Desk <d@example.com>" },
		"security": func(s *mail.Server) { s.Security = "ssl" }, "no password": func(s *mail.Server) { s.User = "a" },
		"password in the open": func(s *mail.Server) { s.Security, s.User, s.Password = mail.Plain, "a", "b" },
	} {
		s := good
		spoil(&s)
		if s.Check() == nil {
			t.Errorf("%s is accepted", name)
		}
	}
}

// FuzzHeaders: whatever is in a name or subject, what arrives has one receiver
// and no header that the message didn't have.
func FuzzHeaders(f *testing.F) {
	f.Add("Wren", "Quote")
	f.Add("Wren\r\nBcc: x@example.com", "=?utf-8?q?a?=")
	f.Add("\"a\" <b@example.com>", "a\tb")
	f.Fuzz(func(t *testing.T, name, subject string) {
		sink := mailtest.Start(t)
		m := message()
		m.ToName, m.Subject = name, subject
		if err := server(sink).Send(t.Context(), m); err != nil {
			if len(sink.Taken()) > 0 || !mail.IsRefused(err) {
				t.Fatalf("%v, %d taken", err, len(sink.Taken()))
			}
			return
		}
		h := sink.Taken()[0].Message.Header
		to, err := h.AddressList("To")
		if err != nil || len(to) != 1 || to[0].Address != m.To || h.Get("Bcc") != "" || len(h) > 9 {
			t.Fatalf("to %v, %v, headers %v", to, err, h)
		}
	})
}
