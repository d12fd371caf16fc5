package mail

import (
	"strconv"
	"strings"
	"text/template"
	"time"
)

// language is all that letters say, in one language.
type language struct {
	greeting  string
	questions string
	labels    map[string]string
	link      map[Kind]string
	letters   map[Kind]wording
	day       func(time.Time) string
	moment    func(time.Time) string
}

// wording is one letter: templates over Facts. A paragraph that comes out empty
// is left out.
type wording struct {
	subject string
	says    []string
}

func words(lang Language) *language {
	if lang == Spanish {
		return spanish
	}
	return english
}

func (l *language) fill(text string, f Facts) (string, error) {
	t, err := template.New("").Funcs(template.FuncMap{"day": l.day, "moment": l.moment}).Parse(text)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	err = t.Execute(&b, f)
	return b.String(), err
}

var english = &language{
	greeting:  `Hello{{with .To}} {{.}}{{end}},`,
	questions: `Questions? Answer this mail{{with .Phone}} or call {{.}}{{end}}.`,
	labels: map[string]string{
		"order": "Order", "job": "Job", "po": "Your PO", "total": "Total", "deposit": "Deposit due", "until": "Open until",
		"promise": "Promised for", "was": "Before", "place": "Where", "driver": "Driver", "ticket": "Delivery ticket",
		"receiver": "Received by", "left": "Left unattended, allowed by", "at": "Handed over", "invoice": "Invoice", "open": "Still to pay", "due": "Due",
	},
	link: map[Kind]string{Quoted: "See the quote, ask, accept or decline"},
	letters: map[Kind]wording{
		Quoted: {`Quote {{.Order}} from {{.Shop}}`, []string{
			`Here is your quote. It is attached, and you can read and accept it on its page.`,
			`Please check lengths and quantities: pieces are cut to length and can't be taken back once cutting has begun.`,
			`The price holds until {{day .Until}}. Whoever has the link can open the page, so pass it on with care.`,
		}},
		Accepted: {`Order {{.Order}} is accepted`, []string{
			`Thank you. Your order is accepted, and its acknowledgement is attached.`,
			`Please read it line by line and tell us at once if anything is wrong: after cutting it can't be changed.`,
			`{{with .Deposit}}A deposit of {{.}} is due before we cut.{{end}}`,
		}},
		Moved: {`Order {{.Order}} has a new date`, []string{
			`{{if .Was.IsZero}}Your order is now promised for {{moment .Promise}}.{{else}}Your order was promised for {{moment .Was}}. It is now promised for {{moment .Promise}}.{{end}}`,
			`We are sorry if this upsets your plans. Call us if the new date doesn't work for you.`,
		}},
		Ready: {`Order {{.Order}} is ready{{if .PickUp}} to pick up{{end}}`, []string{
			`{{if .PickUp}}Your order is cut, bundled and ready to pick up.{{else}}Your order is cut and bundled. It waits for its delivery; you hear from us when it is on the way.{{end}}`,
			`{{if .PickUp}}Bring a vehicle or trailer that carries the longest piece, straps, edge protection and gloves: cut edges are razor sharp.{{end}}`,
		}},
		Leaving: {`Order {{.Order}} is on the way`, []string{
			`Your delivery has left the shop. Please keep the way clear and have people or a machine there to unload.`,
			`Wear gloves: cut edges are razor sharp. A long panel is a sail in the wind.`,
		}},
		Delivered: {`Order {{.Order}}: {{if .PickUp}}picked up{{else}}delivered{{end}}`, []string{
			`{{if .PickUp}}Your order was handed over at the shop.{{else}}Your delivery was handed over.{{end}} The ticket is attached.`,
			`{{if eq .Noted 1}}One remark was noted on the ticket; we'll come back to you about it.{{else if .Noted}}{{.Noted}} remarks were noted on the ticket; we'll come back to you about them.{{end}}`,
		}},
		Invoiced: {`Invoice {{.Invoice}} from {{.Shop}}`, []string{
			`The invoice for order {{.Order}} is attached. Thank you for your business.`,
		}},
		Overdue: {`Invoice {{.Invoice}} is past due`, []string{
			`Invoice {{.Invoice}} was due on {{day .Due}}, {{if eq .Days 1}}one day{{else}}{{.Days}} days{{end}} ago, and {{.Open}} of it are open. A copy is attached.`,
			`If you have paid in the last days, thank you, and please take no notice of this. If something about the invoice isn't right, tell us.`,
		}},
	},
	day:    func(t time.Time) string { return written(t, "Monday, January 2, 2006") },
	moment: func(t time.Time) string { return written(t, "Monday, January 2, 2006, 3:04 PM") },
}

var spanish = &language{
	greeting:  `Hola{{with .To}}, {{.}}{{end}}:`,
	questions: `¿Preguntas? Conteste este correo{{with .Phone}} o llame al {{.}}{{end}}.`,
	labels: map[string]string{
		"order": "Pedido", "job": "Obra", "po": "Su orden de compra", "total": "Total", "deposit": "Anticipo", "until": "Vigente hasta",
		"promise": "Prometido para", "was": "Antes", "place": "Lugar", "driver": "Conductor", "ticket": "Nota de entrega",
		"receiver": "Recibido por", "left": "Se dejó sin recibir, autorizado por", "at": "Entregado", "invoice": "Factura", "open": "Por pagar", "due": "Vence",
	},
	link: map[Kind]string{Quoted: "Vea la cotización, pregunte, acepte o rechace"},
	letters: map[Kind]wording{
		Quoted: {`Cotización {{.Order}} de {{.Shop}}`, []string{
			`Aquí está su cotización. Va adjunta, y puede leerla y aceptarla en su página.`,
			`Revise largos y cantidades: las piezas se cortan a la medida y no se aceptan devoluciones una vez iniciado el corte.`,
			`El precio vale hasta el {{day .Until}}. Quien tenga el enlace puede abrir la página; compártalo con cuidado.`,
		}},
		Accepted: {`El pedido {{.Order}} está aceptado`, []string{
			`Gracias. Su pedido está aceptado; la confirmación va adjunta.`,
			`Léala línea por línea y avísenos de inmediato si algo está mal: después del corte no se puede cambiar.`,
			`{{with .Deposit}}Antes del corte se debe pagar un anticipo de {{.}}.{{end}}`,
		}},
		Moved: {`El pedido {{.Order}} tiene nueva fecha`, []string{
			`{{if .Was.IsZero}}Su pedido está prometido ahora para el {{moment .Promise}}.{{else}}Su pedido estaba prometido para el {{moment .Was}}. Ahora está prometido para el {{moment .Promise}}.{{end}}`,
			`Lamentamos si esto afecta sus planes. Llámenos si la nueva fecha no le conviene.`,
		}},
		Ready: {`El pedido {{.Order}} está listo{{if .PickUp}} para recoger{{end}}`, []string{
			`{{if .PickUp}}Su pedido está cortado, atado y listo para recoger.{{else}}Su pedido está cortado y atado. Espera su entrega; le avisamos cuando vaya en camino.{{end}}`,
			`{{if .PickUp}}Traiga un vehículo o remolque para la pieza más larga, correas, protección para los bordes y guantes: los bordes cortados tienen mucho filo.{{end}}`,
		}},
		Leaving: {`El pedido {{.Order}} va en camino`, []string{
			`Su entrega salió del taller. Deje libre el paso y tenga gente o una máquina para descargar.`,
			`Use guantes: los bordes cortados tienen mucho filo. Con viento, un panel largo es una vela.`,
		}},
		Delivered: {`Pedido {{.Order}}: {{if .PickUp}}recogido{{else}}entregado{{end}}`, []string{
			`{{if .PickUp}}Su pedido se entregó en el taller.{{else}}Su entrega se realizó.{{end}} La nota de entrega va adjunta.`,
			`{{if eq .Noted 1}}En la nota quedó anotada una observación; le hablaremos sobre ella.{{else if .Noted}}En la nota quedaron anotadas {{.Noted}} observaciones; le hablaremos sobre ellas.{{end}}`,
		}},
		Invoiced: {`Factura {{.Invoice}} de {{.Shop}}`, []string{
			`La factura del pedido {{.Order}} va adjunta. Gracias por su compra.`,
		}},
		Overdue: {`La factura {{.Invoice}} está vencida`, []string{
			`La factura {{.Invoice}} venció el {{day .Due}}, hace {{if eq .Days 1}}un día{{else}}{{.Days}} días{{end}}, y quedan {{.Open}} por pagar. Va adjunta una copia.`,
			`Si ya pagó en los últimos días, gracias; no haga caso de este aviso. Si algo de la factura no está bien, díganos.`,
		}},
	},
	day: spanishDay,
	moment: func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		half := "a. m."
		if t.Hour() >= 12 {
			half = "p. m."
		}
		return spanishDay(t) + ", " + t.Format("3:04") + " " + half
	},
}

// written formats a moment, "" for none.
func written(t time.Time, form string) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(form)
}

var (
	weekdays = [...]string{"domingo", "lunes", "martes", "miércoles", "jueves", "viernes", "sábado"}
	months   = [...]string{"enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre", "diciembre"}
)

func spanishDay(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return weekdays[t.Weekday()] + " " + strconv.Itoa(t.Day()) + " de " + months[t.Month()-1] + " de " + strconv.Itoa(t.Year())
}
