package web

import (
	"fmt"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"ribdesk/internal/party"
)

// Who a route admits.
var (
	owner     = []party.Role{party.Owner}
	desks     = []party.Role{party.Owner, party.Counter}
	buying    = []party.Role{party.Owner, party.Counter, party.Buyer}
	office    = []party.Role{party.Owner, party.Counter, party.Bookkeeper}
	talking   = []party.Role{party.Owner, party.Counter, party.Bookkeeper, party.Buyer}
	firms     = []party.Role{party.Buyer}
	accounts  = []party.Role{party.Owner, party.Bookkeeper}
	staff     = []party.Role{party.Owner, party.Counter, party.Operator, party.Driver, party.Bookkeeper}
	askers    = []party.Role{party.Visitor, party.Owner, party.Counter, party.Buyer}
	picking   = []party.Role{party.Owner, party.Counter, party.Operator, party.Driver}
	hauling   = []party.Role{party.Owner, party.Counter, party.Driver}
	driving   = []party.Role{party.Owner, party.Driver}
	rackers   = []party.Role{party.Owner, party.Counter, party.Operator} // see coils
	hands     = []party.Role{party.Owner, party.Operator}                // move metal
	billed    = []party.Role{party.Owner, party.Counter, party.Bookkeeper, party.Buyer}
	buyers    = []party.Role{party.Buyer}
	signedIn  = party.Roles
	everybody = append([]party.Role{party.Visitor}, party.Roles...)
)

// table is every way in: a path that isn't here is 404, a role that isn't named
// on its line is refused. GET never changes anything.
func table() []route {
	return []route{
		// The server itself
		{"GET", "/healthz", everybody, showHealth, bare},
		{"GET", "/readyz", everybody, showReady, bare},
		{"GET", "/static/:stamp/*file", everybody, sendAsset, bare},

		// Coming in
		{"GET", "/", everybody, showHome, 0},
		{"GET", "/first-run", everybody, showFirstRun, early},
		{"POST", "/first-run", everybody, doFirstRun, early | unkeyed},
		{"GET", "/sign-in", everybody, showSignIn, 0},
		{"POST", "/sign-in", everybody, doSignIn, unkeyed},
		{"GET", "/sign-in/code", everybody, showCode, 0},
		{"POST", "/sign-in/code", everybody, doCode, unkeyed},
		{"POST", "/language", everybody, doTongue, unkeyed | owing},
		{"GET", "/guide", everybody, showGuide, early | owing},
		{"GET", "/guide/:chapter", everybody, showChapter, early | owing},
		{"POST", "/sign-out", signedIn, doSignOut, unkeyed | owing},
		{"GET", "/me", signedIn, showMe, owing},
		{"POST", "/me/password", signedIn, doMyPassword, 0},
		{"POST", "/me/elsewhere", signedIn, doSignOutElsewhere, 0},
		{"GET", "/me/second", accounts, showSecond, owing},
		{"POST", "/me/second", accounts, doSecond, owing | unkeyed},
		{"POST", "/me/second/codes", accounts, doFreshCodes, unkeyed},
		{"POST", "/me/second/off", accounts, doDropSecond, 0},

		// What the owner opens first
		{"GET", "/today", owner, showToday, 0},
		{"GET", "/today/:figure", owner, showRecords, 0},
		{"GET", "/today/:figure/records.csv", owner, sendRecords, 0},

		// Counter
		{"GET", "/counter", askers, showCounter, 0},
		{"POST", "/counter", askers, doAsk, 0},
		{"POST", "/counter/price", askers, doPriceSlip, unkeyed},
		{"GET", "/counter/list", askers, showList, 0},
		{"POST", "/counter/list", askers, doList, unkeyed | upload},

		// A quote by its private link
		{"GET", "/q/:token", everybody, showLink, 0},
		{"POST", "/q/:token/accept", everybody, doAcceptLink, 0},
		{"POST", "/q/:token/decline", everybody, doDeclineLink, 0},
		{"POST", "/q/:token/messages", everybody, doWriteByLink, 0},
		{"POST", "/q/:token/photos", everybody, doPhotoByLink, upload},
		{"GET", "/q/:token/papers/:id", everybody, showLinkPaper, 0},

		// Orders
		{"GET", "/orders", signedIn, showOrders, 0},
		{"GET", "/search", signedIn, showFound, 0},
		{"GET", "/orders/:id", signedIn, showOrder, 0},
		{"GET", "/orders/:id/price", desks, showPrice, 0},
		{"POST", "/orders/:id/price", owner, doDiscount, 0},
		{"GET", "/orders/:id/price.json", desks, showPriceInput, 0},
		{"GET", "/orders/:id/edit", desks, showEditOrder, 0},
		{"POST", "/orders/:id/quote", desks, doQuoteOrder, 0},
		{"POST", "/orders/:id/accept", buying, doAcceptOrder, 0},
		{"POST", "/orders/:id/decline", buying, doDeclineOrder, 0},
		{"POST", "/orders/:id/reopen", desks, doReopenOrder, 0},
		{"POST", "/orders/:id/cancel", desks, doCancelOrder, 0},
		{"POST", "/orders/:id/revoke-link", desks, doRevokeLink, 0},
		{"POST", "/orders/:id/new-link", desks, doRenewLink, 0},
		{"POST", "/orders/:id/change", desks, doChangeAccepted, 0},
		{"POST", "/orders/:id/messages", talking, doWriteMessage, 0},
		{"POST", "/orders/:id/photos", talking, doAddPhotoNote, upload},
		{"GET", "/orders/:id/photos/:photo", signedIn, showPhotoNote, 0},
		{"POST", "/orders/:id/ready", desks, doPickFromShelf, 0},
		{"POST", "/orders/:id/papers", staff, doIssuePaper, 0},
		{"GET", "/papers/:id", signedIn, showPaper, 0},

		// Run plan and floor
		{"GET", "/plan", rackers, showPlan, 0},
		{"GET", "/plan/proposal", rackers, showProposal, 0},
		{"POST", "/plan/move", rackers, doMoveRun, unkeyed},
		{"POST", "/plan/adopt", rackers, doAdopt, 0},
		{"GET", "/plan/history", rackers, showPlanHistory, 0},
		{"GET", "/plan/calendar", rackers, showCalendar, 0},
		{"POST", "/plan/calendar", hands, doLookAtBlock, unkeyed},
		{"POST", "/plan/calendar/order", desks, doLookAtOrder, unkeyed},
		{"POST", "/plan/calendar/coil", hands, doLookAtCoil, unkeyed},
		{"GET", "/orders/:id/promise", owner, showPromise, 0},
		{"POST", "/orders/:id/promise", owner, doMovePromise, 0},
		{"GET", "/floor", rackers, showFloors, 0},
		{"GET", "/floor/:machine", rackers, showFloor, 0},
		{"POST", "/floor/:machine/made", hands, doMade, 0},
		{"POST", "/floor/:machine/thread", hands, doThread, 0},
		{"POST", "/floor/:machine/scrap", hands, doFloorScrap, 0},
		{"POST", "/floor/:machine/end-coil", hands, doEndCoil, 0},
		{"POST", "/floor/:machine/note", hands, doFloorNote, 0},
		{"POST", "/floor/:machine/down", hands, doFault, 0},
		{"POST", "/floor/:machine/up", hands, doUp, 0},
		{"POST", "/floor/:machine/sheet", hands, doRunSheet, 0},

		// Loads and road
		{"GET", "/loads", picking, showLoads, 0},
		{"POST", "/loads", hauling, doBuildTrip, 0},
		{"GET", "/loads/calendars", desks, showCalendars, 0},
		{"POST", "/loads/calendars", desks, doAddCalendar, 0},
		{"POST", "/loads/calendars/:id/revoke", desks, doRevokeCalendar, 0},
		{"GET", "/loads/lifting", picking, showLifting, 0},
		{"POST", "/loads/lifting", owner, doSaveLifting, 0},
		{"GET", "/loads/:id", picking, showTrip, 0},
		{"POST", "/loads/:id/stops", hauling, doArrangeTrip, 0},
		{"POST", "/loads/:id/roads", hauling, doKeepRoads, 0},
		{"POST", "/loads/:id/check", picking, doCheckTrip, 0},
		{"POST", "/loads/:id/leave", hauling, doLeave, 0},
		{"POST", "/loads/:id/back", hauling, doTakeBack, 0},
		{"POST", "/loads/:id/drop", hauling, doDropTrip, 0},
		{"GET", "/orders/:id/pick", picking, showPick, 0},
		{"POST", "/orders/:id/pick", picking, doCheckOff, 0},
		{"POST", "/orders/:id/short", picking, doShort, 0},
		{"GET", "/orders/:id/pick-up", desks, showPickUp, 0},
		{"POST", "/orders/:id/pick-up", desks, doPickUp, 0},
		{"GET", "/stops/:id/signature", staff, showSignature, 0},
		{"POST", "/stops/:id/decide", desks, doDecide, 0},
		{"GET", "/photos/:id", staff, showPhoto, 0},
		{"GET", "/calendar/:token", everybody, sendCalendar, bare},

		// On the road; the queue's own keys make its posts safe to send twice
		{"GET", "/drive", driving, showDrive, 0},
		{"GET", "/drive/sw.js", driving, sendWorker, 0},
		{"GET", "/drive/token", driving, showToken, 0},
		{"GET", "/drive/stops/:id", driving, showDriveStop, 0},
		{"POST", "/drive/stops/:id", driving, doDriveStop, upload},
		{"POST", "/drive/sync", driving, doSync, unkeyed},
		{"POST", "/drive/photo", driving, doSyncPhoto, unkeyed | upload},

		// A customer's own firm, and the way to an account
		{"GET", "/account", firms, showFirm, 0},
		{"GET", "/account/sites/new", firms, showOwnNewSite, 0},
		{"GET", "/account/sites/:site", firms, showOwnSite, 0},
		{"POST", "/account/sites", firms, doSaveOwnSite, 0},
		{"GET", "/account/lists", firms, showLists, 0},
		{"POST", "/account/lists", firms, doSaveList, 0},
		{"POST", "/account/lists/:id/drop", firms, doDropList, 0},
		{"GET", "/account/request", everybody, showRequest, 0},
		{"POST", "/account/request", everybody, doRequest, 0},
		{"GET", "/customers/requests", desks, showRequests, 0},
		{"POST", "/customers/requests/:request/approve", desks, doApproveAccount, 0},
		{"POST", "/customers/requests/:request/decline", desks, doDeclineAccount, 0},
		{"GET", "/password/:token", everybody, showChoosePassword, 0},
		{"POST", "/password/:token", everybody, doChoosePassword, 0},
		{"GET", "/join/:token", everybody, showJoin, 0},
		{"POST", "/join/:token", everybody, doJoin, 0},
		{"POST", "/customers/:id/invites", desks, doInvite, 0},

		// Shop
		{"GET", "/shop", staff, showShop, 0},
		{"GET", "/shop/people", owner, showPeople, 0},
		{"GET", "/shop/people/new", owner, showNewPerson, 0},
		{"POST", "/shop/people", owner, doAddPerson, 0},
		{"GET", "/shop/people/:id", owner, showPerson, 0},
		{"POST", "/shop/people/:id", owner, doChangePerson, 0},
		{"POST", "/shop/people/:id/password", owner, doSetPassword, 0},
		{"POST", "/shop/people/:id/link", owner, doPasswordLink, 0},
		{"POST", "/shop/people/:id/second", owner, doResetSecond, 0},
		{"POST", "/shop/guard", owner, doSaveGuard, 0},
		{"GET", "/shop/programs", owner, showPrograms, 0},
		{"POST", "/shop/programs", owner, doAddProgram, 0},
		{"POST", "/shop/programs/:id/revoke", owner, doRevokeProgram, 0},
		{"POST", "/shop/hooks", owner, doAddHook, 0},
		{"POST", "/shop/hooks/:id/off", owner, doTurnHookOff, 0},
		{"GET", "/shop/mail", office, showMails, 0},
		{"POST", "/shop/mail", owner, doSaveMailHabits, 0},
		{"POST", "/shop/mail/quiet", office, doQuieten, 0},
		{"POST", "/shop/mail/quiet/:id/drop", office, doUnquieten, 0},
		{"GET", "/shop/mail/kinds/:kind", office, showMailPreview, 0},
		{"GET", "/shop/mail/kinds/:kind/html", office, sendMailPreview, 0},
		{"GET", "/shop/mail/:id", office, showMail, 0},
		{"GET", "/shop/mail/:id/html", office, sendMailHTML, 0},
		{"POST", "/shop/mail/:id/send", office, doSendMail, 0},

		// The catalogue, and the shop's settings
		{"GET", "/shop/settings", owner, showSettings, 0},
		{"POST", "/shop/settings", owner, doSaveSettings, 0},
		{"GET", "/shop/catalogue/:kind", owner, showShelf, 0},
		{"POST", "/shop/catalogue/:kind", owner, doSaveShelfItem, 0},
		{"GET", "/shop/catalogue/:kind/new", owner, showShelfItem, 0},
		{"GET", "/shop/catalogue/:kind/:code", owner, showShelfItem, 0},
		{"POST", "/shop/catalogue/:kind/:code", owner, doSaveShelfItem, 0},
		{"POST", "/shop/draw/:kind", owner, doDrawShelfItem, unkeyed},
		{"POST", "/shop/draw/:kind/:code", owner, doDrawShelfItem, unkeyed},

		// Rates
		{"GET", "/rates", owner, showRates, 0},
		{"POST", "/rates", owner, doSetRates, 0},
		{"GET", "/rates/what-if", owner, showWhatIf, 0},
		{"POST", "/rates/what-if", owner, doWhatIf, unkeyed},
		{"POST", "/rates/measured/:machine", owner, doTakeMeasured, 0},

		// Coils
		{"GET", "/coils", rackers, showCoils, 0},
		{"GET", "/coils.csv", rackers, sendCoilsCSV, 0},
		{"POST", "/coils", rackers, doReceiveCoil, 0},
		{"POST", "/coils/weigh", rackers, doWeighCoil, unkeyed},
		{"GET", "/coils/new", rackers, showReceive, 0},
		{"GET", "/coils/allocate", rackers, showAllocate, 0},
		{"POST", "/coils/allocate", hands, doAllocate, 0},
		{"GET", "/coils/buy", rackers, showBuy, 0},
		{"GET", "/coils/buy.csv", rackers, sendBuyCSV, 0},
		{"POST", "/coils/buy", desks, doBuyList, 0},
		{"GET", "/coils/trim-plan", rackers, showTrimPlan, 0},
		{"POST", "/coils/trim-plan", rackers, doTrimPlan, 0},
		{"GET", "/coils/sheets", rackers, showSheets, 0},
		{"POST", "/coils/sheets", rackers, doSheets, 0},
		{"GET", "/coils/:id", rackers, showCoil, 0},
		{"POST", "/coils/:id/move", hands, doMoveCoil, 0},
		{"POST", "/coils/:id/mount", hands, doMountCoil, 0},
		{"POST", "/coils/:id/slit", hands, doSlitCoil, 0},
		{"POST", "/coils/:id/tag", rackers, doTagCoil, 0},

		// Books
		{"GET", "/books", office, showBooks, 0},
		{"GET", "/books/owed.csv", accounts, sendOwedCSV, 0},
		{"GET", "/books/invoices", office, showInvoices, 0},
		{"POST", "/books/invoices", accounts, doIssueInvoice, 0},
		{"GET", "/books/invoices/new", accounts, showInvoiceDraft, 0},
		{"GET", "/books/invoices/:id", billed, showInvoice, 0},
		{"POST", "/books/invoices/:id/credit", accounts, doCreditMemo, 0},
		{"POST", "/books/invoices/:id/write-off", accounts, doWriteOff, 0},
		{"POST", "/books/invoices/:id/release", accounts, doRelease, 0},
		{"GET", "/books/payments", office, showPayments, 0},
		{"GET", "/books/payments/:id", office, showPayment, 0},
		{"POST", "/books/payments/:id/return", accounts, doReturnPayment, 0},
		{"POST", "/books/bank", accounts, doPayIn, 0},
		{"GET", "/books/customers/:id", office, showAccount, 0},
		{"POST", "/books/customers/:id/pay", office, doPay, 0},
		{"POST", "/books/customers/:id/credit", accounts, doUseCredit, 0},
		{"POST", "/books/customers/:id/statement", accounts, doStatement, 0},
		{"POST", "/books/customers/:id/let-off", accounts, doLetOff, 0},
		{"POST", "/books/customers/:id/finance-terms", accounts, doFinanceTerms, 0},
		{"POST", "/books/customers/:id/finance-charge", accounts, doFinanceCharge, 0},
		{"GET", "/books/journal", accounts, showJournal, 0},
		{"GET", "/books/journal.csv", accounts, sendJournalCSV, 0},
		{"GET", "/books/trial", accounts, showTrial, 0},
		{"GET", "/books/tax", accounts, showTax, 0},
		{"GET", "/books/tax.csv", accounts, sendTaxCSV, 0},
		{"POST", "/books/close", accounts, doCloseBooks, 0},
		{"GET", "/books/habits", accounts, showHabits, 0},
		{"POST", "/books/habits", accounts, doSaveHabits, 0},
		{"POST", "/orders/:id/deposit", office, doDeposit, 0},
		{"POST", "/orders/:id/close", accounts, doCloseOrder, 0},
		{"GET", "/account/books", buyers, showOwnAccount, 0},

		// A roof taken off, plane by plane
		{"GET", "/roof", askers, showRoof, 0},
		{"POST", "/roof", askers, doRoof, 0},
		{"POST", "/roof/draw", askers, doDrawRoof, unkeyed},
		{"GET", "/roof/:code", askers, showKeptRoof, 0},
		{"GET", "/roof/:code/sheet", askers, showRoofSheet, 0},

		// Trim drawn leg by leg
		{"GET", "/trim", askers, showTrim, 0},
		{"POST", "/trim", askers, doTrim, 0},
		{"POST", "/trim/draw", askers, doDrawTrim, unkeyed},

		// Customers
		{"GET", "/customers", office, showCustomers, 0},
		{"GET", "/customers/new", office, showNewCustomer, 0},
		{"POST", "/customers", office, doAddCustomer, 0},
		{"GET", "/customers/:id", office, showCustomer, 0},
		{"POST", "/customers/:id", office, doChangeCustomer, 0},
		{"GET", "/customers/:id/sites/new", office, showNewSite, 0},
		{"GET", "/customers/:id/sites/:site", office, showSite, 0},
		{"POST", "/customers/:id/sites", office, doSaveSite, 0},
		{"GET", "/customers/:id/certificates/new", office, showNewCertificate, 0},
		{"POST", "/customers/:id/certificates", office, doAddCertificate, 0},
		{"POST", "/customers/:id/certificates/:certificate/revoke", accounts, doRevokeCertificate, 0},
	}
}

// route is one line of the table.
type route struct {
	method string
	path   string
	admits []party.Role
	do     handler
	how    how
}

// handler answers one request; an error becomes a page in one place, fail.
type handler func(*visit) error

// how a route differs from the usual.
type how uint8

const (
	// bare routes know no person: no session is looked up.
	bare how = 1 << iota
	// early routes work while nobody has an account; the others then lead to
	// the first run.
	early
	// unkeyed forms may be sent twice: they carry no key.
	unkeyed
	// owing routes work for somebody who must set the second step up first.
	owing
	// upload allows a large body, for files.
	upload
)

// mount puts the table in place. A line that admits nobody, or a GET and POST
// mixed up with anything else, is a slip that is found here.
func (s *Server) mount(routes []route) error {
	for _, r := range routes {
		if len(r.admits) == 0 || r.do == nil || !slices.Contains([]string{"GET", "POST"}, r.method) {
			return fmt.Errorf("route %s %s needs a method, a handler and the roles it admits", r.method, r.path)
		}
		answer := func(c *gin.Context) { s.answer(c, r) }
		s.engine.Handle(r.method, r.path, answer)
		if r.method == "GET" {
			s.engine.Handle("HEAD", r.path, answer)
		}
	}
	s.engine.NoRoute(func(c *gin.Context) {
		s.answer(c, route{admits: everybody, how: unkeyed, do: func(*visit) error {
			return refusal{http.StatusNotFound, "Nothing here", "There is no such page. It may have been moved, or the address has a slip in it."}
		}})
	})
	s.engine.NoMethod(func(c *gin.Context) {
		s.answer(c, route{admits: everybody, how: unkeyed, do: func(*visit) error {
			return refusal{http.StatusMethodNotAllowed, "Not this way", "This address can't be used in that way."}
		}})
	})
	return nil
}

// admitted reports whether a role may open the page at a path of the table,
// which is how links decide whether to be there.
func admitted(role party.Role, path string) bool {
	for _, r := range table() {
		if r.method == "GET" && r.path == path {
			return slices.Contains(r.admits, role)
		}
	}
	return false
}
