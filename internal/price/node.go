package price

import (
	"encoding/json"

	"ribdesk/internal/money"
)

// shownPlaces is how many decimals a figure keeps once nothing is computed from
// it any more.
const shownPlaces = 12

func shown(r money.Rate) money.Rate { return r.Shorten(shownPlaces) }

// Node is one figure of a build-up: what it is, how it was made of the figures
// below it, and its value before any rounding.
type Node struct {
	Label string     `json:"label"`
	How   string     `json:"how,omitempty"`
	Value money.Rate `json:"value"`
	Unit  string     `json:"unit,omitempty"`
	Parts []*Node    `json:"parts,omitempty"`
}

// plainNode is a node as JSON has it.
type plainNode struct {
	Label string       `json:"label"`
	How   string       `json:"how,omitempty"`
	Value money.Rate   `json:"value"`
	Unit  string       `json:"unit,omitempty"`
	Parts []*plainNode `json:"parts,omitempty"`
}

func (n *Node) plain() *plainNode {
	p := &plainNode{Label: n.Label, How: n.How, Value: shown(n.Value), Unit: n.Unit}
	for _, part := range n.Parts {
		p.Parts = append(p.Parts, part.plain())
	}
	return p
}

// MarshalJSON writes the tree with its values cut to 12 places.
func (n *Node) MarshalJSON() ([]byte, error) { return json.Marshal(n.plain()) }

// Walk visits the node and all below it, each with its depth.
func (n *Node) Walk(visit func(n *Node, depth int)) { n.walk(visit, 0) }

func (n *Node) walk(visit func(n *Node, depth int), depth int) {
	visit(n, depth)
	for _, p := range n.Parts {
		p.walk(visit, depth+1)
	}
}

// Find gives the first node with this label, nil when there is none.
func (n *Node) Find(label string) *Node {
	if n.Label == label {
		return n
	}
	for _, p := range n.Parts {
		if f := p.Find(label); f != nil {
			return f
		}
	}
	return nil
}

func leaf(label string, value money.Rate, unit string) *Node {
	return &Node{Label: label, Value: value, Unit: unit}
}

func node(label, how string, value money.Rate, unit string, parts ...*Node) *Node {
	return &Node{Label: label, How: how, Value: value, Unit: unit, Parts: parts}
}

// sheet collects figures that are added up, skipping those that are nothing.
type sheet struct {
	total money.Rate
	parts []*Node
}

func (s *sheet) add(n *Node) {
	if n.Value.IsZero() {
		return
	}
	s.total = s.total.Add(n.Value)
	s.parts = append(s.parts, n)
}

func (s *sheet) node(label, unit string) *Node {
	return node(label, "sum", s.total, unit, s.parts...)
}

// Units that figures are in.
const (
	unitMoney = "$"
	unitHour  = "$/h"
	unitYear  = "$/year"
	unitFoot  = "$/ft"
	unitMin   = "min"
	unitShare = "share"
)

var (
	one     = money.Int(1)
	two     = money.Int(2)
	twelve  = money.Int(12)
	sixteen = money.Int(16)
	sixty   = money.Int(60)
	gross   = money.Int(144)
	hundred = money.Int(100)
)
