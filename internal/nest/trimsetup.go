package nest

// unifyMost limits the set-ups that are compared pair by pair.
const unifyMost = 60

// unify lets runs share a set-up where that is cheaper: two set-ups of one
// width become the one that has as many strips of each girth as the larger of
// them, when that still fits. A run then has strips that stay empty.
func (t *trimSearch) unify(s []sheet) []sheet {
	if t.p.Params.Setup == 0 {
		return s
	}
	keys := t.setups(s)
	if len(keys) > unifyMost {
		return s
	}
	for i := range keys {
		for j := i + 1; j < len(keys); j++ {
			joint, ok := t.joint(keys[i], keys[j])
			if !ok {
				continue
			}
			next := t.retool(s, joint, keys[i].key, keys[j].key)
			if t.planCost(next) < t.planCost(s) {
				return t.unify(next)
			}
		}
	}
	return s
}

// tooling is a set-up by its strips of each girth.
type tooling struct {
	key    string
	stock  int // one of its width
	counts []int64
}

func (t *trimSearch) setups(s []sheet) []tooling {
	var out []tooling
	seen := map[string]bool{}
	for _, x := range s {
		if seen[x.key] {
			continue
		}
		seen[x.key] = true
		k := tooling{x.key, x.stock, make([]int64, len(t.girth))}
		for _, strip := range x.strips {
			k.counts[strip.girth]++
		}
		out = append(out, k)
	}
	return out
}

// joint is the least set-up that can stand for both.
func (t *trimSearch) joint(a, b tooling) (tooling, bool) {
	st := t.p.Stock[a.stock]
	if st.Width != t.p.Stock[b.stock].Width {
		return tooling{}, false
	}
	k := tooling{stock: a.stock, counts: make([]int64, len(t.girth))}
	var width, strips int64
	for g := range k.counts {
		k.counts[g] = max(a.counts[g], b.counts[g])
		width += k.counts[g] * t.girth[g]
		strips += k.counts[g]
	}
	return k, width <= t.p.room(st) && strips <= t.p.Params.MaxStrips
}

// retool adds empty strips to the runs of two set-ups so that both have joint.
func (t *trimSearch) retool(s []sheet, joint tooling, a, b string) []sheet {
	var out []sheet
	for _, x := range s {
		if x.key == a || x.key == b {
			strips := append([]strip(nil), x.strips...)
			for g, n := range joint.counts {
				for range n - countGirth(x.strips, g) {
					strips = append(strips, strip{girth: g})
				}
			}
			x.strips = strips
			x.key = t.setupKey(x.stock, strips)
		}
		out = append(out, x)
	}
	return out
}
