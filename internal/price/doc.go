// Package price turns a described order and a described shop into prices: what
// each line truly costs, why it sells at its price, the floor below which the
// shop pays to work, the tax, and both ways of carrying set-ups (alone, and
// sharing them with a run already planned).
//
// It is pure: an Input goes in, a Quote comes out, and the same Input gives the
// same cents on any day and any machine. An Input stands by itself. It holds
// every figure the price is made of and refers to nothing outside, so a stored
// one replays for as long as its rule set (Input.Rules) is known here. A change
// that could move a cent makes a new rule set and leaves the old one alone.
//
// It doesn't know databases, pages, calendars or stock on hand, doesn't judge
// whether a machine can make a piece, and doesn't keep books.
//
// # Units
//
// Money is in the shop's currency. Lengths are measure.Length. Weights are
// pounds, thickness is decimal inches of base metal, density pounds per cubic
// inch, coating ounces per square foot with both sides together, paint pounds
// per square foot. Speed is feet a minute, shear and handling are seconds a
// piece, other times minutes or hours as named. Shares (margin, loss, tax,
// discount) are fractions: .28 is 28 %.
//
// # Model
//
// Machine hours follow the ownership-plus-operating form of the US Army Corps
// of Engineers' EP 1110-1-8 and of ASABE EP496: capital recovery (or life
// hours), insurance and the like, repair, fuel, lubricant, power. Labor is the
// crew's wages with burden. Overhead is a rate per machine hour.
//
//	lb/ft   = (144 t density + coating/16 + paint) x width/12
//	raw     = (coil + freight - scrap x damaged) / (feet - damaged)
//	metal   = raw + loss x (raw - scrap)
//	minutes = (feet/speed + pieces x (shear + handling)/60) x (1 + allowance)
//	price   = cost / (1 - margin - payment), or cost x (1 + markup) / (1 - payment)
//	floor   = metal + minutes at out-of-pocket rate + set-ups caused
//
// Metal is costed on the strip's width, never on the width a panel covers. A
// remnant is a stock of its own with its own coil's figures.
//
// # Rounding places of rule set 1
//
// Everything inside is exact to 24 decimals. Money is made at these places only:
//
//	unit price   half away from zero to Policy.UnitPlaces (2 unless set)
//	line         quantity x unit price, to the cent
//	break        feet or pieces beyond a step x the difference of two unit prices, to the cent
//	discount     a line of its own per tax class, to the cent
//	minimum, rush, mobilisation, delivery   each one line, to the cent
//	tax          per document or per line on the summed rate, to the cent; the
//	             jurisdictions' parts by largest remainder
//	deposit      share of the total, to the cent; the balance is the rest
//	floor        up to the cent
//	set-up of a shared batch   to the cent, then shares by largest remainder, ties to the earliest order
//
// # Monotone prices
//
// With Policy.SetupLine unset, a line's unit price holds its part of the
// set-ups, as most shops quote; more feet then never cost less before the unit
// price is rounded, and after it by at most half a unit-price step per foot.
// With SetupLine set, set-ups stand on lines of their own, a panel's unit price
// depends on the piece alone, and more panels never cost less. Neither holds for
// a price that a person set by hand, whose part of the set-ups nobody else pays.
//
// # Sharing
//
// Each set-up is a facility used by the orders that need it, and each pays an
// equal part of it (the Shapley value of that game; Littlechild and Owen 1973)
// or a part by run minutes or feet. Parts add up to the cost, nobody pays more
// than alone, and one more order never raises another's part. When a partner
// cancels, a quoted price holds and the shop carries the difference
// (ShopCarries), unless the quote said otherwise (Requote).
package price
