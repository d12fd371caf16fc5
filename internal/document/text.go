package document

// word is a word or sentence of the papers in both languages.
type word struct{ en, es string }

func (w word) in(l Language) string {
	if l == Spanish {
		return w.es
	}
	return w.en
}

// things names the papers.
var things = map[Kind]word{
	KindQuote:           {"Quote", "Cotización"},
	KindAcknowledgement: {"Order acknowledgement", "Acuse de pedido"},
	KindRunSheet:        {"Run sheet", "Hoja de corrida"},
	KindBundleLabels:    {"Bundle label", "Etiqueta de paquete"},
	KindPickTicket:      {"Pick ticket", "Orden de surtido"},
	KindDeliveryTicket:  {"Delivery ticket", "Nota de entrega"},
	KindInvoice:         {"Invoice", "Factura"},
	KindCreditMemo:      {"Credit memo", "Nota de crédito"},
	KindStatement:       {"Statement", "Estado de cuenta"},
	KindCoilTag:         {"Coil tag", "Etiqueta de bobina"},
	KindPurchaseList:    {"Purchase list", "Lista de compra"},
}

// The title block, addresses and parts that several papers share.
var (
	wContinued    = word{"continued", "continuación"}
	wRevision     = word{"revision", "revisión"}
	wState        = word{"state", "estado"}
	wDate         = word{"date", "fecha"}
	wBy           = word{"by", "por"}
	wSheet        = word{"sheet", "hoja"}
	wOf           = word{"of", "de"}
	wCalculated   = word{"Weights are calculated, not weighed.", "Los pesos son calculados, no pesados."}
	wCustomer     = word{"customer", "cliente"}
	wShipTo       = word{"ship to", "entregar en"}
	wPickUp       = word{"picked up at the shop", "se recoge en el taller"}
	wJob          = word{"job", "obra"}
	wPO           = word{"customer PO", "orden de compra"}
	wRegistration = word{"Registration", "Registro"}
	wTaxNumber    = word{"Tax no.", "N.º fiscal"}
	wCautions     = word{"Cautions", "Precauciones"}
	wTerms        = word{"terms", "condiciones"}
	wOrder        = word{"order", "pedido"}
	wQuoteNumber  = word{"quote", "cotización"}
	wName         = word{"name in print", "nombre en letra de molde"}
	wSignature    = word{"signature", "firma"}
	wTitle        = word{"title", "cargo"}
	wWhen         = word{"date and time", "fecha y hora"}
	wNotes        = word{"Notes", "Notas"}
)

// Lines, prices and taxes.
var (
	wLines       = word{"Lines", "Partidas"}
	wNo          = word{"no.", "n.º"}
	wWhat        = word{"what", "qué"}
	wPieces      = word{"pieces", "piezas"}
	wLength      = word{"length", "largo"}
	wQuantity    = word{"quantity", "cantidad"}
	wUnit        = word{"unit", "unidad"}
	wUnitPrice   = word{"unit price", "precio unit."}
	wNet         = word{"net", "importe"}
	wGirth       = word{"girth", "desarrollo"}
	wBends       = word{"bends", "dobleces"}
	wHems        = word{"hems", "bastillas"}
	wCharges     = word{"Charges and allowances", "Cargos y descuentos"}
	wCharge      = word{"charge", "cargo"}
	wReason      = word{"reason", "motivo"}
	wSubtotal    = word{"Subtotal", "Subtotal"}
	wTotal       = word{"Total", "Total"}
	wTaxOn       = word{"Tax, %s: %s %% on %s", "Impuesto, %s: %s %% sobre %s"}
	wNoTax       = word{"No tax on %s: %s", "Sin impuesto sobre %s: %s"}
	wCertificate = word{"certificate %s, %s, good to %s", "certificado %s, %s, vigente hasta %s"}
	wDeposit     = word{"Deposit due", "Anticipo a pagar"}
	wWeight      = word{"weight", "peso"}
	wLongest     = word{"longest piece", "pieza más larga"}
	wPounds      = word{"%s lb", "%s lb"}
)

// Quote and acknowledgement.
var (
	wValidUntil   = word{"good until", "válida hasta"}
	wInAll        = word{"total", "total"}
	wTwoPrices    = word{"Two prices for the same work", "Dos precios por el mismo trabajo"}
	wAlone        = word{"Alone, as a run of its own", "Sola, como corrida propia"}
	wSharing      = word{"Sharing a set-up with a planned run", "Compartiendo ajuste con una corrida planeada"}
	wReady        = word{"ready, estimated", "lista, estimado"}
	wThisQuote    = word{"this paper's lines", "según estas partidas"}
	wOnCondition  = word{"on condition", "condición"}
	wDrawn        = word{"As drawn", "Según dibujo"}
	wSlit         = word{"Slitting patterns", "Patrones de corte"}
	wExclusions   = word{"Not included, and what we ask of you", "No incluye, y lo que le pedimos"}
	wTakeOff      = word{"Lengths and counts are yours: check them against the building before you accept.", "Los largos y cantidades son suyos: revíselos contra la obra antes de aceptar."}
	wNotIncluded  = word{"Fasteners, sealant and closures not listed, engineering and installation aren't included.", "No se incluyen fijaciones, sellador ni cierres no listados, ingeniería ni instalación."}
	wNoCancel     = word{"Cut to length: no cancellation and no return after cutting.", "Cortado a la medida: sin cancelación ni devolución después del corte."}
	wFirm         = word{"The prices on this paper hold until the day above. The lead time is an estimate.", "Los precios de esta hoja valen hasta la fecha de arriba. El plazo es un estimado."}
	wTermsVersion = word{"Terms of sale, version %s.", "Condiciones de venta, versión %s."}
	wLeadTime     = word{"lead time", "plazo"}
	wAcceptance   = word{"Acceptance", "Aceptación"}
	wAcceptText   = word{"I accept this quote and its terms for the buyer, and agree that records and signatures may be electronic.", "Acepto esta cotización y sus condiciones por el comprador, y que los registros y firmas sean electrónicos."}
	wAcceptedBy   = word{"Accepted by %s, %s, on %s, by %s, from %s. Electronic records agreed to: %s.", "Aceptada por %s, %s, el %s, mediante %s, desde %s. Acepta registros electrónicos: %s."}
	wAcceptedHash = word{"What was accepted (SHA-256): %s", "Lo aceptado (SHA-256): %s"}
	wYes          = word{"yes", "sí"}
	wNo2          = word{"no", "no"}
	wAckText      = word{"We have your order as below. Tell us in writing within 10 days if this is wrong.", "Tenemos su pedido como sigue. Avísenos por escrito dentro de 10 días si algo está mal."}
	wDifferences  = word{"Differences from your purchase order", "Diferencias con su orden de compra"}
	wNoDifference = word{"None found.", "No se encontró ninguna."}
	wChangeUntil  = word{"changes until", "cambios hasta"}
	wDelivery     = word{"delivery", "entrega"}
)

// Shop floor.
var (
	wMachine     = word{"machine", "máquina"}
	wCoil        = word{"coil", "bobina"}
	wCoils       = word{"Coil", "Bobina"}
	wLot         = word{"lot", "lote"}
	wHeat        = word{"heat", "colada"}
	wWidth       = word{"width", "ancho"}
	wGauge       = word{"gauge", "calibre"}
	wColour      = word{"color", "color"}
	wRollers     = word{"roller set", "juego de rodillos"}
	wSetUp       = word{"set-up", "ajuste"}
	wBefore      = word{"feet before", "pies antes"}
	wAfter       = word{"feet after", "pies después"}
	wBatch       = word{"place in batch", "lugar en el lote"}
	wChangeover  = word{"Changeover", "Cambio"}
	wPlanned     = word{"planned", "planeado"}
	wBundleOf    = word{"Bundle %d of %d", "Paquete %d de %d"}
	wBundleSum   = word{"%d pieces, longest %s, %s lb", "%d piezas, la más larga %s, %s lb"}
	wMachineUnit = word{"machine, in", "máquina, pulg"}
	wRunning     = word{"running ft", "pies corridos"}
	wLb          = word{"lb", "lb"}
	wGood        = word{"good", "buenas"}
	wScrapFt     = word{"scrap ft", "merma pies"}
	wFirstPiece  = word{"First-piece check", "Revisión de la primera pieza"}
	wNominal     = word{"nominal", "nominal"}
	wMeasured    = word{"measured", "medido"}
	wTolerance   = word{"tolerance", "tolerancia"}
	wInitials    = word{"initials", "iniciales"}
	wRecord      = word{"As run", "Como se corrió"}
	wOperator    = word{"operator", "operador"}
	wStart       = word{"start", "inicio"}
	wStop        = word{"stop", "fin"}
	wCoilUsed    = word{"coil actually used", "bobina usada"}
	wScrap       = word{"scrap, ft and why", "merma, pies y motivo"}
	wInFeet      = word{"%s ft", "%s pies"}
	wCountedToo  = word{"Counted, not cut", "Contado, no cortado"}
	wLoadAt      = word{"stands at", "está en"}
	wPicked      = word{"picked", "surtido"}
	wLoaded      = word{"loaded", "cargado"}
	wDelivered   = word{"delivered", "entregado"}
	wPickedBy    = word{"picked by", "surtió"}
	wCheckedBy   = word{"checked by", "revisó"}
	wBundle      = word{"bundle", "paquete"}
	wSeeTicket   = word{"and %d more lengths, see the ticket", "y %d largos más, vea la nota"}
	wPieceWeight = word{"heaviest piece", "pieza más pesada"}
	wTwoPeople   = word{"Two or more people, or a machine.", "Dos o más personas, o una máquina."}
	wReceived    = word{"received", "recibida"}
	wOnHand      = word{"on hand", "existencia"}
	wSupplier    = word{"supplier", "proveedor"}
	wNeededFor   = word{"needed for", "para"}
	wNeededBy    = word{"needed by", "se necesita el"}
	wToBuy       = word{"to buy", "por comprar"}
	wShort       = word{"short", "falta"}
	wLotNote     = word{"one lot", "un solo lote"}
	wToBuyLines  = word{"What to buy", "Qué comprar"}
)

// Delivery.
var (
	wStraight      = word{"Straight bill of lading — NOT NEGOTIABLE", "Conocimiento de embarque directo — NO NEGOCIABLE"}
	wShipper       = word{"from", "de"}
	wConsignee     = word{"to", "a"}
	wDriver        = word{"driver", "chofer"}
	wVehicle       = word{"vehicle", "vehículo"}
	wPackages      = word{"packages", "bultos"}
	wOverhang      = word{"rear overhang", "sobresale atrás"}
	wUnloads       = word{"unloading", "descarga"}
	wWhatIsOn      = word{"What is on the truck", "Qué lleva el camión"}
	wSecuring      = word{"Securing the load", "Amarre de la carga"}
	wAtLeastTies   = word{"Tie-downs: at least %d, combined working load limit at least %s lb.", "Amarres: al menos %d, límite de carga combinado al menos %s lb."}
	wAtLeastFlags  = word{"Flags: at least %d.", "Banderas: al menos %d."}
	wStateRules    = word{"State rules may ask for more.", "Las reglas del estado pueden pedir más."}
	wCheckStart    = word{"Checked before the start: straps, edges, flags. Time and initials:", "Revisado antes de salir: correas, bordes, banderas. Hora e iniciales:"}
	wCheck50       = word{"Checked within 50 miles. Time and initials:", "Revisado dentro de 50 millas. Hora e iniciales:"}
	wCheckAgain    = word{"Checked after 3 hours, 150 miles or change of duty. Time and initials:", "Revisado tras 3 horas, 150 millas o cambio de turno. Hora e iniciales:"}
	wReceipt       = word{"Receipt", "Recibo"}
	wGoodOrder     = word{"Received in apparent good order except as noted.", "Recibido en aparente buen estado salvo lo anotado."}
	wReceiptOnly   = word{"A signature is a receipt. Report hidden damage in writing as soon as it is found.", "La firma es un recibo. Reporte por escrito el daño oculto en cuanto lo encuentre."}
	wExceptions    = word{"Short, over or damaged, by bundle", "Faltante, sobrante o dañado, por paquete"}
	wException     = word{"what is wrong", "qué está mal"}
	wPhotos        = word{"photos", "fotos"}
	wRefused       = word{"Refused by:", "Rechazado por:"}
	wUnattended    = word{"Left unattended, allowed by:", "Dejado sin recibir, autorizado por:"}
	wLienLaw       = word{"Lien and bond rights: local law applies.", "Derechos de gravamen y fianza: aplica la ley local."}
	wSignedOnPhone = word{"signed on the driver's device", "firmado en el equipo del chofer"}
)

// Books.
var (
	wSupplied     = word{"supplied", "suministro"}
	wDue          = word{"due", "vence"}
	wTicket       = word{"ticket", "nota de entrega"}
	wPayments     = word{"Deposits and payments applied", "Anticipos y pagos aplicados"}
	wReference    = word{"reference", "referencia"}
	wAmount       = word{"amount", "importe"}
	wAmountDue    = word{"Amount due", "Saldo a pagar"}
	wPaidSoFar    = word{"Applied so far", "Aplicado hasta ahora"}
	wRemit        = word{"Pay to", "Pagar a"}
	wLateFee      = word{"Late fee as agreed: %s", "Recargo convenido: %s"}
	wOriginal     = word{"corrects invoice", "corrige la factura"}
	wOriginalDate = word{"of", "del"}
	wWhy          = word{"Why", "Motivo"}
	wTaxBack      = word{"Tax reversed at the original rate, %s: %s %% on %s", "Impuesto revertido a la tasa original, %s: %s %% sobre %s"}
	wCredit       = word{"Credit", "Crédito"}
	wApplied      = word{"Applied", "Aplicado"}
	wUnapplied    = word{"Not yet applied", "Sin aplicar"}
	wAsOf         = word{"as of", "al"}
	wOpenItems    = word{"Open items", "Partidas abiertas"}
	wNumber       = word{"number", "número"}
	wOriginalSum  = word{"original", "original"}
	wOpen         = word{"open", "pendiente"}
	wDaysPast     = word{"days past due", "días vencidos"}
	wCredits      = word{"Credits not yet applied", "Créditos sin aplicar"}
	wAgeing       = word{"By days past due", "Por días vencidos"}
	wCurrent      = word{"current", "al corriente"}
	wOver90       = word{"over 90", "más de 90"}
	wBalance      = word{"Balance", "Saldo"}
	wLessCredits  = word{"Less credits not yet applied", "Menos créditos sin aplicar"}
	wToPay        = word{"To pay", "Por pagar"}
)
