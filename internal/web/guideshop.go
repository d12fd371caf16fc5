package web

// shopChapters are for the shop's own people, who read English.
var shopChapters = []chapter{
	{"first-morning", "The first morning: setting up"},
	{"counter", "The counter"},
	{"run-plan", "The run plan"},
	{"floor", "The floor"},
	{"coils", "Coils and sheets"},
	{"loads", "Loads and the driver"},
	{"books", "The books"},
	{"mail", "Mail to customers"},
	{"backup", "Backup, restore, verify"},
}
