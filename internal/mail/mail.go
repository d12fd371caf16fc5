// Package mail writes the messages that a shop sends its customers, in English
// and Spanish, as plain text and as simple HTML, and hands them to a mail server
// by SMTP (RFC 5321). It keeps nothing and tries once: when to try again, and
// whom to tell at all, is the desk's to say. Only this package knows go-mail.
package mail

import (
	"errors"
	"fmt"
	netmail "net/mail"
	"strings"
	"time"
	"unicode"
)

// Message is one mail, ready to be sent.
type Message struct {
	ID       string // of the header Message-ID, without its brackets; the same at each try
	Date     time.Time
	FromName string
	ReplyTo  string // "" for none
	ToName   string
	To       string
	Subject  string
	Text     string
	HTML     string
	Files    []File
}

// File goes with a message.
type File struct {
	Name string
	Kind string // its content type
	Body []byte
}

// Refused is a message that no further try would help: the server refused it for
// good, or it can't be sent as it is.
type Refused struct{ Why string }

func (r Refused) Error() string { return r.Why }

// Check refuses a message whose headers could carry more than they say. Nothing
// is taken out of a name or an address: what doesn't belong there was put there
// by somebody.
func (m Message) Check() error {
	for _, h := range []struct{ what, text string }{
		{"the message's id", m.ID}, {"the sender's name", m.FromName}, {"the address for answers", m.ReplyTo},
		{"the receiver's name", m.ToName}, {"the receiver's address", m.To}, {"the subject", m.Subject},
	} {
		if strings.ContainsFunc(h.text, unicode.IsControl) {
			return Refused{fmt.Sprintf("%s has a line break or control character in it", h.what)}
		}
	}
	for _, f := range m.Files {
		if f.Name == "" || strings.ContainsFunc(f.Name, unicode.IsControl) {
			return Refused{"a file's name has a line break or control character in it"}
		}
	}
	if err := CheckAddress(m.To); err != nil {
		return Refused{err.Error()}
	}
	if m.ReplyTo != "" {
		if err := CheckAddress(m.ReplyTo); err != nil {
			return Refused{err.Error()}
		}
	}
	if m.ID == "" || m.Subject == "" || m.Text == "" {
		return Refused{"the message is empty"}
	}
	return nil
}

// CheckAddress refuses what isn't a plain address such as name@example.com.
func CheckAddress(s string) error {
	a, err := netmail.ParseAddress(s)
	if err != nil || a.Address != s || a.Name != "" {
		return fmt.Errorf("“%s” isn't an e-mail address", strings.Map(visible, s))
	}
	return nil
}

func visible(r rune) rune {
	if unicode.IsControl(r) {
		return '·'
	}
	return r
}

// IsRefused reports an error that no further try would mend.
func IsRefused(err error) bool {
	var r Refused
	return errors.As(err, &r)
}
