package web_test

import (
	"testing"

	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// The rates and the catalogue, looked at on a phone and on a desk.
func TestLookAtRatesAndCatalogue(t *testing.T) {
	t.Parallel()
	site := webtest.Furnished(t)
	b := browsertest.Start(t, site)
	b.As(party.Owner)
	for _, page := range []struct{ name, path string }{
		{"rates", "/rates"}, {"settings", "/shop/settings"}, {"shelf-supplies", "/shop/catalogue/supplies"}, {"shelf-colours", "/shop/catalogue/colours"},
		{"profile", "/shop/catalogue/profiles/SEAM16"}, {"shape", "/shop/catalogue/shapes/RIDGE"}, {"machine", "/shop/catalogue/machines/FORMER"},
		{"supply", "/shop/catalogue/supplies/AZ50-24-20-CHAR"}, {"material", "/shop/catalogue/materials/AZ50"},
		{"accessory", "/shop/catalogue/accessories/SEALANT"}, {"vehicle", "/shop/catalogue/vehicles/TRAILER"}, {"profile-new", "/shop/catalogue/profiles/new"},
	} {
		b.Look(page.name, page.path)
	}
}
