package document

// word is a word or sentence of the papers, a key of the catalogue of package
// words.
type word string

// things names the papers.
var things = map[Kind]word{
	KindQuote:           "Quote",
	KindAcknowledgement: "Order acknowledgement",
	KindRunSheet:        "Run sheet",
	KindBundleLabels:    "Bundle label",
	KindPickTicket:      "Pick ticket",
	KindDeliveryTicket:  "Delivery ticket",
	KindInvoice:         "Invoice",
	KindCreditMemo:      "Credit memo",
	KindStatement:       "Statement",
	KindCoilTag:         "Coil tag",
	KindPurchaseList:    "Purchase list",
	KindTakeOff:         "Roof take-off",
}

// The title block, addresses and parts that several papers share.
var (
	wContinued    word = "continued"
	wRevision     word = "revision"
	wState        word = "state"
	wDate         word = "date"
	wBy           word = "by"
	wSheet        word = "sheet"
	wOf           word = "of"
	wCalculated   word = "Weights are calculated, not weighed."
	wCustomer     word = "customer"
	wShipTo       word = "ship to"
	wPickUp       word = "picked up at the shop"
	wJob          word = "job"
	wPO           word = "customer PO"
	wRegistration word = "Registration"
	wTaxNumber    word = "Tax no."
	wCautions     word = "Cautions"
	wTerms        word = "terms"
	wOrder        word = "order"
	wQuoteNumber  word = "quote"
	wName         word = "name in print"
	wSignature    word = "signature"
	wTitle        word = "title"
	wWhen         word = "date and time"
	wNotes        word = "Notes"
)

// Lines, prices and taxes.
var (
	wLines       word = "Lines"
	wNo          word = "no."
	wWhat        word = "what"
	wPieces      word = "pieces"
	wLength      word = "length"
	wQuantity    word = "quantity"
	wUnit        word = "unit"
	wUnitPrice   word = "unit price"
	wNet         word = "net"
	wGirth       word = "girth"
	wBends       word = "bends"
	wHems        word = "hems"
	wCharges     word = "Charges and allowances"
	wCharge      word = "charge"
	wReason      word = "reason"
	wSubtotal    word = "Subtotal"
	wTotal       word = "Total"
	wTaxOn       word = "Tax, %s: %s %% on %s"
	wNoTax       word = "No tax on %s: %s"
	wCertificate word = "certificate %s, %s, good to %s"
	wDeposit     word = "Deposit due"
	wWeight      word = "weight"
	wLongest     word = "longest piece"
	wPounds      word = "%s lb"
)

// Quote and acknowledgement.
var (
	wValidUntil   word = "good until"
	wInAll        word = "total"
	wTwoPrices    word = "Two prices for the same work"
	wAlone        word = "Alone, as a run of its own"
	wSharing      word = "Sharing a set-up with a planned run"
	wReady        word = "ready, estimated"
	wThisQuote    word = "this paper's lines"
	wOnCondition  word = "on condition"
	wDrawn        word = "As drawn"
	wSlit         word = "Slitting patterns"
	wExclusions   word = "Not included, and what we ask of you"
	wTakeOff      word = "Lengths and counts are yours: check them against the building before you accept."
	wNotIncluded  word = "Fasteners, sealant and closures not listed, engineering and installation aren't included."
	wNoCancel     word = "Cut to length: no cancellation and no return after cutting."
	wFirm         word = "The prices on this paper hold until the day above. The lead time is an estimate."
	wTermsVersion word = "Terms of sale, version %s."
	wLeadTime     word = "lead time"
	wAcceptance   word = "Acceptance"
	wAcceptText   word = "I accept this quote and its terms for the buyer, and agree that records and signatures may be electronic."
	wAcceptedBy   word = "Accepted by %s, %s, on %s, by %s, from %s. Electronic records agreed to: %s."
	wAcceptedHash word = "What was accepted (SHA-256): %s"
	wYes          word = "yes"
	wNo2          word = "no"
	wAckText      word = "We have your order as below. Tell us in writing within 10 days if this is wrong."
	wDifferences  word = "Differences from your purchase order"
	wNoDifference word = "None found."
	wChangeUntil  word = "changes until"
	wDelivery     word = "delivery"
)

// Shop floor.
var (
	wMachine     word = "machine"
	wCoil        word = "coil"
	wCoils       word = "Coil"
	wLot         word = "lot"
	wHeat        word = "heat"
	wWidth       word = "width"
	wGauge       word = "gauge"
	wColour      word = "color"
	wRollers     word = "roller set"
	wSetUp       word = "set-up"
	wBefore      word = "feet before"
	wAfter       word = "feet after"
	wBatch       word = "place in batch"
	wChangeover  word = "Changeover"
	wPlanned     word = "planned"
	wBundleOf    word = "Bundle %d of %d"
	wBundleSum   word = "%d pieces, longest %s, %s lb"
	wMachineUnit word = "machine, in"
	wRunning     word = "running ft"
	wLb          word = "lb"
	wGood        word = "good"
	wScrapFt     word = "scrap ft"
	wFirstPiece  word = "First-piece check"
	wNominal     word = "nominal"
	wMeasured    word = "measured"
	wTolerance   word = "tolerance"
	wInitials    word = "initials"
	wRecord      word = "As run"
	wOperator    word = "operator"
	wStart       word = "start"
	wStop        word = "stop"
	wCoilUsed    word = "coil actually used"
	wScrap       word = "scrap, ft and why"
	wInFeet      word = "%s ft"
	wCountedToo  word = "Counted, not cut"
	wLoadAt      word = "stands at"
	wPicked      word = "picked"
	wLoaded      word = "loaded"
	wDelivered   word = "delivered"
	wPickedBy    word = "picked by"
	wCheckedBy   word = "checked by"
	wBundle      word = "bundle"
	wSeeTicket   word = "and %d more lengths, see the ticket"
	wPieceWeight word = "heaviest piece"
	wTwoPeople   word = "Two or more people, or a machine."
	wReceived    word = "received"
	wOnHand      word = "on hand"
	wSupplier    word = "supplier"
	wNeededFor   word = "needed for"
	wNeededBy    word = "needed by"
	wToBuy       word = "to buy"
	wShort       word = "short"
	wLotNote     word = "one lot"
	wToBuyLines  word = "What to buy"
)

// Delivery.
var (
	wStraight      word = "Straight bill of lading — NOT NEGOTIABLE"
	wShipper       word = "from"
	wConsignee     word = "to"
	wDriver        word = "driver"
	wVehicle       word = "vehicle"
	wPackages      word = "packages"
	wOverhang      word = "rear overhang"
	wUnloads       word = "unloading"
	wWhatIsOn      word = "What is on the truck"
	wSecuring      word = "Securing the load"
	wAtLeastTies   word = "Tie-downs: at least %d, combined working load limit at least %s lb."
	wAtLeastFlags  word = "Flags: at least %d."
	wStateRules    word = "State rules may ask for more."
	wHaulsMachine  word = "What is hauled is the machine with its coil and tools: secure them by the same rules. Their weight isn't counted here."
	wHeavy         word = "More than one person's lift: %s. At least two people, or a machine."
	wEachWeighs    word = "%d × %s, %d lb each"
	wCheckStart    word = "Checked before the start: straps, edges, flags. Time and initials:"
	wCheck50       word = "Checked within 50 miles. Time and initials:"
	wCheckAgain    word = "Checked after 3 hours, 150 miles or change of duty. Time and initials:"
	wReceipt       word = "Receipt"
	wGoodOrder     word = "Received in apparent good order except as noted."
	wReceiptOnly   word = "A signature is a receipt. Report hidden damage in writing as soon as it is found."
	wExceptions    word = "Short, over or damaged, by bundle"
	wException     word = "what is wrong"
	wPhotos        word = "photos"
	wRefused       word = "Refused by:"
	wUnattended    word = "Left unattended, allowed by:"
	wLienLaw       word = "Lien and bond rights: local law applies."
	wSignedOnPhone word = "signed on the driver's device"
)

// Books.
var (
	wSupplied     word = "supplied"
	wDue          word = "due"
	wTicket       word = "ticket"
	wPayments     word = "Deposits and payments applied"
	wReference    word = "reference"
	wAmount       word = "amount"
	wAmountDue    word = "Amount due"
	wPaidSoFar    word = "Applied so far"
	wRemit        word = "Pay to"
	wLateFee      word = "Late fee as agreed: %s"
	wOriginal     word = "corrects invoice"
	wOriginalDate word = "of|the day of the corrected invoice"
	wWhy          word = "Why"
	wTaxBack      word = "Tax reversed at the original rate, %s: %s %% on %s"
	wCredit       word = "Credit"
	wApplied      word = "Applied"
	wUnapplied    word = "Not yet applied"
	wAsOf         word = "as of"
	wOpenItems    word = "Open items"
	wNumber       word = "number"
	wOriginalSum  word = "original"
	wOpen         word = "open"
	wDaysPast     word = "days past due"
	wCredits      word = "Credits not yet applied"
	wAgeing       word = "By days past due"
	wCurrent      word = "current"
	wOver90       word = "over 90"
	wBalance      word = "Balance"
	wLessCredits  word = "Less credits not yet applied"
	wToPay        word = "To pay"
)

// The roof take-off.
var (
	wPanel      word = "panel"
	wCover      word = "covers"
	wMetal      word = "metal"
	wVerify     word = "Verify on site before cutting"
	wAllPanels  word = "All panels"
	wTrimNeeded word = "Trim"
	wFromShelf  word = "From the shelf"
	wLaidBy     word = "How it was laid"
	wMarks      word = "marks"
	wNeeded     word = "needed"
	wTaken      word = "taken for it"
)
