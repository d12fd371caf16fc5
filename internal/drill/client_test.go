package drill_test

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/party"
)

// client is a browser for load: it keeps cookies and a form token and sends
// forms without looking at pages.
type client struct {
	*http.Client
	url   string
	token string
}

func newClient(url string) *client {
	jar, _ := cookiejar.New(nil) // no options, no error
	return &client{url: url, Client: &http.Client{Jar: jar, Timeout: 30 * time.Second, Transport: &http.Transport{MaxIdleConnsPerHost: 4},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

var tokenForm = regexp.MustCompile(`name="form_token" value="([^"]+)"`)

// signIn gives a client that is signed in as a role of the demo.
func signIn(t testing.TB, at string, role party.Role) *client {
	t.Helper()
	c := newClient(at)
	if err := c.takeToken("/sign-in"); err != nil {
		t.Fatal(err)
	}
	a, err := c.post("/sign-in", url.Values{"email": {demo.People().Of(role).Email}, "password": {demo.Password}})
	if err != nil || a.status != http.StatusSeeOther {
		t.Fatalf("sign-in: %+v, %v", a, err)
	}
	if err := c.takeToken("/me"); err != nil {
		t.Fatal(err)
	}
	return c
}

// elsewhere is the same browser at another server of the same desk.
func (c *client) elsewhere(at string) *client {
	from, _ := url.Parse(c.url)
	to, _ := url.Parse(at)
	d := newClient(at)
	d.Jar.SetCookies(to, c.Jar.Cookies(from))
	d.token = c.token
	return d
}

func (c *client) takeToken(path string) error {
	a, err := c.get(path)
	if err != nil {
		return err
	}
	m := tokenForm.FindStringSubmatch(a.body)
	if m == nil {
		return fmt.Errorf("%s (%d) has no form token", path, a.status)
	}
	c.token = m[1]
	return nil
}

type answer struct {
	status   int
	location string
	body     string
	wait     string // Retry-After
}

func (c *client) do(r *http.Request, err error) (answer, error) {
	if err != nil {
		return answer{}, err
	}
	res, err := c.Client.Do(r)
	if err != nil {
		return answer{}, err
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	return answer{res.StatusCode, res.Header.Get("Location"), string(body), res.Header.Get("Retry-After")}, err
}

func (c *client) get(path string) (answer, error) {
	return c.do(http.NewRequest("GET", c.url+path, nil))
}

func (c *client) status(path string) (int, error) {
	a, err := c.get(path)
	return a.status, err
}

// key gives a form's key.
func key() string {
	b := make([]byte, 16)
	_, _ = rand.Read(b)
	return hex.EncodeToString(b)
}

// post sends a form; it carries a fresh key unless values have one.
func (c *client) post(path string, values url.Values) (answer, error) {
	if values.Get("form_key") == "" {
		values.Set("form_key", key())
	}
	values.Set("form_token", c.token)
	r, err := http.NewRequest("POST", c.url+path, strings.NewReader(values.Encode()))
	if err == nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	return c.do(r, err)
}

// asking is the counter's form of a small order.
func asking(do string) url.Values {
	return url.Values{
		"lines.0.make": {"formed:SEAM16"}, "lines.0.metal": {"AZ50|24 ga|CHAR"}, "lines.0.cuts": {"4 @ 12' 6\"\n8 @ 18-3"},
		"contact.name": {"Wren Sparrow"}, "contact.phone": {"555 0100"}, "fulfil": {"pick-up"}, "do": {do},
	}
}

// errRefused is an answer that isn't the one a done request gets.
var errRefused = errors.New("not done")

// takeOrder keeps an order at the counter and gives its id once the server says
// that it is kept.
func (c *client) takeOrder(key string) (int64, error) {
	form := asking("keep")
	if key != "" {
		form.Set("form_key", key)
	}
	a, err := c.post("/counter", form)
	if err != nil {
		return 0, err
	}
	id, ok := strings.CutPrefix(a.location, "/orders/")
	if a.status != http.StatusSeeOther || !ok {
		return 0, fmt.Errorf("%w: %d to %q", errRefused, a.status, a.location)
	}
	return strconv.ParseInt(id, 10, 64)
}

// freePort gives a port that nobody listens on.
func freePort(t testing.TB) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}
