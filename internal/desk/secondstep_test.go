package desk_test

import (
	"errors"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/totp"
)

// phone shows the code of a secret at the shop's time.
func (sh *shop) phone(t *testing.T, secret string) string {
	t.Helper()
	b, err := totp.Secret(secret)
	if err != nil {
		t.Fatal(err)
	}
	return totp.Code(b, totp.StepAt(sh.now), totp.Digits)
}

// secured gives the owner a second step.
func (sh *shop) secured(t *testing.T) (secret string, codes []string) {
	t.Helper()
	secret = sh.NewTOTPSecret()
	codes, err := sh.SetSecondStep(t.Context(), sh.owner, goodPassword, secret, sh.phone(t, secret), "")
	if err != nil {
		t.Fatal(err)
	}
	return secret, codes
}

// half signs the owner in as far as the password goes.
func (sh *shop) half(t *testing.T) string {
	t.Helper()
	token, _, err := sh.SignIn(t.Context(), desk.Login{Email: "ann@example.com", Password: goodPassword})
	var wanted desk.CodeWanted
	if !errors.As(err, &wanted) || token != "" {
		t.Fatalf("signed in with %q, %v", token, err)
	}
	return wanted.Token
}

func TestSecondStep(t *testing.T) {
	sh := newShop(t)
	before, _, err := sh.SignIn(t.Context(), desk.Login{Email: "ann@example.com", Password: goodPassword})
	if err != nil {
		t.Fatal(err)
	}
	secret, codes := sh.secured(t)
	if _, err := sh.Resume(t.Context(), before); !fault.Is(err, fault.NotFound) {
		t.Errorf("a session from before lives on: %v", err)
	}
	half := sh.half(t)
	if _, err := sh.Resume(t.Context(), half); !fault.Is(err, fault.NotFound) {
		t.Errorf("the password alone opens a session: %v", err)
	}
	_, _, err = sh.FinishSignIn(t.Context(), half, sh.phone(t, secret), desk.Login{})
	wantFault(t, err, fault.Invalid, "code") // the one that turned it on counts once
	sh.now = sh.now.Add(30 * time.Second)
	token, p, err := sh.FinishSignIn(t.Context(), half, sh.phone(t, secret), desk.Login{})
	if err != nil || p.ID != sh.owner.PersonID {
		t.Fatal(p, err)
	}
	if _, err := sh.Resume(t.Context(), token); err != nil {
		t.Error(err)
	}
	_, _, err = sh.FinishSignIn(t.Context(), half, codes[0], desk.Login{})
	wantFault(t, err, fault.NotFound, "")

	for range 2 { // a recovery code: once
		_, _, err = sh.FinishSignIn(t.Context(), sh.half(t), " "+codes[0][:5]+codes[0][6:]+" ", desk.Login{})
		if left, _ := sh.CodesLeft(t.Context(), sh.owner); left != 9 {
			t.Errorf("%d codes left", left)
		}
	}
	wantFault(t, err, fault.Invalid, "code")
	late := sh.half(t)
	sh.now = sh.now.Add(10 * time.Minute)
	_, _, err = sh.FinishSignIn(t.Context(), late, sh.phone(t, secret), desk.Login{})
	wantFault(t, err, fault.NotFound, "")
}

// Ten wrong codes in a quarter of an hour, from wherever; the right one then has
// to wait too.
func TestCodesAreThrottled(t *testing.T) {
	sh := newShop(t)
	secret, _ := sh.secured(t)
	sh.now = sh.now.Add(time.Minute)
	for range 10 {
		_, _, err := sh.FinishSignIn(t.Context(), sh.half(t), "000000", desk.Login{Address: "192.0.2.1"})
		wantFault(t, err, fault.Invalid, "code")
	}
	_, _, err := sh.FinishSignIn(t.Context(), sh.half(t), sh.phone(t, secret), desk.Login{Address: "198.51.100.1"})
	wantFault(t, err, fault.Busy, "")
	sh.now = sh.now.Add(15 * time.Minute)
	if _, _, err := sh.FinishSignIn(t.Context(), sh.half(t), sh.phone(t, secret), desk.Login{}); err != nil {
		t.Error(err)
	}
}

// One code sent by many at once opens one session.
func TestCodeCountsOnce(t *testing.T) {
	sh := newShop(t)
	secret, _ := sh.secured(t)
	sh.now = sh.now.Add(time.Minute)
	halves := make([]string, 8)
	for i := range halves {
		halves[i] = sh.half(t)
	}
	code := sh.phone(t, secret)
	in := make(chan bool, len(halves))
	var wg sync.WaitGroup
	for _, half := range halves {
		wg.Go(func() {
			_, _, err := sh.FinishSignIn(t.Context(), half, code, desk.Login{})
			in <- err == nil
		})
	}
	wg.Wait()
	close(in)
	n := 0
	for ok := range in {
		if ok {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d of %d signed in with one code", n, len(halves))
	}
}

func TestWhoHasASecondStep(t *testing.T) {
	sh := newShop(t)
	bo := sh.add(t, "bo", party.Bookkeeper, 0)
	driver := sh.add(t, "dee", party.Driver, 0)
	secret := sh.NewTOTPSecret()
	_, err := sh.SetSecondStep(t.Context(), driver.Actor(), goodPassword, secret, sh.phone(t, secret), "")
	wantFault(t, err, fault.Denied, "")
	_, err = sh.SetSecondStep(t.Context(), bo.Actor(), "other words", secret, sh.phone(t, secret), "")
	wantFault(t, err, fault.Invalid, "password")
	_, err = sh.SetSecondStep(t.Context(), bo.Actor(), goodPassword, secret, "000000", "")
	wantFault(t, err, fault.Invalid, "code")

	owes := func(p party.Person) bool {
		p, err := sh.Person(t.Context(), sh.owner, p.ID)
		if err != nil {
			t.Fatal(err)
		}
		owes, err := sh.OwesSecondStep(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		return owes
	}
	if owes(bo) {
		t.Error("demanded though nobody asked for it")
	}
	wantFault(t, sh.SaveGuard(t.Context(), bo.Actor(), desk.Guard{SecondStep: true}, 0), fault.Denied, "")
	if err := sh.SaveGuard(t.Context(), sh.owner, desk.Guard{SecondStep: true}, 0); err != nil {
		t.Fatal(err)
	}
	if !owes(bo) || owes(driver) {
		t.Error("the demand is for owner and bookkeeper")
	}
	if _, err = sh.SetSecondStep(t.Context(), bo.Actor(), goodPassword, secret, sh.phone(t, secret), ""); err != nil || owes(bo) {
		t.Fatal(err)
	}
	wantFault(t, sh.ResetSecondStep(t.Context(), bo.Actor(), bo.ID), fault.Denied, "")
	if err := sh.ResetSecondStep(t.Context(), sh.owner, bo.ID); err != nil || !owes(bo) {
		t.Error(err)
	}
	if _, _, err := sh.SignIn(t.Context(), desk.Login{Email: "bo@example.com", Password: goodPassword}); err != nil {
		t.Error(err)
	}
}
