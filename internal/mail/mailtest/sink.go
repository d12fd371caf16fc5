// Package mailtest is a mail server for tests: it listens on this machine, takes
// messages by SMTP (RFC 5321) and keeps them, or misbehaves as it is told to.
package mailtest

import (
	"bufio"
	"crypto/tls"
	"encoding/base64"
	"fmt"
	"net"
	netmail "net/mail"
	"strings"
	"sync"
	"testing"
	"time"
)

// Sink is such a server.
type Sink struct {
	Host string
	Port int

	mu     sync.Mutex
	taken  []Taken
	script []Fault
	login  string
	tls    *tls.Config
	seen   int
}

// Taken is a message that the server has said it took, or that it took without
// saying so.
type Taken struct {
	From, To string
	Data     string
	Message  *netmail.Message
}

// Fault is what the server does with one connection instead of taking a message.
type Fault int

// The faults.
const (
	None       Fault = iota
	Busy             // 421 at once
	NoMailbox        // 550 to the receiver
	Later            // 451 after the message
	DropData         // hangs up in the middle of the message
	DropAnswer       // takes the message and hangs up before it says so
	Hang             // says nothing any more after the message
	Slow             // takes the message, and says so a third of a second later
)

// Start starts a server that takes everything.
func Start(t testing.TB) *Sink {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := listener.Addr().(*net.TCPAddr)
	s := &Sink{Host: "127.0.0.1", Port: at.Port}
	var open sync.WaitGroup
	done := make(chan struct{})
	open.Go(func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			open.Go(func() { s.serve(conn, done) })
		}
	})
	t.Cleanup(func() {
		close(done)
		_ = listener.Close()
		open.Wait()
	})
	return s
}

// Next says what becomes of the next connections, one each; later ones are fine.
func (s *Sink) Next(faults ...Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.script = append(s.script, faults...)
}

// Login makes the server ask for a user and password, and repeat what it was
// sent when they are wrong, as some do.
func (s *Sink) Login(user, password string) {
	s.login = base64.StdEncoding.EncodeToString([]byte("\x00" + user + "\x00" + password))
}

// StartTLS makes the server offer it.
func (s *Sink) StartTLS(c *tls.Config) { s.tls = c }

// Taken gives the messages so far.
func (s *Sink) Taken() []Taken {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Taken(nil), s.taken...)
}

// Connections counts those so far.
func (s *Sink) Connections() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.seen
}

func (s *Sink) next() Fault {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.seen++
	if len(s.script) == 0 {
		return None
	}
	f := s.script[0]
	s.script = s.script[1:]
	return f
}

func (s *Sink) serve(conn net.Conn, done <-chan struct{}) {
	defer func() { _ = conn.Close() }()
	fault := s.next()
	say := func(line string) { fmt.Fprintf(conn, "%s\r\n", line) }
	if fault == Busy {
		say("421 too busy")
		return
	}
	say("220 sink ready")
	in := bufio.NewReader(conn)
	secure, signedIn := false, s.login == ""
	var m Taken
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		line = strings.TrimRight(line, "\r\n")
		verb, rest, _ := strings.Cut(line, " ")
		switch strings.ToUpper(verb) {
		case "EHLO":
			say("250-sink")
			if s.tls != nil && !secure {
				say("250-STARTTLS")
			}
			if s.login != "" {
				say("250-AUTH PLAIN")
			}
			say("250 8BITMIME")
		case "STARTTLS":
			say("220 go on")
			conn = tls.Server(conn, s.tls)
			in, secure = bufio.NewReader(conn), true
		case "AUTH":
			if _, got, _ := strings.Cut(rest, " "); got != s.login {
				say("535 wrong: " + rest)
				continue
			}
			signedIn = true
			say("235 welcome")
		case "MAIL":
			if !signedIn {
				say("530 sign in first")
				continue
			}
			m = Taken{From: rest}
			say("250 ok")
		case "RCPT":
			if fault == NoMailbox {
				say("550 no such mailbox")
				continue
			}
			m.To = strings.TrimSuffix(strings.TrimPrefix(rest, "TO:<"), ">")
			say("250 ok")
		case "DATA":
			say("354 go on")
			if !s.takeData(in, &m, fault) {
				if fault == Hang {
					<-done
				}
				return
			}
			if fault == Slow {
				time.Sleep(300 * time.Millisecond)
			}
			if fault == Later {
				say("451 try later")
				continue
			}
			say("250 taken")
		case "QUIT":
			say("221 bye")
			return
		default: // NOOP, RSET
			say("250 ok")
		}
	}
}

// takeData reads a message and keeps it; false hangs up.
func (s *Sink) takeData(in *bufio.Reader, m *Taken, fault Fault) bool {
	var data strings.Builder
	for {
		line, err := in.ReadString('\n')
		if err != nil || fault == DropData && data.Len() > 400 {
			return false
		}
		if line == ".\r\n" {
			break
		}
		data.WriteString(strings.TrimPrefix(line, "."))
	}
	if fault == Later {
		return true
	}
	m.Data = data.String()
	m.Message, _ = netmail.ReadMessage(strings.NewReader(m.Data))
	s.mu.Lock()
	s.taken = append(s.taken, *m)
	s.mu.Unlock()
	return fault != DropAnswer && fault != Hang
}
