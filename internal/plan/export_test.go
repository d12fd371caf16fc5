package plan

import (
	"context"
	"fmt"
)

// SearchOnly plans without the exact methods, for comparing the two.
func SearchOnly(p Problem, iterations int, seed uint64) (Result, error) {
	s, err := searching(p, seed)
	if err != nil {
		return Result{}, err
	}
	s.bound = s.m.bounds()
	stopped := s.run(iterations)
	if s.best.total().over > 0 {
		return Result{}, s.m.noRoom(s.best)
	}
	return s.result(stopped), nil
}

func searching(p Problem, seed uint64) (*search, error) {
	m, err := newModel(&p)
	if err != nil {
		return nil, err
	}
	s := newSearch(context.Background(), m, seed)
	s.start()
	return s, nil
}

// CheckRunningSums compares what running sums say about shifts of stretches and
// about exchanges with what following them through says.
func CheckRunningSums(p Problem, seed uint64) (exchanges int, err error) {
	s, err := searching(p, seed)
	if err != nil || !s.m.adds || s.now.total().over > 0 {
		return 0, err
	}
	for range 200 {
		k := s.rng.IntN(len(s.now.tracks))
		t, st := &s.now.tracks[k], &s.m.stands[k]
		n := len(t.seq)
		if n < 3 {
			continue
		}
		t.measure(st)
		a := s.rng.IntN(n - 1)
		b := a + 1 + s.rng.IntN(n-a-1)
		c := b + 1 + s.rng.IntN(n-b)
		shift := s.rng.Int64N(2000) - min(1000, t.clock[a])
		if least, late := t.atLeast(st, span{a, b}, shift), t.late(st, span{a, b}, shift); least > late {
			return 0, fmt.Errorf("places %d to %d shifted by %d: at least %d, but %d", a, b, shift, least, late)
		}
		x := exchange{a, c, [3]span{{b, c}, {a, b}}}
		y := s.splice(k, &x)
		delta, _ := s.now.try(&y, worst)
		late, ok := s.weigh(k, &x, delta.late)
		if delta.over == 0 && (!ok || late != delta.late) {
			return 0, fmt.Errorf("exchange %v: weighed %d (%v), comes to %d", x, late, ok, delta.late)
		}
		exchanges++
	}
	return exchanges, nil
}
