package fault_test

import (
	"errors"
	"fmt"
	"io"
	"testing"

	"ribdesk/internal/fault"
)

func TestKindSurvivesWrapping(t *testing.T) {
	f := fault.Invalidf("length", "a piece can't be 0 long").Because(io.EOF)
	err := fmt.Errorf("save order: %w", f)
	if !fault.Is(err, fault.Invalid) || fault.KindOf(err) != fault.Invalid {
		t.Fatalf("kind lost in %v", err)
	}
	if !errors.Is(err, io.EOF) {
		t.Fatal("cause lost")
	}
	if got := fault.All(err)[0].At("lines.2").Field; got != "lines.2.length" {
		t.Fatalf("field %q", got)
	}
}

func TestDefectIsNeutral(t *testing.T) {
	all := fault.All(io.ErrUnexpectedEOF)
	if len(all) != 1 || all[0].Kind != 0 || all[0].Cause != io.ErrUnexpectedEOF {
		t.Fatalf("got %+v", all)
	}
	if fault.Is(io.EOF, fault.Invalid) {
		t.Fatal("a defect is no kind")
	}
}

func TestList(t *testing.T) {
	var l fault.List
	if l.Err() != nil {
		t.Fatal("empty list is an error")
	}
	l.Addf("qty", "must be 1 or more")
	l.Add("lines.1", fault.List{fault.Invalidf("length", "is missing")})
	l.Add("x", nil)
	if len(l) != 2 || l[1].Field != "lines.1.length" {
		t.Fatalf("got %v", l)
	}
	if !fault.Is(fmt.Errorf("w: %w", l.Err()), fault.Invalid) {
		t.Fatal("list lost its kind")
	}
}
