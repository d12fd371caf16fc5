package price

import (
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Rules is the newest rule set. Price knows it and every one before it.
const Rules = 1

// Day is a calendar day as 2026-11-25; "" is no day.
type Day string

// Input is everything one price is made of.
type Input struct {
	Rules  int      `json:"rules"`
	Shop   Shop     `json:"shop"`
	Order  Order    `json:"order"`
	WhatIf *Changes `json:"what_if,omitempty"` // tried on top of the shop's figures; nil in a quote that is sent
}

// Shop is what things cost and earn, as far as one order needs it.
type Shop struct {
	Currency money.Currency `json:"currency,omitempty"` // USD unless set
	Centers  []Center       `json:"centers,omitempty"`
	Stock    []Stock        `json:"stock,omitempty"`
	Targets  []Target       `json:"targets"`
	Policy   Policy         `json:"policy"`
	Bundle   money.Rate     `json:"bundle,omitzero"` // cost of packing one bundle
	Delivery *Tariff        `json:"delivery,omitempty"`
	Onsite   *Onsite        `json:"onsite,omitempty"`
	Tax      Tax            `json:"tax,omitzero"`
}

// Center is a place where work is done by the hour: a roll former, a gutter
// machine, a brake.
type Center struct {
	ID       string     `json:"id"`
	Label    string     `json:"label"`
	Machine  Machine    `json:"machine"`
	Crew     []Wage     `json:"crew,omitempty"`
	Burden   money.Rate `json:"burden,omitzero"`     // share on top of wages
	PaidIdle bool       `json:"paid_idle,omitempty"` // the crew is paid whether it works or not: labor isn't in the floor
	Overhead money.Rate `json:"overhead,omitzero"`   // per machine hour
	Dated    Day        `json:"dated,omitempty"`     // when these figures were last looked at
}

// Wage is one kind of hand in a crew.
type Wage struct {
	Label  string     `json:"label"`
	Hourly money.Rate `json:"hourly"`
	Count  int        `json:"count,omitempty"` // 1 unless set
}

// Machine is the hour of a machine: a worksheet, or figures that are given.
type Machine struct {
	Given *GivenHour `json:"given,omitempty"`
	Sheet *HourSheet `json:"sheet,omitempty"`
}

// GivenHour is a machine hour taken as it is.
type GivenHour struct {
	Rate   money.Rate `json:"rate"`
	Pocket money.Rate `json:"pocket,omitzero"` // the part that is spent only when it runs
}

// HourSheet is the machine-hour worksheet. Depreciation is by capital recovery
// over Years (straight line at no interest) or, with LifeHours, by hours run,
// with interest on the mean value.
type HourSheet struct {
	Purchase    money.Rate `json:"purchase"`
	Residual    money.Rate `json:"residual,omitzero"`
	Interest    money.Rate `json:"interest,omitzero"` // per year
	Years       int        `json:"years,omitempty"`
	LifeHours   money.Rate `json:"life_hours,omitzero"`
	AnnualHours money.Rate `json:"annual_hours"`          // hours run, not hours open
	OwnShare    money.Rate `json:"own_share,omitzero"`    // insurance, tax, shelter per year, of the mean value
	Insurance   money.Rate `json:"insurance,omitzero"`    // per year
	RepairShare money.Rate `json:"repair_share,omitzero"` // per year, of the purchase price
	Repair      money.Rate `json:"repair,omitzero"`       // per year
	RepairLife  money.Rate `json:"repair_life,omitzero"`  // over LifeHours, of the purchase price
	Fuel        money.Rate `json:"fuel,omitzero"`         // gallons an hour
	FuelEach    money.Rate `json:"fuel_each,omitzero"`    // per gallon
	Lubricant   money.Rate `json:"lubricant,omitzero"`    // share of fuel
	Power       money.Rate `json:"power,omitzero"`        // kilowatts
	PowerEach   money.Rate `json:"power_each,omitzero"`   // per kilowatt hour
	Yearly      []Charge   `json:"yearly,omitempty"`      // standing: rent, supervisor
	Hourly      []Charge   `json:"hourly,omitempty"`      // only when it runs: water, tooling
}

// Charge is rate x times / over, so that a monthly rent shared by 16 machines
// can be written as it is known.
type Charge struct {
	Label string     `json:"label"`
	Rate  money.Rate `json:"rate"`
	Times money.Rate `json:"times,omitzero"` // 1 unless set
	Over  money.Rate `json:"over,omitzero"`  // 1 unless set
}

// Per is what a price of metal is by.
type Per string

// The ways metal is sold.
const (
	PerPound Per = "lb"
	PerFoot  Per = "ft"
	PerCoil  Per = "coil"
	PerSheet Per = "sheet"
)

// Stock is one coil, remnant or lot of sheets with its own cost.
type Stock struct {
	ID         string         `json:"id"`
	Label      string         `json:"label"`
	Thickness  money.Rate     `json:"thickness,omitzero"` // inches of base metal
	Density    money.Rate     `json:"density,omitzero"`   // lb per cubic inch
	Coating    money.Rate     `json:"coating,omitzero"`   // oz per square foot, both sides together
	Paint      money.Rate     `json:"paint,omitzero"`     // lb per square foot
	Width      measure.Length `json:"width"`
	Sheet      measure.Length `json:"sheet,omitzero"`    // length of a sheet; 0 is a coil
	Measured   money.Rate     `json:"measured,omitzero"` // lb per foot as weighed, instead of computed
	Price      money.Rate     `json:"price"`
	Per        Per            `json:"per"`
	Freight    money.Rate     `json:"freight,omitzero"`
	FreightPer Per            `json:"freight_per,omitempty"` // as Per unless set
	Weight     money.Rate     `json:"weight,omitzero"`       // lb bought
	Feet       measure.Length `json:"feet,omitzero"`         // length bought, when measured rather than from Weight
	Damaged    measure.Length `json:"damaged,omitzero"`      // ends that can't be sold
	Scrap      money.Rate     `json:"scrap,omitzero"`        // value per lb
	Loss       money.Rate     `json:"loss,omitzero"`         // planned ends as a share of what is used
	WriteDown  money.Rate     `json:"write_down,omitzero"`   // share taken off a remnant's cost by the owner
	Dated      Day            `json:"dated,omitempty"`       // the day of the cost
}

// Goal says what a target's value is: a share of the price or of the cost.
type Goal string

// The goals.
const (
	Margin Goal = "margin"
	Markup Goal = "markup"
)

// Target is what to earn on a product group for a customer class. The most
// exact one counts: group and class, then group, then class, then neither.
// Besides the groups of items there are "packing", "set-ups" (for the minimum
// order and for set-ups sold apart) and "mobilisation".
type Target struct {
	Group string     `json:"group,omitempty"` // "" is every group
	Class string     `json:"class,omitempty"` // "" is every class
	Goal  Goal       `json:"goal"`
	Value money.Rate `json:"value"`
	Steps []Step     `json:"steps,omitempty"` // quantity breaks, on increments
}

// Step is a quantity break: what lies beyond this many feet (or pieces) earns
// Value instead.
type Step struct {
	Beyond money.Rate `json:"beyond"`
	Value  money.Rate `json:"value"`
}

// OnCancel is what happens to the others when an order of a shared run is
// cancelled.
type OnCancel string

// The policies.
const (
	ShopCarries OnCancel = "shop_carries" // quoted prices hold; the shop carries the difference
	Requote     OnCancel = "requote"      // the quote says that it may be made anew
)

// Policy is how the shop prices.
type Policy struct {
	UnitPlaces      int        `json:"unit_places,omitempty"`     // decimals of a unit price, 2 to 4; 2 unless set
	SetupLine       bool       `json:"setup_line,omitempty"`      // set-ups on lines of their own
	MinimumSetups   bool       `json:"minimum_setups,omitempty"`  // an order pays its set-ups with their margin at least
	Minimum         money.Rate `json:"minimum,omitzero"`          // smallest order in goods
	Rush            money.Rate `json:"rush,omitzero"`             // share on goods of a rush order
	Deposit         money.Rate `json:"deposit,omitzero"`          // share of the total
	PaymentShare    money.Rate `json:"payment_share,omitzero"`    // card and bank cost as a share of the price
	PaymentDays     int        `json:"payment_days,omitempty"`    // days of credit
	PaymentInterest money.Rate `json:"payment_interest,omitzero"` // per year, on PaymentDays
	StaleDays       int        `json:"stale_days,omitempty"`      // a cost older than this is warned of; 90 unless set
	OnCancel        OnCancel   `json:"on_cancel,omitempty"`       // ShopCarries unless set
}

// Order is what is asked for.
type Order struct {
	ID          string       `json:"id,omitempty"`
	Day         Day          `json:"day"`             // the day of the price, for certificates and stale costs
	Class       string       `json:"class,omitempty"` // customer class
	Items       []Item       `json:"items"`
	Setups      []Setup      `json:"setups,omitempty"`
	Sharing     *Sharing     `json:"sharing,omitempty"`
	Bundles     int          `json:"bundles,omitempty"`
	Rush        bool         `json:"rush,omitempty"`
	Discount    money.Rate   `json:"discount,omitzero"` // share off the goods
	Delivery    *Trip        `json:"delivery,omitempty"`
	Onsite      *Trip        `json:"onsite,omitempty"`
	Certificate *Certificate `json:"certificate,omitempty"`
	BelowFloor  *Override    `json:"below_floor,omitempty"` // the owner's word
}

// Item is one product of an order: exactly one of Formed, Trim and Bought.
type Item struct {
	ID       string      `json:"id"`
	Label    string      `json:"label"`
	Group    string      `json:"group,omitempty"`      // product group, for targets
	TaxClass string      `json:"tax_class,omitempty"`  // Goods unless set
	Unit     *money.Rate `json:"unit_price,omitempty"` // price a person set by hand, per foot or piece
	Formed   *Formed     `json:"formed,omitempty"`
	Trim     *Trim       `json:"trim,omitempty"`
	Bought   *Bought     `json:"bought,omitempty"`
}

// Formed is panel, gutter or downspout run off a coil and cut to length.
type Formed struct {
	Center    string         `json:"center"`
	Stock     string         `json:"stock"`
	Setups    []string       `json:"setups,omitempty"`
	Strip     measure.Length `json:"strip,omitzero"` // width consumed; the coil's width unless set
	Speed     money.Rate     `json:"speed"`
	Shear     money.Rate     `json:"shear,omitzero"`
	Handling  money.Rate     `json:"handling,omitzero"`
	Allowance money.Rate     `json:"allowance,omitzero"`
	Kerf      measure.Length `json:"kerf,omitzero"` // metal lost per cut; 0 for a shear
	Cuts      []Cut          `json:"cuts"`
}

// Cut is so many pieces of one length.
type Cut struct {
	ID     string         `json:"id,omitempty"`
	Label  string         `json:"label,omitempty"`
	Pieces int            `json:"pieces"`
	Length measure.Length `json:"length"`
}

// Trim is flat sheet folded on a brake.
type Trim struct {
	Center    string         `json:"center"`
	Stock     string         `json:"stock"`
	Pieces    int            `json:"pieces"`
	Length    measure.Length `json:"length"`
	Girth     measure.Length `json:"girth"`
	Sheets    int            `json:"sheets,omitempty"` // as nested; as many as the pieces need unless set
	Credit    money.Rate     `json:"credit,omitzero"`  // share of its cost that a blank left over keeps
	Bends     int            `json:"bends,omitempty"`
	Hems      int            `json:"hems,omitempty"`
	Slit      money.Rate     `json:"slit,omitzero"`     // minutes a sheet, to slit and shear
	Bend      money.Rate     `json:"bend,omitzero"`     // minutes each
	Hem       money.Rate     `json:"hem,omitzero"`      // minutes each
	Handling  money.Rate     `json:"handling,omitzero"` // minutes a piece
	Allowance money.Rate     `json:"allowance,omitzero"`
	Setup     money.Rate     `json:"setup,omitzero"` // minutes, shared with nobody
}

// Bought is an accessory sold by the piece.
type Bought struct {
	Pieces int        `json:"pieces"`
	Each   money.Rate `json:"each"`            // landed cost
	Weight money.Rate `json:"weight,omitzero"` // lb each
	Dated  Day        `json:"dated,omitempty"`
}

// Setup is one changeover the order needs: a roller set, a coil.
type Setup struct {
	ID      string         `json:"id"`
	Label   string         `json:"label"`
	Center  string         `json:"center"`
	Minutes money.Rate     `json:"minutes"`
	Lead    measure.Length `json:"lead,omitzero"`   // metal run in and out, worth scrap after
	Stock   string         `json:"stock,omitempty"` // of the lead
}

// ShareRule is how the users of a set-up split it.
type ShareRule string

// The rules.
const (
	ShareEqual   ShareRule = "equal"
	ShareMinutes ShareRule = "minutes"
	ShareFeet    ShareRule = "feet"
)

// Sharing says which set-ups would be shared and with whom.
type Sharing struct {
	Rule   ShareRule     `json:"rule,omitempty"` // ShareEqual unless set
	Setups []SharedSetup `json:"setups"`
}

// SharedSetup is one set-up of the order and the other orders that use it.
type SharedSetup struct {
	Setup   string    `json:"setup"`
	Planned bool      `json:"planned,omitempty"` // it is done anyway: this order doesn't cause it
	With    []Partner `json:"with"`
}

// Partner is another order that uses a set-up. Its weights count under the
// rules that go by them.
type Partner struct {
	Order   string         `json:"order"`
	Minutes money.Rate     `json:"minutes,omitzero"`
	Feet    measure.Length `json:"feet,omitzero"`
}

// Tariff is what delivery is sold for: base, miles beyond the included ones,
// or bands of distance instead, with steps for weight and for the longest piece.
type Tariff struct {
	Base     money.Rate   `json:"base,omitzero"`
	Included money.Rate   `json:"included,omitzero"`
	PerMile  money.Rate   `json:"per_mile,omitzero"`
	Bands    []Band       `json:"bands,omitempty"`
	Weights  []WeightStep `json:"weights,omitempty"`
	Lengths  []LengthStep `json:"lengths,omitempty"`
}

// Band is the charge for distances up to so many miles, instead of Base. Miles
// beyond the last band are charged PerMile on top of it.
type Band struct {
	UpTo   money.Rate `json:"up_to"`
	Charge money.Rate `json:"charge"`
}

// WeightStep is added for loads over so many pounds; the highest reached counts.
type WeightStep struct {
	Over money.Rate `json:"over"`
	Add  money.Rate `json:"add"`
}

// LengthStep is added for pieces longer than so much; the highest reached counts.
type LengthStep struct {
	Over measure.Length `json:"over"`
	Add  money.Rate     `json:"add"`
}

// Trip is how far one way.
type Trip struct {
	Miles money.Rate `json:"miles"`
}

// Onsite is forming at the building: what bringing the machine there takes.
type Onsite struct {
	Center      string         `json:"center"`
	Mph         money.Rate     `json:"mph"`
	PerMile     money.Rate     `json:"per_mile"`              // cost of truck and trailer
	SetupHours  money.Rate     `json:"setup_hours,omitzero"`  // on the site
	Minimum     money.Rate     `json:"minimum,omitzero"`      // smallest mobilisation charge
	MinimumFeet measure.Length `json:"minimum_feet,omitzero"` // less than this isn't worth the trip
}

// Tax classes that the program itself gives to lines. Items may name others.
const (
	Goods        = "goods"
	DeliveryLine = "delivery"
	Mobilisation = "mobilisation"
)

// TaxBasis is what tax is computed on. A seller keeps to one through a
// reporting period.
type TaxBasis string

// The bases that section 324 of the Streamlined Sales and Use Tax Agreement
// lets a seller choose between.
const (
	PerDocument TaxBasis = "document"
	PerItem     TaxBasis = "item"
)

// Tax is how sales are taxed.
type Tax struct {
	Basis         TaxBasis       `json:"basis,omitempty"` // PerDocument unless set
	Jurisdictions []Jurisdiction `json:"jurisdictions,omitempty"`
}

// DeliveryRule is how a jurisdiction treats delivery charges.
type DeliveryRule string

// The rules. Which one holds is for the state to say.
const (
	DeliveryUntaxed DeliveryRule = "untaxed"
	DeliveryTaxed   DeliveryRule = "taxed"
	DeliveryAsGoods DeliveryRule = "as_goods" // in the share of the goods, by price, that it taxes
)

// Jurisdiction is one state, county, city or district.
type Jurisdiction struct {
	ID       string       `json:"id"`
	Label    string       `json:"label"`
	State    string       `json:"state"`
	Rate     money.Rate   `json:"rate"`
	Classes  []string     `json:"classes"`            // tax classes it taxes, besides delivery
	Delivery DeliveryRule `json:"delivery,omitempty"` // DeliveryUntaxed unless set
}

// Certificate is a resale or exemption certificate on file. It holds for one
// state from the day it was signed to the day it expires, both included.
type Certificate struct {
	Number  string   `json:"number"`
	State   string   `json:"state"`
	Signed  Day      `json:"signed,omitempty"`
	Expires Day      `json:"expires"`
	Classes []string `json:"classes,omitempty"` // tax classes it covers; every one unless set
}

// Override is the owner's word that an order may go below its floor.
type Override struct {
	By     string `json:"by"`
	Reason string `json:"reason"`
}

// Changes are what an owner tries out on prices: factors on what metal and
// hours cost, and points on every target.
type Changes struct {
	Coil   *money.Rate `json:"coil,omitempty"`  // factor on metal prices, 1 is no change
	Hour   *money.Rate `json:"hour,omitempty"`  // factor on machine and labor hours
	Margin money.Rate  `json:"margin,omitzero"` // added to targets, none of which goes below zero: .02 is two points more
}
