package drill_test

import (
	"regexp"
	"strings"
	"testing"
)

// The version names what is built in: what go.mod needs, and nothing that only
// tests use (ASVS 5.0, 15.1.2 and 15.2.3).
func TestPartsAreListed(t *testing.T) {
	out, err := ribdesk(t, "version", "--parts").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, module := range []string{"github.com/gin-gonic/gin", "gorm.io/gorm", "modernc.org/sqlite", "golang.org/x/crypto"} {
		if !regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(module) + ` +v[0-9.]+ +h1:[\w+/]{43}=`).Match(out) {
			t.Errorf("%s isn't listed:\n%s", module, out)
		}
	}
	for _, module := range []string{"pgregory.net/rapid", "chromedp", "kin-openapi"} {
		if strings.Contains(string(out), module) {
			t.Errorf("%s is built in, and only tests use it", module)
		}
	}
	if !strings.Contains(string(out), "Open Sans") {
		t.Error("the font isn't named")
	}
}
