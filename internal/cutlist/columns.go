package cutlist

import (
	"regexp"
	"slices"
	"strings"

	"ribdesk/internal/measure"
)

// Role is what a column holds.
type Role string

// The roles. Skip is a column that the cut list doesn't need, such as a weight
// or a row's number.
const (
	Skip     Role = ""
	Quantity Role = "quantity"
	Length   Role = "length"
	WholeFt  Role = "feet"     // feet of a length whose inches stand beside it
	Inches   Role = "inches"   // and those inches
	Fraction Role = "fraction" // and the fraction of an inch
	Mark     Role = "mark"
	Product  Role = "product"
	Colour   Role = "colour"
	Note     Role = "note"
)

// Roles are all roles that a person can choose.
var Roles = []Role{Skip, Quantity, Length, WholeFt, Inches, Fraction, Mark, Product, Colour, Note}

// Column is what a column was taken for.
type Column struct {
	No      int // from 0
	Heading string
	Role    Role
	Unit    measure.Unit // of its heading, "" when it names none
	FeetIn  bool         // its heading says feet-inches: 12-6
	Decimal bool         // its heading says decimals: 12.6
	Parts   int          // a fraction is a count of such parts: 16ths
	maybe   Role         // what it is when nothing else is: total pieces, #
}

// headings are the words of headings in English and Spanish, plain and in lower
// case. Phrases are tried before words.
var headings = []struct {
	role  Role
	words []string
}{
	{Skip, []string{"total", "totals", "weight", "wt", "lbs", "price", "cost", "amount", "width", "gauge", "ga", "lf", "lineal", "linear", "sq", "sqft", "area", "coverage",
		"ext", "extended", "date", "page", "peso", "precio", "costo", "importe", "ancho", "calibre", "ml", "fecha", "bundle", "paquete", "row", "line", "fila", "renglon", "linea", "coil", "rollo", "girth", "pitch", "slope"}},
	{Quantity, []string{"qty", "qnty", "quan", "quantity", "quantities", "pcs", "pc", "pieces", "count", "each", "ea", "nos", "how many", "no of", "number of", "num of", "panels", "sheets",
		"cant", "cantidad", "cantidades", "piezas", "pzas", "pza", "pz", "pzs", "unidades", "uds", "ud", "cuantos", "cuantas", "laminas", "hojas"}},
	{Length, []string{"length", "lengths", "len", "lgth", "lng", "cut", "cuts", "cut length", "long", "size", "largo", "largos", "longitud", "corte", "cortes", "medida", "medidas"}},
	{Fraction, []string{"fraction", "frac", "16ths", "16th", "8ths", "sixteenths", "eighths", "fraccion", "16avos", "8avos"}},
	{Colour, []string{"color", "colour", "colors", "finish", "acabado", "colores"}},
	{Product, []string{"profile", "product", "type", "description", "desc", "material", "panel type", "style", "perfil", "producto", "tipo", "descripcion", "estilo"}},
	{Mark, []string{"mark", "marks", "label", "tag", "id", "item", "ref", "reference", "location", "area name", "plane", "piece", "panel", "marca", "etiqueta", "ubicacion", "referencia", "plano", "pieza", "clave"}},
	{Note, []string{"note", "notes", "remark", "remarks", "comment", "comments", "nota", "notas", "observaciones", "comentario", "comentarios", "obs"}},
}

var (
	feetWords   = []string{"ft", "feet", "foot", "pies", "pie"}
	inchWords   = []string{"in", "ins", "inch", "inches", "pulg", "pulgada", "pulgadas"}
	metricWords = map[string]measure.Unit{"m": measure.Metres, "mt": measure.Metres, "mts": measure.Metres, "metre": measure.Metres, "metres": measure.Metres, "meters": measure.Metres, "meter": measure.Metres,
		"metro": measure.Metres, "metros": measure.Metres, "cm": measure.Centimetres, "mm": measure.Millimetres}
	decimalWords = []string{"decimal", "decimals", "dec", "decimales"}
	titleWords   = []string{"list", "lista", "for", "para", "please", "call", "see", "with", "con", "roof", "techo", "house", "casa", "barn", "job", "thanks", "need", "pedido"}
	ignoredWords = []string{"the", "of", "de", "la", "el", "per", "by", "y", "and", "a", "to", "cut", "net", "req", "reqd", "required", "needed", "order", "each", "no", "num", "final"}
)

var (
	accents   = strings.NewReplacer("á", "a", "é", "e", "í", "i", "ó", "o", "ú", "u", "ü", "u", "ñ", "n", "Á", "a", "É", "e", "Í", "i", "Ó", "o", "Ú", "u", "Ñ", "n")
	notWord   = regexp.MustCompile(`[^a-z0-9]+`)
	bareInch  = regexp.MustCompile(`["″”]`)
	bareFoot  = regexp.MustCompile(`['′’]`)
	allDigits = regexp.MustCompile(`^\d+$`)
)

// plain gives the words of a heading in lower case, without accents and signs.
func plain(s string) string {
	s = strings.ToLower(accents.Replace(s))
	s = bareFoot.ReplaceAllString(bareInch.ReplaceAllString(s, " inches "), " feet ")
	return strings.TrimSpace(notWord.ReplaceAllString(s, " "))
}

// heading reads a cell as the heading of a column; ok tells whether it is one.
func heading(text string) (c Column, ok bool) {
	c.Heading = text
	if text == "#" || strings.EqualFold(text, "no.") || strings.EqualFold(text, "no") || strings.EqualFold(text, "núm.") {
		c.maybe = Quantity
		return c, true // a row's number, or a count: what stands below tells
	}
	words := strings.Fields(plain(text))
	if len(words) == 0 || len(words) > 7 || len(text) > 60 {
		return c, false
	}
	for _, w := range words {
		if len(w) > 2 && allDigits.MatchString(w) || slices.Contains(titleWords, w) {
			return c, false
		}
	}
	c.units(words)
	joined := " " + strings.Join(words, " ") + " "
	for _, h := range headings {
		for _, w := range h.words {
			if strings.Contains(joined, " "+w+" ") {
				c.Role = h.role
				if h.role == Skip && w == "total" {
					c.maybe = otherRole(joined)
				}
				if h.role == Mark && c.Unit != "" || h.role == Fraction {
					c.Role = Fraction
					c.Parts = partsOf(joined)
				}
				return c, true
			}
		}
	}
	if c.Unit == "" {
		return c, false
	}
	// Nothing but a unit: Feet, (in), mm.
	for _, w := range words {
		if !isUnit(w) && !slices.Contains(ignoredWords, w) && !slices.Contains(decimalWords, w) {
			return c, false
		}
	}
	switch {
	case c.FeetIn || c.Unit == measure.Metres || c.Unit == measure.Millimetres || c.Unit == measure.Centimetres:
		c.Role = Length
	case c.Unit == measure.Feet:
		c.Role = WholeFt
	default:
		c.Role = Inches
	}
	return c, true
}

// otherRole finds what a total counts.
func otherRole(joined string) Role {
	for _, h := range headings {
		for _, w := range h.words {
			if h.role == Quantity && strings.Contains(joined, " "+w+" ") {
				return Quantity
			}
		}
	}
	return Skip
}

func isUnit(w string) bool {
	_, metric := metricWords[w]
	return metric || slices.Contains(feetWords, w) || slices.Contains(inchWords, w)
}

func partsOf(joined string) int {
	switch {
	case strings.Contains(joined, " 16") || strings.Contains(joined, " sixteenths"):
		return 16
	case strings.Contains(joined, " 8") || strings.Contains(joined, " eighths"):
		return 8
	}
	return 0
}

// units finds the unit that a heading names.
func (c *Column) units(words []string) {
	feet, inches := false, false
	for _, w := range words {
		feet = feet || slices.Contains(feetWords, w)
		inches = inches || slices.Contains(inchWords, w)
		c.Decimal = c.Decimal || slices.Contains(decimalWords, w)
		if u, ok := metricWords[w]; ok {
			c.Unit = u
		}
	}
	switch {
	case feet && inches:
		c.FeetIn, c.Unit = true, measure.Feet
	case feet:
		c.Unit = measure.Feet
	case inches:
		c.Unit = measure.Inches
	}
}

// block is a set of columns that together make one list; a sheet may have
// several side by side.
type block struct{ columns []Column }

func (b block) find(role Role) (Column, bool) {
	for _, c := range b.columns {
		if c.Role == role {
			return c, true
		}
	}
	return Column{}, false
}

// listed reports whether there is a column for lengths, or for their feet and
// inches.
func (b block) listed() bool {
	_, length := b.find(Length)
	_, feet := b.find(WholeFt)
	_, inches := b.find(Inches)
	return length || feet || inches
}

// headRow reads a row as headings. It is one when at least two cells are, and
// others are fewer. Before any others were found, one that tells of quantities or
// lengths is enough, among short words.
func headRow(row []Cell, found bool) ([]Column, bool) {
	var columns []Column
	known, others, figures := 0, 0, 0
	telling, short := false, true
	for i, cell := range row {
		if cell.blank() {
			continue
		}
		c, ok := heading(cell.Text)
		c.No = i
		switch {
		case ok && cell.Taken == Plain && !lengthLike(cell.Text):
			known++
			short = short && len(strings.Fields(cell.Text)) <= 3
			telling = telling || c.Role == Quantity || c.Role == Length || c.Role == WholeFt || c.Role == Inches
		case cell.Taken != Plain || strings.ContainsAny(cell.Text, "0123456789"):
			figures++
		default:
			others++
			short = short && len(strings.Fields(cell.Text)) <= 3
		}
		columns = append(columns, c)
	}
	if figures > 0 {
		return nil, false
	}
	return columns, known >= 2 && others <= known || !found && telling && short && (len(columns) > 1 || columns[0].Role != Quantity)
}

// under adds a second row of headings to the first: Length over Feet and Inches.
func under(first, second []Column) []Column {
	out := slices.Clone(first)
	for _, c := range second {
		at := slices.IndexFunc(out, func(o Column) bool { return o.No == c.No })
		switch {
		case at < 0:
			out = append(out, c)
		case c.Role == WholeFt || c.Role == Inches || c.Role == Fraction:
			c.Heading = out[at].Heading + " " + c.Heading
			out[at] = c
		case out[at].Role == Length && out[at].Unit == "" && c.Unit != "":
			out[at].Unit, out[at].FeetIn, out[at].Decimal = c.Unit, c.FeetIn, c.Decimal
		case out[at].Role == Skip && c.Role != Skip:
			out[at] = c
		}
	}
	slices.SortFunc(out, func(a, b Column) int { return a.No - b.No })
	return out
}

// blocksOf parts columns where the list begins again beside itself.
func blocksOf(columns []Column) []block {
	settle(columns)
	var blocks []block
	var b block
	has := func(r Role) bool { _, ok := b.find(r); return ok }
	for _, c := range columns {
		again := c.Role == Quantity && has(Quantity) || c.Role == Length && has(Length) || c.Role == WholeFt && has(WholeFt) || c.Role == Inches && has(Inches)
		if again && b.listed() && has(Quantity) {
			blocks = append(blocks, b)
			b = block{}
		} else if again {
			c.Role = Skip // the first of two is it
		}
		b.columns = append(b.columns, c)
	}
	return append(blocks, b)
}

// settle decides what feet and inches mean beside each other: alone, either is
// the whole length.
func settle(columns []Column) {
	for i := range columns[:max(len(columns)-1, 0)] {
		ft, in := &columns[i], &columns[i+1]
		if ft.Role == Length && in.Role == Length && ft.Unit == measure.Feet && in.Unit == measure.Inches && !ft.FeetIn {
			ft.Role, in.Role = WholeFt, Inches
		}
	}
	count := map[Role]int{}
	for _, c := range columns {
		count[c.Role]++
	}
	for i := range columns {
		if count[Quantity] == 0 && columns[i].maybe == Quantity {
			columns[i].Role = Quantity
			break
		}
	}
	if count[WholeFt] > 0 && (count[Inches] > 0 || count[Fraction] > 0) || count[Inches] > 0 && count[Fraction] > 0 {
		return
	}
	for i := range columns {
		if count[Length] == 0 && (columns[i].Role == WholeFt || columns[i].Role == Inches) {
			columns[i].Role = Length
		} else if count[Length] > 0 && columns[i].Role == WholeFt {
			columns[i].Role = Skip // the same once more, or lineal feet
		}
	}
}
