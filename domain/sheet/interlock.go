package sheet

import "slices"

// Lookup gives the value of a setting as it stands for one vat; empty where it is not known.
type Lookup func(key string) Value

// Outcome is what an interlock says of a set of values.
type Outcome int

// The outcomes. Unsure: a value that decides it is not known.
const (
	Unsure Outcome = iota
	Holds
	Idle // its When does not apply
	Broken
)

// Judge evaluates the interlock on known values. It is Broken only where every value that decides it is known.
func (l *Interlock) Judge(a Appliance, look Lookup) Outcome {
	when := all(l.When, a, look)
	if when == no {
		return Idle
	}
	must := all(l.Must, a, look)
	switch {
	case must == yes:
		return Holds
	case when == yes && must == no:
		return Broken
	default:
		return Unsure
	}
}

// Keys lists the setting keys that the interlock names, facts left out, each once.
func (l *Interlock) Keys() []string {
	var keys []string
	for _, c := range slices.Concat(l.When, l.Must) {
		for _, k := range []string{c.Setting, c.Than} {
			if k != "" && k[0] != '@' && !slices.Contains(keys, k) {
				keys = append(keys, k)
			}
		}
	}
	return keys
}

type truth int

const (
	maybe truth = iota
	yes
	no
)

func all(cs []Condition, a Appliance, look Lookup) truth {
	result := yes
	for _, c := range cs {
		switch c.holds(a, look) {
		case no:
			return no
		case maybe:
			result = maybe
		}
	}
	return result
}

func (c Condition) holds(a Appliance, look Lookup) truth {
	v := c.value(a, look)
	if !v.Known() {
		return maybe
	}
	switch c.Op {
	case AtLeast, AtMost:
		return c.compare(v, look)
	case IsNot:
		return truthOf(!slices.Contains(c.Values, v))
	default:
		return truthOf(slices.Contains(c.Values, v))
	}
}

func (c Condition) value(a Appliance, look Lookup) Value {
	switch c.Setting {
	case FactEnergy:
		return Value(a.Energy)
	case FactPot:
		return Value(a.Pot)
	default:
		return look(c.Setting)
	}
}

func (c Condition) compare(v Value, look Lookup) truth {
	limit := Value("")
	if c.Than != "" {
		limit = look(c.Than)
	} else if len(c.Values) > 0 {
		limit = c.Values[0]
	}
	x, okX := v.Number()
	y, okY := limit.Number()
	if !okX || !okY {
		return maybe
	}
	if c.Than != "" {
		y += c.Plus
	}
	if c.Op == AtLeast {
		return truthOf(x >= y-1e-9)
	}
	return truthOf(x <= y+1e-9)
}

func truthOf(b bool) truth {
	if b {
		return yes
	}
	return no
}

// Breach is an interlock that a set of values breaks.
type Breach struct {
	Interlock *Interlock
	Vat       int // 0 where no per-vat setting is involved
}

// Breaches judges every interlock of the sheet over values by ref. Interlocks that name a per-vat setting are judged
// once a vat.
func (s *Sheet) Breaches(a Appliance, values func(Ref) Value) []Breach {
	var found []Breach
	for i := range s.Interlocks {
		l := &s.Interlocks[i]
		vats := []int{0}
		if s.perVat(l) {
			vats = []int{1, 2}[:a.Vats()]
		}
		for _, vat := range vats {
			look := func(key string) Value { return values(s.RefAt(key, vat)) }
			if l.Judge(a, look) == Broken {
				found = append(found, Breach{l, vat})
			}
		}
	}
	return found
}

// RefAt gives the ref of a key seen from a vat: whole-controller settings have vat 0.
func (s *Sheet) RefAt(key string, vat int) Ref {
	if set, ok := s.Setting(key); ok && set.Scope == PerVat {
		return Ref{key, max(vat, 1)}
	}
	return Ref{Key: key}
}

func (s *Sheet) perVat(l *Interlock) bool {
	return slices.ContainsFunc(l.Keys(), func(k string) bool {
		set, ok := s.Setting(k)
		return ok && set.Scope == PerVat
	})
}
