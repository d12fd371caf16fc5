// Package totp makes and checks the six figures that a person's phone shows as a
// second step at sign-in: time-based one-time passwords as RFC 6238 gives them,
// over HMAC-SHA-1 and steps of 30 seconds, which every authenticator reads.
//
// It keeps nothing: who has which secret, and which step was used last, is for
// the caller to remember.
package totp

import (
	"crypto/hmac"
	"crypto/sha1" // what the RFC and the phones use; HMAC doesn't need collision resistance
	"crypto/subtle"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"net/url"
	"strings"
	"time"
)

// Digits is how many figures a code has.
const Digits = 6

// SecretBytes is the length of a secret: that of the hash, as RFC 4226 section 4
// recommends.
const SecretBytes = sha1.Size

// step is how long a code holds, and drift how many steps a phone's clock may be
// off either way.
const (
	step  = 30 * time.Second
	drift = 1
)

var letters = base32.StdEncoding.WithPadding(base32.NoPadding)

// Text writes a secret as it is typed into a phone and kept.
func Text(secret []byte) string { return letters.EncodeToString(secret) }

// Secret reads what Text wrote, with spaces and in any case.
func Secret(text string) ([]byte, error) {
	secret, err := letters.DecodeString(strings.ToUpper(strings.Join(strings.Fields(text), "")))
	if err == nil && len(secret) != SecretBytes {
		err = fmt.Errorf("a secret has %d bytes, not %d", SecretBytes, len(secret))
	}
	return secret, err
}

// StepAt gives the number of the step that a moment lies in.
func StepAt(t time.Time) int64 { return t.Unix() / int64(step/time.Second) }

// Code gives the code of a step: RFC 4226 section 5.3 with the step as counter.
func Code(secret []byte, step int64, digits int) string {
	mac := hmac.New(sha1.New, secret)
	_ = binary.Write(mac, binary.BigEndian, step) // a hash takes everything
	sum := mac.Sum(nil)
	at := sum[len(sum)-1] & 0x0f
	n := binary.BigEndian.Uint32(sum[at:at+4]) & 0x7fffffff
	modulus := uint32(1)
	for range digits {
		modulus *= 10
	}
	return fmt.Sprintf("%0*d", digits, n%modulus)
}

// Check looks for the step whose code was typed, around now and later than the
// step used last: no code counts twice (RFC 6238 section 5.2).
func Check(secret []byte, typed string, now time.Time, last int64) (used int64, ok bool) {
	typed = strings.Join(strings.Fields(typed), "")
	for s := StepAt(now) - drift; s <= StepAt(now)+drift; s++ {
		if s > last && subtle.ConstantTimeCompare([]byte(Code(secret, s, Digits)), []byte(typed)) == 1 {
			return s, true
		}
	}
	return 0, false
}

// URI is what a phone reads from a QR code to take the secret over.
func URI(secret []byte, shop, person string) string {
	q := url.Values{"secret": {Text(secret)}, "issuer": {shop}}
	return "otpauth://totp/" + url.PathEscape(shop+":"+person) + "?" + strings.ReplaceAll(q.Encode(), "+", "%20")
}
