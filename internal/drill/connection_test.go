package drill_test

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"
)

// dial opens a bare connection to a server.
func dial(t *testing.T, s *server) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// F11: who sends a header a byte at a time is dropped in ten seconds, and others
// are served meanwhile.
func TestSlowHeader(t *testing.T) {
	if !full {
		t.Skip("takes ten seconds: 'make drill' runs it")
	}
	s := serve(t, sqliteShop(t, t.TempDir()), freePort(t))
	const slow = 200
	start, ended := time.Now(), make(chan time.Duration, slow)
	for range slow {
		c := dial(t, s)
		go func() {
			fmt.Fprint(c, "GET / HTTP/1.1\r\nHost: desk\r\nX-Slow: ")
			go func() {
				for {
					if _, err := c.Write([]byte("x")); err != nil {
						return
					}
					time.Sleep(500 * time.Millisecond)
				}
			}()
			_, _ = io.Copy(io.Discard, c)
			ended <- time.Since(start)
		}()
	}
	if status, err := newClient(s.url).status("/sign-in"); err != nil || status != http.StatusOK {
		t.Errorf("beside slow ones: %d, %v", status, err)
	}
	var last time.Duration
	for range slow {
		select {
		case took := <-ended:
			last = max(last, took)
		case <-time.After(15 * time.Second):
			t.Fatal("a slow header is still waited for after 15 s")
		}
	}
	if last > 11*time.Second {
		t.Errorf("the last was dropped after %s", last)
	}
	figures.add("F11 slow headers", "dropped in 10 s", "%d connections a byte at a time: all dropped after %.1f s at most, others served meanwhile", slow, last.Seconds())
}

// What names its length in two ways could be two requests to somebody in
// between: the second of them is never answered (RFC 9112, section 6.1).
func TestTwoLengths(t *testing.T) {
	s := serve(t, sqliteShop(t, t.TempDir()), freePort(t))
	smuggled := "GET /healthz HTTP/1.1\r\nHost: desk\r\n\r\n"
	for name, request := range map[string]string{
		"length and chunks": fmt.Sprintf("POST /sign-in HTTP/1.1\r\nHost: desk\r\nContent-Length: %d\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n%s", 5+len(smuggled), smuggled),
		"two lengths":       "POST /sign-in HTTP/1.1\r\nHost: desk\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\na=b&" + smuggled,
		"odd chunks":        "POST /sign-in HTTP/1.1\r\nHost: desk\r\nTransfer-Encoding: chunked, identity\r\n\r\n0\r\n\r\n" + smuggled,
	} {
		c := dial(t, s)
		if _, err := fmt.Fprint(c, request); err != nil {
			t.Fatal(err)
		}
		if err := c.SetReadDeadline(time.Now().Add(2 * time.Second)); err != nil {
			t.Fatal(err)
		}
		in := bufio.NewReader(c)
		first, err := http.ReadResponse(in, nil)
		if err != nil || first.StatusCode < 400 {
			t.Fatalf("%s: %v, %v", name, first, err)
		}
		if _, err := io.Copy(io.Discard, first.Body); err != nil {
			t.Fatal(err)
		}
		if second, err := http.ReadResponse(in, nil); !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Errorf("%s: the connection goes on: %v, %v", name, second, err)
		}
	}
}
