package web

// means says in words what each of the owner's figures is made of. What isn't in
// it is said too.
var means = map[string]string{
	"hours": "A machine's open hours are its weekly opening with extra openings, up to now. Own jobs and time out of use (service, faults, operator away) come off; " +
		"what is left could be sold. Sold is the changeover and run time of the lines finished in the period, in the minutes that plan and price gave them. " +
		"Idle is open − own jobs − out of use − sold; below zero means work beyond the opening.",
	"contribution": "Contribution = invoiced net − metal at ledger cost − accessories − packing − running, less loose scrap. Invoiced net is before tax and without delivery, less credit memos. " +
		"Metal is what was cut and scrapped for the order, at what its coils cost landed; accessories and packing are at cost as priced; running is what a machine hour takes out of the pocket " +
		"(fuel, tooling, a crew that isn't paid when idle) times the hours. An order counts whole in the period of its first invoice, with its remakes. " +
		"Loose scrap is metal scrapped for no order in the period. Per hour: divided by the changeover and run hours of those orders. What a delivery costs isn't recorded, so delivery is left out on both sides.",
	"lines": "Of each line that was made in the period, the changeover minutes before it in the adopted run plan, against the minutes it would have had first come, first served. " +
		"A line can cost more than first come, first served; that is counted against the others. The worth is the plan's cost of a minute and of the ends of strip.",
	"promises": "Orders that customers have, of which the last piece was handed over in the period, or for a pick-up was ready; of those, the ones that a day was promised for. On time is by the end of the day that was promised first: a promise moved later stays late.",
	"quotes": "Quotes whose last answer fell in the period: accepted, declined with its reason, or lapsed without one. Won = accepted ÷ all of them. " +
		"A quote that is open again has no answer; remakes and changes of accepted orders aren't counted.",
	"owed": "Open items today by days past their due day, whatever the period. Credits to customers' good stand apart on the Books sheet.",
	"coils": "Feet on hand today × what a foot of that coil cost landed, to the cent, whatever the period. Days on hand = value ÷ what these strips used a day in the last 90 days, " +
		"cut and scrapped, or since the start when that is shorter.",
	"payback": "What a machine earned since the start: its share, by minutes, of each order's contribution, against what was paid for it on the Rates sheet. " +
		"The pace is that of the last 90 days. What own jobs save isn't in it, nor interest.",
}
