package desk

import (
	"encoding/json"
	"slices"
	"sync"

	"ribdesk/internal/order"
)

// said keeps the last answers to asks. The counter prices while one types, so an
// order that is kept was nearly always priced a moment before: it needn't be
// priced and placed again. The answers belong to one planning, so to one state of
// shop and plan and one minute; with the next they are gone.
type said struct {
	mu      sync.Mutex
	answers map[string]Priced
}

// mostSaid bounds the memory for answers to some megabytes.
const mostSaid = 32

// askKey stands for all that an answer depends on besides its planning; "" for an
// order that has no text.
func askKey(o order.Order, b buyer) string {
	key, err := json.Marshal([]any{o, b.class, b.certificate})
	if err != nil {
		return ""
	}
	return string(key)
}

// find gives the answer to the same ask.
func (s *said) find(key string) (Priced, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	a, ok := s.answers[key]
	a.Order.Lines = ownLines(a.Order.Lines)
	return a, ok
}

// keep keeps an answer without the plan it was found in.
func (s *said) keep(a Priced) {
	key := a.key
	if key == "" {
		return
	}
	a.key, a.place, a.Order.Lines = "", nil, ownLines(a.Order.Lines)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.answers == nil || len(s.answers) == mostSaid {
		s.answers = map[string]Priced{}
	}
	s.answers[key] = a
}

// ownLines copies what the store writes ids into.
func ownLines(lines []order.Line) []order.Line {
	lines = slices.Clone(lines)
	for i := range lines {
		lines[i].Cuts = slices.Clone(lines[i].Cuts)
	}
	return lines
}
