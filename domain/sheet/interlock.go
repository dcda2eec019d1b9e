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

// Bound is an interlock as it binds the controller of one appliance. One that names a per-vat setting binds once a vat.
type Bound struct {
	Interlock *Interlock
	Vat       int   // 0 where no per-vat setting is involved
	Refs      []Ref // what it names of what the appliance has, each once
	appliance Appliance
}

// Judge evaluates the interlock on values by ref. What the appliance does not have is not known.
func (b *Bound) Judge(values func(Ref) Value) Outcome {
	return b.Interlock.Judge(b.appliance, func(key string) Value {
		for _, r := range b.Refs {
			if r.Key == key {
				return values(r)
			}
		}
		return ""
	})
}

// Bind gives the interlocks of the sheet as they bind an appliance's controller, in the sheet's order.
func (s *Sheet) Bind(a Appliance) []Bound {
	if len(s.Interlocks) == 0 {
		return nil
	}
	applies := make(map[string]*Setting, len(s.Settings))
	for i := range s.Settings {
		if s.Settings[i].Applies(a) {
			applies[s.Settings[i].Key] = &s.Settings[i]
		}
	}
	bound := make([]Bound, 0, len(s.Interlocks)*a.Vats())
	for i := range s.Interlocks {
		l := &s.Interlocks[i]
		b := Bound{Interlock: l, Refs: l.refs(applies, 1), appliance: a}
		if !slices.ContainsFunc(b.Refs, func(r Ref) bool { return r.Vat != 0 }) {
			bound = append(bound, b)
			continue
		}
		for vat := 1; vat <= a.Vats(); vat++ {
			b.Vat, b.Refs = vat, l.refs(applies, vat)
			bound = append(bound, b)
		}
	}
	return bound
}

// refs gives what the interlock names, seen from a vat.
func (l *Interlock) refs(applies map[string]*Setting, vat int) []Ref {
	var refs []Ref
	for _, key := range l.Keys() {
		set, ok := applies[key]
		switch {
		case ok && set.Scope == PerVat:
			refs = append(refs, Ref{key, vat})
		case ok:
			refs = append(refs, Ref{Key: key})
		}
	}
	return refs
}

// Breaches judges the interlocks that bind an appliance over values by ref, and lists those that are broken.
func Breaches(bound []Bound, values func(Ref) Value) []Breach {
	var found []Breach
	for i := range bound {
		if bound[i].Judge(values) == Broken {
			found = append(found, Breach{bound[i].Interlock, bound[i].Vat})
		}
	}
	return found
}

// Breaches judges every interlock of the sheet over values by ref. Interlocks that name a per-vat setting are judged
// once a vat.
func (s *Sheet) Breaches(a Appliance, values func(Ref) Value) []Breach {
	return Breaches(s.Bind(a), values)
}
