package mail

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/textproto"
	"strconv"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"
)

// Security is how the way to the mail server is kept private.
type Security string

// The ways. Plain is for a server on this machine or behind a closed network; a
// password never travels on it.
const (
	StartTLS Security = "starttls" // RFC 3207; refused when the server doesn't offer it
	TLS      Security = "tls"      // from the first byte, RFC 8314
	Plain    Security = "none"
)

// Server is where mail is handed in.
type Server struct {
	Host     string
	Port     int
	User     string // "" signs in nowhere
	Password string
	From     string // the address mail comes from
	Security Security
	Roots    *x509.CertPool // whose certificates are believed; nil for the machine's own
}

// Check refuses what can't be a mail server's settings.
func (s Server) Check() error {
	switch {
	case s.Host == "" || strings.ContainsAny(s.Host, " \r\n/@"):
		return fmt.Errorf("%q isn't the name of a mail server", s.Host)
	case s.Port < 1 || s.Port > 65535:
		return errors.New("the port must be 1 to 65535")
	case s.Security != StartTLS && s.Security != TLS && s.Security != Plain:
		return fmt.Errorf("%q isn't starttls, tls or none", s.Security)
	case s.Security == Plain && s.User != "" && !s.near():
		return errors.New("a password would travel in the open; use starttls or tls")
	case (s.User == "") != (s.Password == ""):
		return errors.New("a user and a password go together")
	}
	return CheckAddress(s.From)
}

// near reports a server on this machine.
func (s Server) near() bool {
	ip := net.ParseIP(s.Host)
	return s.Host == "localhost" || ip != nil && ip.IsLoopback()
}

// patience bounds one answer of the server.
const patience = 20 * time.Second

// Send hands one message to the server, nil when it was taken. When ctx ends the
// connection is cut: the outcome is unknown then, unless an error says more.
func (s Server) Send(ctx context.Context, m Message) error {
	if err := m.Check(); err != nil {
		return err
	}
	msg, err := s.compose(m)
	if err != nil {
		return Refused{"the message can't be written: " + err.Error()}
	}
	ctx, hangUp := context.WithCancel(ctx) // the library leaves a connection open that it couldn't sign in on
	defer hangUp()
	client, err := s.client(ctx)
	if err != nil {
		return err
	}
	err = client.DialAndSendWithContext(ctx, msg)
	if msg.IsDelivered() {
		return nil // what went wrong after the server took it doesn't matter
	}
	return s.explain(err)
}

func (s Server) compose(m Message) (*gomail.Msg, error) {
	msg := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	if err := msg.FromFormat(m.FromName, s.From); err != nil {
		return nil, err
	}
	if err := msg.AddToFormat(m.ToName, m.To); err != nil {
		return nil, err
	}
	if m.ReplyTo != "" {
		if err := msg.ReplyTo(m.ReplyTo); err != nil {
			return nil, err
		}
	}
	msg.Subject(m.Subject)
	msg.SetDateWithValue(m.Date)
	msg.SetMessageIDWithValue(m.ID)
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no holiday answers
	msg.SetBodyString(gomail.TypeTextPlain, m.Text)
	msg.AddAlternativeString(gomail.TypeTextHTML, m.HTML)
	for _, f := range m.Files {
		if err := msg.AttachReader(f.Name, bytes.NewReader(f.Body), gomail.WithFileContentType(gomail.ContentType(f.Kind))); err != nil {
			return nil, err
		}
	}
	return msg, nil
}

func (s Server) client(ctx context.Context) (*gomail.Client, error) {
	config := &tls.Config{ServerName: s.Host, RootCAs: s.Roots, MinVersion: tls.VersionTLS12}
	options := []gomail.Option{
		gomail.WithPort(s.Port), gomail.WithTimeout(patience), gomail.WithTLSConfig(config),
		gomail.WithDialContextFunc(s.dial(ctx, config)),
	}
	if s.Security == StartTLS {
		options = append(options, gomail.WithTLSPolicy(gomail.TLSMandatory))
	} else {
		options = append(options, gomail.WithTLSPolicy(gomail.NoTLS)) // tls is there before the first word
	}
	if s.User != "" {
		options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(s.User), gomail.WithPassword(s.Password))
		if s.Security == Plain {
			options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthPlainNoEnc)) // on this machine, as Check sees to
		}
		if s.Security == TLS {
			options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthPlain))
		}
	}
	return gomail.NewClient(s.Host, options...)
}

// dial connects, and cuts the connection when ctx ends: the library itself minds
// ctx only while it connects.
func (s Server) dial(ctx context.Context, config *tls.Config) gomail.DialContextFunc {
	return func(dialling context.Context, network, address string) (conn net.Conn, err error) {
		if s.Security == TLS {
			conn, err = (&tls.Dialer{Config: config}).DialContext(dialling, network, address)
		} else {
			conn, err = (&net.Dialer{}).DialContext(dialling, network, address)
		}
		if err == nil {
			context.AfterFunc(ctx, func() { _ = conn.Close() })
		}
		return conn, err
	}
}

// explain says what went wrong in a way that can be shown: nothing of what was
// said while signing in, since some servers repeat it.
func (s Server) explain(err error) error {
	var refused *gomail.SendError
	if errors.As(err, &refused) {
		why := fmt.Sprintf("the mail server answered %d", refused.ErrorCode())
		switch {
		case refused.ErrorCode() == 0:
			return fmt.Errorf("the connection to the mail server broke")
		case refused.Reason == gomail.ErrSMTPRcptTo:
			why += " to the receiver's address"
		case refused.Reason == gomail.ErrSMTPMailFrom:
			why += " to the sender's address"
		}
		if !refused.IsTemp() && refused.ErrorCode() >= 500 {
			return Refused{why}
		}
		return errors.New(why)
	}
	var said *textproto.Error
	switch {
	case errors.As(err, &said) && (said.Code == 534 || said.Code == 535 || said.Code == 530 || said.Code == 538):
		return fmt.Errorf("the mail server doesn't take the user and password (%d)", said.Code)
	case errors.As(err, &said):
		return fmt.Errorf("the mail server answered %d", said.Code)
	}
	var unreached *net.OpError
	if errors.As(err, &unreached) && unreached.Op == "dial" {
		return fmt.Errorf("the mail server %s doesn't answer", net.JoinHostPort(s.Host, strconv.Itoa(s.Port)))
	}
	var certificate *tls.CertificateVerificationError
	if errors.As(err, &certificate) {
		return fmt.Errorf("the certificate of the mail server %s isn't believed", s.Host)
	}
	return errors.New("the mail server " + s.Host + " broke off before the message was sent")
}
