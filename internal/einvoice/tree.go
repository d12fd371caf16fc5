package einvoice

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"

	"ribdesk/internal/fault"
)

// The namespaces of UBL 2.1.
const (
	nsInvoice    = "urn:oasis:names:specification:ubl:schema:xsd:Invoice-2"
	nsCreditNote = "urn:oasis:names:specification:ubl:schema:xsd:CreditNote-2"
	nsAggregate  = "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2"
	nsBasic      = "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2"
)

// node is an element: of cac with children, of cbc with text. Names are written
// with their prefix.
type node struct {
	name  string
	attrs []string // name, value, name, value
	text  string
	kids  []node
}

// leaf makes an element with text; attrs come in pairs.
func leaf(name, text string, attrs ...string) node { return node{name: name, text: text, attrs: attrs} }

func branch(name string, kids ...node) node { return node{name: name, kids: kids} }

// empty reports an element that says nothing; UBL forbids those, so they are
// left out.
func (n node) empty() bool {
	if strings.TrimSpace(n.text) != "" {
		return false
	}
	for _, k := range n.kids {
		if !k.empty() {
			return false
		}
	}
	return true
}

func (n node) write(b *bytes.Buffer, indent string) {
	if n.empty() {
		return
	}
	b.WriteString(indent + "<" + n.name)
	for i := 0; i+1 < len(n.attrs); i += 2 {
		b.WriteString(" " + n.attrs[i] + `="`)
		escape(b, n.attrs[i+1])
		b.WriteByte('"')
	}
	b.WriteByte('>')
	if len(n.kids) == 0 {
		escape(b, n.text)
	} else {
		b.WriteByte('\n')
		for _, k := range n.kids {
			k.write(b, indent+"  ")
		}
		b.WriteString(indent)
	}
	b.WriteString("</" + n.name + ">\n")
}

// escape writes text so that nothing in it acts as markup; what XML 1.0 can't
// hold becomes U+FFFD. A buffer takes every write.
func escape(b *bytes.Buffer, s string) { _ = xml.EscapeText(b, []byte(strings.TrimSpace(s))) }

// Bounds of a file that is read; a shop's own invoices stay far below.
const (
	maxDepth = 20
	maxNodes = 200_000
)

// parse reads a file into a tree, with the prefixes cac and cbc whatever the
// file calls them. Document types and entities of the file's own are refused:
// encoding/xml doesn't expand them, and a UBL file has none.
func parse(r io.Reader) (node, error) {
	d := xml.NewDecoder(r)
	root := node{}
	stack := []*node{&root}
	for count := 0; ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return root, fault.Invalidf("file", "this isn't a readable XML file").Because(err)
		}
		top := stack[len(stack)-1]
		switch t := token.(type) {
		case xml.Directive:
			return root, fault.Invalidf("file", "a document type has no place in an invoice file")
		case xml.StartElement:
			if count++; count > maxNodes || len(stack) > maxDepth {
				return root, fault.Invalidf("file", "this file is larger or deeper than any invoice")
			}
			top.kids = append(top.kids, node{name: prefixed(t.Name), attrs: plainAttrs(t.Attr)})
			stack = append(stack, &top.kids[len(top.kids)-1])
		case xml.EndElement:
			top.text = strings.TrimSpace(top.text)
			stack = stack[:len(stack)-1]
		case xml.CharData:
			top.text += string(t)
		}
	}
	if len(root.kids) != 1 {
		return root, fault.Invalidf("file", "this isn't an invoice file")
	}
	return root.kids[0], nil
}

func prefixed(n xml.Name) string {
	switch n.Space {
	case nsAggregate:
		return "cac:" + n.Local
	case nsBasic:
		return "cbc:" + n.Local
	case nsInvoice, nsCreditNote:
		return n.Local
	}
	return n.Space + " " + n.Local
}

func plainAttrs(as []xml.Attr) (out []string) {
	for _, a := range as {
		if a.Name.Space == "" && a.Name.Local != "xmlns" {
			out = append(out, a.Name.Local, a.Value)
		}
	}
	return out
}

// all gives the elements at a path such as "cac:Party/cac:PartyName".
func (n node) all(path string) []node {
	first, rest, deeper := strings.Cut(path, "/")
	var out []node
	for _, k := range n.kids {
		if k.name != first {
			continue
		}
		if deeper {
			out = append(out, k.all(rest)...)
		} else {
			out = append(out, k)
		}
	}
	return out
}

// at gives the first element at a path, the empty node where there is none.
func (n node) at(path string) node {
	if found := n.all(path); len(found) > 0 {
		return found[0]
	}
	return node{}
}

func (n node) attr(name string) string {
	for i := 0; i+1 < len(n.attrs); i += 2 {
		if n.attrs[i] == name {
			return n.attrs[i+1]
		}
	}
	return ""
}
