package web

// Difference is a field in which what is on file now differs from what was
// typed, after somebody else was faster.
type Difference struct {
	Label string
	Now   string
	Yours string
}

// values gives what fields hold, before a form is read over them.
func values(fields []*Field) []string {
	list := make([]string, len(fields))
	for i, f := range fields {
		list[i] = f.shown()
	}
	return list
}

// shown is what a person sees in a field.
func (f *Field) shown() string {
	if f.Kind == "checkbox" {
		if f.Checked {
			return "yes"
		}
		return "no"
	}
	for _, o := range f.choices() {
		if o.Value == f.Value {
			return o.Label
		}
	}
	return f.Value
}

// meanwhile shows both sides when a record was changed by somebody else between
// its being shown and sent: what is on file now, and what was typed. It gives
// the version for the form, which is then the newest: sending it again replaces
// the other's change knowingly.
func (v *visit) meanwhile(b *Base, fields []*Field, onFile []string, seen, newest int64) int64 {
	if seen == newest {
		return seen
	}
	for i, f := range fields {
		if yours := f.shown(); yours != onFile[i] {
			b.Meanwhile = append(b.Meanwhile, Difference{f.Label, onFile[i], yours})
		}
	}
	return newest
}
