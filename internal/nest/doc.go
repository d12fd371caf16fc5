// Package nest decides which coil each panel is cut from, and how trim blanks
// are slit and cut out of flat sheet or coil, with the least money in scrap,
// changes and set-ups. It gives a plan, a proven lower bound on the cost of any
// plan, and an independent checker for both problems.
//
// It is pure: it knows no stock book, order, page or clock. A time limit comes
// in as a context's deadline or as a number of steps. It does not design trim
// sections, work out girths or reserve coils; it gets whole numbers of one
// group of equal material (profile, gauge, colour, coil width) and gives whole
// numbers back.
//
// # Problem A: coil allocation
//
// Lengths are whole eighths of an inch, money whole thousandths of a cent. A
// coil is used when at least one piece is cut from it; it then loses lead_out,
// and lead_in unless it is already threaded (mounted). What is left is its end:
//
//	end = length - lead - sum of qty x (line length + slug) >= 0
//
// The cost of a plan is the sum of
//   - for each used coil: mat x lead, and change unless mounted;
//   - for its end: mat x end when shorter than scrap_max; otherwise keep, and
//     awkward_pct percent of mat x end when shorter than useful_min;
//   - keep for each untouched coil that is a remnant;
//   - lot_split for every lot of an order beyond its first;
//   - short x (length + slug) for each piece that isn't cut anywhere.
//
// # Problem B: trim nesting and slitting
//
// Lengths and girths are whole sixteenths of an inch. A run slits a sheet, or a
// piece of coil of min_cut to max_cut, along its length into at most max_strips
// strips and cross-cuts every strip into pieces of exactly its girth, with the
// saw's loss between pieces. Pieces aren't turned. A run is done times over.
//
// The cost of a plan is the sum over runs of times x (the sheet's cost, or
// cost_per_unit x length) + times x pass - times x drop_credit x drop x length
// where the drop is at least drop_min, and setup for each different pair of
// stock width and multiset of strip girths. Slitting a master coil is the same
// problem with one length.
//
// # Problem files
//
// [Decode] reads one problem as JSON. "kind" is "coil" or "trim". A coil file
// holds id, params {lead_in, lead_out, slug, scrap_max, useful_min, mat,
// awkward_pct, keep, change, lot_split, short}, coils [{id, length, lot,
// remnant, mounted}] and lines [{id, order, length, qty}]. A trim file holds
// id, params {edge_trim, saw, max_strips, min_cut, max_cut, setup, drop_min,
// drop_credit, pass}, stock [{id, form: "sheet" or "coil", width, length and
// cost for a sheet or cost_per_unit for a coil, count: a number or null}] and
// items [{id, name, girth, length, qty}]. name, unit, note and material only
// describe. Every other field is wanted; an unknown one, a wrong type, a number
// that isn't whole or is out of range, and an id used twice are refused with
// the place, such as coils[2].length.
//
// # Methods
//
// The one-dimensional core packs by first-fit, best-fit and subset-sum
// dynamic programming; bounds by Martello and Toth's L2 and by Gilmore and
// Gomory's column generation with a bounded knapsack as pricing problem,
// where the duals are rounded to integers and the bound is worked out in whole
// numbers; and closes the gap by diving in the linear program and by bin
// completion. Coils: orders to lots, coil sets by a covering knapsack, subset
// sums to finish coils, then annealing; the bound deals orders out to lots.
// Trim: ruin and recreate with two-stage knapsack patterns, bounded by column
// generation. One sheet alone ([FillSheet]): prices on the blanks (Lagrange)
// bound it, and the strips that a better sheet could hold are tried in all ways.
package nest
