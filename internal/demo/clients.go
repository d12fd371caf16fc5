package demo

import (
	"context"
	"strings"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

// Classes of customers, which prices go by.
const (
	trade  = "trade"
	walkIn = "walk-in"
)

// client is a customer with the job sites their orders go to.
type client struct {
	party.Customer
	contact string
	sites   []party.Site
}

type clientRow struct {
	name, contact, class, city, state string
	terms                             party.Terms
	limit                             int64 // dollars
	certificate                       string
	sites                             string // name, street, city and miles, with | and ; between
	spanish                           bool
	style                             measure.Style
	hold                              string
}

var (
	net30  = party.Terms{NetDays: 30}
	net15  = party.Terms{NetDays: 15}
	twoTen = party.Terms{NetDays: 30, DiscountDays: 10, Discount: money.Must("0.02")}
	atOnce = party.Terms{}
)

// The customers. The first is the firm that the demo's customer account buys for.
var clientRows = []clientRow{
	{name: "Sparrow & Gable Roofing (demo)", contact: "Wren Sparrow", class: trade, city: "Flangeford", state: home, terms: net30, limit: 18_000, certificate: "ZE-RS-100231",
		sites: "Millpond barn|88 Millpond Rd|Lower Seam|14.2;Chapel hall|3 Chapel Hill|Flangeford|4.5"},
	{name: "Tall Pine Builders (demo)", contact: "Ash Larch", class: trade, city: "Lower Seam", state: home, terms: twoTen, limit: 25_000, certificate: "ZE-RS-100418",
		sites: "Lot 7, Quarry Lane|7 Quarry Ln|Lower Seam|17.8;Dairy shed|410 Creamery Rd|Ridgeway Bend|31.0"},
	{name: "Kestrel Exteriors (demo)", contact: "Kit Kestrel", class: trade, city: "Ridgeway Bend", state: home, terms: net15, limit: 9_000,
		sites: "Harrow house|19 Harrow St|Ridgeway Bend|28.4"},
	{name: "Northslope Sheet Metal (demo)", contact: "Nell Frost", class: trade, city: "Flangeford", state: home, terms: net30, limit: 12_000, certificate: "ZE-RS-100077",
		sites: "Library annex|200 Book Row|Flangeford|6.1", style: measure.StyleInches},
	{name: "Techos del Valle (demo)", contact: "Sol Ribera", class: trade, city: "Lower Seam", state: home, terms: net15, limit: 7_500, certificate: "ZE-RS-100502",
		sites: "Casa Ribera|52 Orchard Way|Lower Seam|19.3", spanish: true},
	{name: "Copperleaf Gutters (demo)", contact: "Ivy Leaf", class: trade, city: "Westerfold", state: away, terms: net30, limit: 6_000, certificate: "ZW-55-0193",
		sites: "Riverside row|1-9 Ferry St|Westerfold|38.6"},
	{name: "Old Barn Carpentry (demo)", contact: "Moss Thatcher", class: trade, city: "Ridgeway Bend", state: home, terms: net15, limit: 5_000,
		sites: "Thatcher yard|6 Sawmill Rd|Ridgeway Bend|27.0"},
	{name: "Two Ladders Roofing (demo)", contact: "Lark Fielding", class: trade, city: "Flangeford", state: home, terms: net30, limit: 8_000,
		sites: "Fielding duplex|33 Elm Bend|Flangeford|3.2"},
	{name: "Harrow & Daughters Farm (demo)", contact: "June Harrow", class: walkIn, city: "Lower Seam", state: home, terms: atOnce,
		sites: "Hay barn|901 Section Rd|Lower Seam|22.7"},
	{name: "Stonewell Estate (demo)", contact: "Rook Stonewell", class: walkIn, city: "Westerfold", state: away, terms: atOnce,
		sites: "Gatehouse|1 Stonewell Dr|Westerfold|41.2"},
	{name: "Brightwater School District (demo)", contact: "Fern Dale", class: trade, city: "Flangeford", state: home, terms: net30, limit: 20_000, certificate: "ZE-EX-000914",
		sites: "Bus shelter|700 School Rd|Flangeford|5.9"},
	{name: "Quick Fix Handyman (demo)", contact: "Jay Swift", class: walkIn, city: "Flangeford", state: home, terms: atOnce},
	{name: "Greenfield Sheds (demo)", contact: "Clover Green", class: trade, city: "Lower Seam", state: home, terms: net30, limit: 10_000, certificate: "ZE-RS-100640",
		sites: "Shed yard|15 Pallet Rd|Lower Seam|16.5", style: measure.StyleFeet},
	{name: "Late Again Siding (demo)", contact: "Otter Slow", class: trade, city: "Ridgeway Bend", state: home, terms: net15, limit: 3_000, hold: "two invoices past 60 days"},
}

func (s *shop) addCustomers(ctx context.Context) error {
	for _, row := range clientRows {
		c, err := s.addClient(ctx, row)
		if err != nil {
			return err
		}
		s.clients = append(s.clients, c)
	}
	s.firm = s.clients[0].ID
	return s.addBuyer(ctx)
}

func (s *shop) addClient(ctx context.Context, row clientRow) (client, error) {
	language := "en"
	if row.spanish {
		language = "es"
	}
	word := strings.ToLower(strings.Fields(row.name)[0])
	c := client{contact: row.contact, Customer: party.Customer{
		Name: row.name, Class: row.class, Email: word + "@example.com", Phone: "(555) 555-01" + twoDigits(11+len(s.clients)),
		Billing: party.Address{Street: twoDigits(20+len(s.clients)) + " Purlin St", City: row.city, State: row.state, Postal: "001" + twoDigits(12+len(s.clients)), Country: "US"},
		Terms:   row.terms, CreditLimit: money.Cents(row.limit*100, money.USD), Language: language, Style: row.style,
		Hold: row.hold != "", HoldReason: row.hold,
	}}
	var err error
	if c.Customer, err = s.AddCustomer(ctx, s.as(party.Bookkeeper), c.Customer); err != nil {
		return c, err
	}
	if err := s.addSites(ctx, &c, row); err != nil {
		return c, err
	}
	if row.certificate == "" {
		return c, nil
	}
	signed := s.start.AddDate(-1, -2, 0)
	_, err = s.AddCertificate(ctx, s.as(party.Bookkeeper), party.Certificate{
		CustomerID: c.ID, Number: row.certificate, State: row.state, Goods: "roofing metal for resale", Signed: signed, Expires: signed.AddDate(3, 0, 0),
	})
	return c, err
}

func (s *shop) addSites(ctx context.Context, c *client, row clientRow) error {
	for _, text := range strings.Split(row.sites, ";") {
		f := strings.Split(text, "|")
		if len(f) != 4 {
			continue
		}
		miles := money.Must(f[3]).Mul(money.Int(10))
		site, err := s.SaveSite(ctx, s.as(party.Counter), party.Site{
			CustomerID: c.ID, Name: f[0], Address: party.Address{Street: f[1], City: f[2], State: row.state, Postal: "00150", Country: "US"},
			Contact: row.contact, Phone: c.Phone, AccessNotes: "Gravel drive; call ahead.", MilesTenths: int64(miles.Float()),
		})
		if err != nil {
			return err
		}
		c.sites = append(c.sites, site)
	}
	return nil
}

func twoDigits(n int) string { return string(rune('0'+n/10%10)) + string(rune('0'+n%10)) }

// asked starts an order of a client.
func (c client) asked() order.Order {
	return order.Order{CustomerID: c.ID, Customer: c.Name, Fulfil: order.PickUp, Contact: order.Contact{Name: c.contact, Email: c.Email, Phone: c.Phone}}
}
