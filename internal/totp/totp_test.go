package totp_test

import (
	"net/url"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/totp"
)

// RFC 6238, appendix B: the SHA-1 rows of the test vectors, eight figures.
func TestVectorsOfRFC6238(t *testing.T) {
	secret := []byte("12345678901234567890")
	for _, c := range []struct {
		at   int64
		want string
	}{
		{59, "94287082"}, {1111111109, "07081804"}, {1111111111, "14050471"},
		{1234567890, "89005924"}, {2000000000, "69279037"}, {20000000000, "65353130"},
	} {
		if got := totp.Code(secret, totp.StepAt(time.Unix(c.at, 0)), 8); got != c.want {
			t.Errorf("at %d: %s, want %s", c.at, got, c.want)
		}
	}
}

// RFC 4226, appendix D: the same secret with counters 0 to 9, six figures.
func TestVectorsOfRFC4226(t *testing.T) {
	for counter, want := range []string{"755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"} {
		if got := totp.Code([]byte("12345678901234567890"), int64(counter), totp.Digits); got != want {
			t.Errorf("counter %d: %s, want %s", counter, got, want)
		}
	}
}

func TestCheck(t *testing.T) {
	secret := []byte("12345678901234567890")
	now := time.Unix(1_800_000_015, 0)
	here := totp.StepAt(now)
	for _, c := range []struct {
		name     string
		of, last int64
		ok       bool
	}{
		{"now", here, 0, true}, {"one step slow", here - 1, 0, true}, {"one step fast", here + 1, 0, true},
		{"two steps slow", here - 2, 0, false}, {"two steps fast", here + 2, 0, false},
		{"used", here, here, false}, {"before the one used", here - 1, here, false}, {"after the one used", here + 1, here, true},
	} {
		code := totp.Code(secret, c.of, totp.Digits)
		used, ok := totp.Check(secret, code[:3]+" "+code[3:], now, c.last)
		if ok != c.ok || ok && used != c.of {
			t.Errorf("%s: %v at step %d", c.name, ok, used)
		}
	}
	for _, typed := range []string{"", "000000000", "12345", "abcdef", "１２３４５６"} {
		if _, ok := totp.Check(secret, typed, now, 0); ok {
			t.Errorf("%q counts", typed)
		}
	}
}

func TestSecretsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		secret := rapid.SliceOfN(rapid.Byte(), totp.SecretBytes, totp.SecretBytes).Draw(t, "secret")
		back, err := totp.Secret(totp.Text(secret))
		if err != nil || string(back) != string(secret) {
			t.Fatalf("%x came back as %x, %v", secret, back, err)
		}
	})
	for _, bad := range []string{"", "JBSWY3DP", "not base32!", "0189"} {
		if _, err := totp.Secret(bad); err == nil {
			t.Errorf("%q is taken for a secret", bad)
		}
	}
}

func TestURI(t *testing.T) {
	u, err := url.Parse(totp.URI([]byte("12345678901234567890"), "Ridge & Rib", "ann@example.com"))
	if err != nil || u.Scheme != "otpauth" || u.Host != "totp" || u.Path != "/Ridge & Rib:ann@example.com" ||
		u.Query().Get("secret") != "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ" || u.Query().Get("issuer") != "Ridge & Rib" {
		t.Errorf("%v, %v", u, err)
	}
}
