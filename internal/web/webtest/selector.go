package webtest

import (
	"regexp"
	"slices"
	"strings"

	"golang.org/x/net/html"
)

// Find gives the elements below n that fit a selector, in document order. A
// selector is a small part of CSS: tag, #id, .class, [attr], [attr=value], put
// together, and spaces for "inside".
func Find(n *html.Node, selector string) []*html.Node {
	within := []*html.Node{n}
	for _, step := range strings.Fields(selector) {
		var next []*html.Node
		for _, from := range within {
			for d := range from.Descendants() {
				if d.Type == html.ElementNode && fits(d, step) && !slices.Contains(next, d) {
					next = append(next, d)
				}
			}
		}
		within = next
	}
	return within
}

var partForm = regexp.MustCompile(`^[a-z0-9]+|#[\w-]+|\.[\w-]+|\[[\w-]+(="?[^\]"]*"?)?\]`)

func fits(n *html.Node, step string) bool {
	parts := partForm.FindAllString(step, -1)
	if strings.Join(parts, "") != step {
		panic("webtest: selector " + step + " isn't understood")
	}
	for _, part := range parts {
		switch part[0] {
		case '#':
			if Attr(n, "id") != part[1:] {
				return false
			}
		case '.':
			if !slices.Contains(strings.Fields(Attr(n, "class")), part[1:]) {
				return false
			}
		case '[':
			name, value, valued := strings.Cut(strings.Trim(part, "[]"), "=")
			if !HasAttr(n, name) || valued && Attr(n, name) != strings.Trim(value, `"`) {
				return false
			}
		default:
			if n.Data != part {
				return false
			}
		}
	}
	return true
}

// Attr gives an attribute's value, "" where it isn't.
func Attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// HasAttr reports whether an element has an attribute.
func HasAttr(n *html.Node, name string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

// Text gives the words inside an element, with single spaces.
func Text(n *html.Node) string { return strings.Join(strings.Fields(raw(n)), " ") }

func raw(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
			b.WriteString(" ")
		}
	}
	return strings.TrimSuffix(b.String(), " ")
}
