package desk

import (
	"context"
	"crypto/subtle"
	_ "embed"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"

	"ribdesk/internal/fault"
)

// Argon2id with 19 MiB, two passes and one lane: the first choice of OWASP's
// Password Storage Cheat Sheet (from memory). About 0.1 s.
const (
	argonMemory = 19 * 1024
	argonPasses = 2
	argonLanes  = 1
	argonSalt   = 16
	argonHash   = 32
)

// Password limits, in characters (OWASP ASVS 5.0, 6.2.1 and 6.2.9: 8 or more,
// at least 64 must be possible).
const (
	passwordMin = 8
	passwordMax = 128
)

// hashPassword gives the text that is stored:
// $argon2id$v=19$m=19456,t=2,p=1$salt$hash.
func (d *Desk) hashPassword(ctx context.Context, password string) (string, error) {
	salt := d.bytes(argonSalt)
	hash, err := d.argon(ctx, password, salt, argonPasses, argonMemory, argonLanes, argonHash)
	if err != nil {
		return "", err
	}
	enc := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, argonMemory, argonPasses, argonLanes, enc(salt), enc(hash)), nil
}

// argon waits for one of a few seats: each hash takes 19 MiB and a processor.
func (d *Desk) argon(ctx context.Context, password string, salt []byte, passes, memory uint32, lanes uint8, size uint32) ([]byte, error) {
	select {
	case d.hashing <- struct{}{}:
		defer func() { <-d.hashing }()
	case <-ctx.Done():
		return nil, fault.New(fault.Busy, "", "Too many people are signing in at once. Please try again.").Because(ctx.Err())
	}
	return argon2.IDKey([]byte(password), salt, passes, memory, lanes, size), nil
}

// nobodysHash is checked when there is no such person, so that the answer takes
// as long as for a wrong password. No password fits it.
const nobodysHash = "$argon2id$v=19$m=19456,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

// passwordFits reports whether a password is the one of a stored hash.
func (d *Desk) passwordFits(ctx context.Context, password, stored string) (bool, error) {
	var version, memory, passes uint32
	var lanes uint8
	parts := strings.Split(stored, "$")
	if len(parts) != 6 || parts[1] != "argon2id" {
		return false, errors.New("a stored password hash has an unknown form")
	}
	_, err := fmt.Sscanf(parts[2]+" "+parts[3], "v=%d m=%d,t=%d,p=%d", &version, &memory, &passes, &lanes)
	salt, err2 := base64.RawStdEncoding.DecodeString(parts[4])
	want, err3 := base64.RawStdEncoding.DecodeString(parts[5])
	if err := errors.Join(err, err2, err3); err != nil {
		return false, fmt.Errorf("read a stored password hash: %w", err)
	}
	got, err := d.argon(ctx, password, salt, passes, memory, lanes, uint32(len(want)))
	return err == nil && subtle.ConstantTimeCompare(got, want) == 1, err
}

// commonWords are words that guessed passwords are made of; our own collection
// of general knowledge, one a line.
//
//go:embed commonwords.txt
var commonWords string

var commonWordSet = sync.OnceValue(func() map[string]bool {
	set := map[string]bool{}
	for _, w := range strings.Fields(commonWords) {
		set[w] = true
	}
	return set
})

// CheckPassword refuses passwords that are guessed first: too short, one of the
// common words whatever digits and signs stand around it, one character or one
// run of keys over and over, or the person's own name or address.
func CheckPassword(field, password string, own ...string) error {
	n := utf8.RuneCountInString(password)
	switch {
	case n < passwordMin:
		return fault.Invalidf(field, "use %d characters or more; a few words in a row are good", passwordMin)
	case n > passwordMax:
		return fault.Invalidf(field, "use at most %d characters", passwordMax)
	case !utf8.ValidString(password):
		return fault.Invalidf(field, "this isn't readable text")
	}
	plain := plainWord(password)
	if commonWordSet()[plain] || len(plain) < 3 && monotone(password) || isRun(strings.ToLower(password)) {
		return fault.Invalidf(field, "this password is among the first that are guessed; a few words in a row are better")
	}
	for _, name := range own {
		local, _, _ := strings.Cut(strings.ToLower(name), "@")
		if w := plainWord(local); len(w) >= 3 && plain == w {
			return fault.Invalidf(field, "don't use your own name or address as password")
		}
	}
	return nil
}

// plainWord undoes the usual disguises: capitals, digits and signs around the
// word, figures for letters inside it.
func plainWord(s string) string {
	s = strings.TrimFunc(strings.ToLower(s), func(r rune) bool { return !unicode.IsLetter(r) })
	s = strings.NewReplacer("0", "o", "1", "i", "3", "e", "4", "a", "5", "s", "7", "t", "@", "a", "$", "s", "!", "i").Replace(s)
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) {
			return r
		}
		return -1
	}, s)
}

// monotone reports whether a text has fewer than four different characters.
func monotone(s string) bool {
	seen := map[rune]bool{}
	for _, r := range s {
		seen[r] = true
	}
	return len(seen) < 4
}

// keyRuns are keys in a row.
var keyRuns = []string{"01234567890123456789", "98765432109876543210", "abcdefghijklmnopqrstuvwxyz", "qwertyuiopasdfghjklzxcvbnm", "qazwsxedcrfvtgbyhnujmikolp", "1qaz2wsx3edc4rfv5tgb6yhn", "1q2w3e4r5t6y7u8i9o0p"}

// isRun reports whether a text is nothing but keys in a row, or one short piece
// repeated.
func isRun(s string) bool {
	for _, run := range keyRuns {
		if strings.Contains(run, s) {
			return true
		}
	}
	for size := 1; size <= min(4, len(s)/2); size++ {
		if len(s)%size == 0 && strings.Repeat(s[:size], len(s)/size) == s {
			return true
		}
	}
	return false
}
