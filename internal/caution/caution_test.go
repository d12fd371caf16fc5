package caution_test

import (
	"regexp"
	"slices"
	"testing"

	"ribdesk/internal/caution"
	"ribdesk/internal/words"
)

var figure = regexp.MustCompile(`[0-9][0-9.,]*[0-9]|[0-9]`)

// A translation must carry the same figures as the original.
func TestLanguagesAgreeInEveryFigure(t *testing.T) {
	english, spanish := caution.All(words.English), caution.All(words.Spanish)
	if len(english) != 12 || len(spanish) != 12 {
		t.Fatalf("%d and %d cautions", len(english), len(spanish))
	}
	for i, e := range english {
		s := spanish[i]
		if e.Text == "" || s.Text == "" || e.Title == "" || s.Title == "" || e.Text == s.Text {
			t.Errorf("%s lacks words", e.Code)
		}
		a, b := figure.FindAllString(e.Text, -1), figure.FindAllString(s.Text, -1)
		slices.Sort(a)
		slices.Sort(b)
		if !slices.Equal(a, b) {
			t.Errorf("%s: figures %v in English, %v in Spanish", e.Code, a, b)
		}
	}
}

func TestEveryPaperEndsByDeferring(t *testing.T) {
	for _, p := range []caution.Paper{caution.Quote, caution.Acknowledgment, caution.RunSheet, caution.PickTicket,
		caution.BundleLabel, caution.CoilTag, caution.LoadSheet, caution.DeliveryTicket} {
		got := caution.For(p, words.English)
		if len(got) < 2 || got[len(got)-1].Code != caution.Deference {
			t.Errorf("%s: %v", p, got)
		}
	}
	if got := caution.For("napkin", "fr"); len(got) != 1 || got[0] != caution.Of(caution.Deference, words.English) {
		t.Errorf("unknown paper: %v", got)
	}
	if got := caution.Of("C13", words.English); got != (caution.Caution{}) {
		t.Errorf("unknown code: %v", got)
	}
}

func TestRunSheetCarriesMachineAndCoils(t *testing.T) {
	var codes []caution.Code
	for _, c := range caution.For(caution.RunSheet, words.Spanish) {
		codes = append(codes, c.Code)
	}
	want := []caution.Code{"C1", "C3", "C4", "C5", "C6", "C7", "C12"}
	if !slices.Equal(codes, want) {
		t.Errorf("got %v", codes)
	}
}
