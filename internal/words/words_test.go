package words_test

import (
	"strings"
	"testing"
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/words"
)

func TestReader(t *testing.T) {
	type state string // a vocabulary
	es := words.Reader{Language: words.Spanish, Units: string(measure.StyleMetric)}
	en := words.Reader{Units: string(measure.StyleFeetInches)}
	for got, want := range map[string]string{
		es.T("Sign in"):  "Entrar",
		en.T("Sign in"):  "Sign in",
		es.Read("Lot 7"): "Lot 7",
		es.Read(nil):     "",
		en.T("of|the day of the corrected invoice"):                              "of",
		es.T("of|the day of the corrected invoice"):                              "del",
		es.T("Tax, %s: %s %% on %s", state("accepted"), words.Say("cut"), "cut"): "Impuesto, aceptado: cortado % sobre cut", // a plain string is data
		es.N(1, "Bundle %d of %d", "bundle", 1, 3):                               "Paquete 1 de 3",
		es.N(2, "Bundle %d of %d", "bundle"):                                     "paquete",
		en.T("%s wide", 18*measure.Inch):                                         "1′ 6″ wide",
		es.T("%s wide", measure.Metre):                                           "1000 mm wide",
		words.Say("%s wide", 18*measure.Inch).String():                           `1' 6" wide`,
		words.Reader{Language: words.Marked}.T("Sign in"):                        "⟦Sign in⟧",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestDates(t *testing.T) {
	at := time.Date(2026, 8, 5, 15, 4, 0, 0, time.UTC)
	es := words.Reader{Language: words.Spanish}
	for got, want := range map[string]string{
		es.Day(at): "5 ago 2026", es.ShortDay(at): "mié 5 ago", es.When(at): "mié 5 ago 2026, 3:04 p. m.",
		words.Reader{}.Day(at): "Aug 5, 2026", words.Reader{}.ShortDay(at): "Wed Aug 5", words.Reader{}.When(at): "Wed Aug 5, 2026 3:04 PM",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestPreferred(t *testing.T) {
	for header, want := range map[string]words.Language{
		"": words.English, "es-MX,es;q=0.9,en;q=0.8": words.Spanish, "fr, es;q=0.5": words.Spanish, "en-US,es": words.English, "de": words.English,
	} {
		if got := words.Preferred(header); got != want {
			t.Errorf("%q: got %s, want %s", header, got, want)
		}
	}
}

func TestCatalogueRefuses(t *testing.T) {
	for name, file := range map[string]string{
		"twice":          "msgid \"a\"\nmsgstr \"b\"\nmsgid \"a\"\nmsgstr \"c\"\n",
		"nothing":        "msgid \"a\"\nmsgstr \"\"\n",
		"no msgid":       "msgstr \"b\"\n",
		"broken quotes":  "msgid \"a\nmsgstr \"b\"\n",
		"something else": "msgctxt \"a\"\n",
	} {
		if _, err := words.ParseCatalogue(file); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
	list, err := words.ParseCatalogue("# a remark\nmsgid \"\"\n\"long \"\n\"text\"\nmsgstr \"largo\"\n")
	if err != nil || list["long text"] != "largo" || len(list) != 1 {
		t.Errorf("got %v, %v", list, err)
	}
	if strings.Contains(words.Reader{}.T("of|the day of the corrected invoice"), "|") {
		t.Error("a remark is shown")
	}
}

// A percent sign is written as in any format, with figures or without.
func TestPercentSign(t *testing.T) {
	for want, said := range map[string]words.Text{"0 to 99 %": words.Say("0 to 99 %%"), "0 to 99 %, not 120 %": words.Say("0 to 99 %%, not %d %%", 120)} {
		if got := said.String(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
