package cause

import (
	"frywright/domain/sheet"
	"frywright/domain/standard"
)

// spot is where one reading lies.
type spot int

const (
	atExpected spot = iota
	atFactory       // only where that differs from the expected value and a reset brings it back
	astray          // neither, but allowed by the sheet
	offSheet        // neither, and not allowed by the sheet
	between         // within the tolerance of both
)

// reading is one reading of a setting that can be set and for which something is expected.
type reading struct {
	expectation *standard.Expectation
	value       sheet.Value
	spot        spot
	telling     bool
}

// observed is the readings sorted by what they say.
type observed struct {
	Counts
	drifts   int
	readings []reading
	others   []other
}

func observe(in Input) *observed {
	o := &observed{readings: make([]reading, 0, len(in.Readings))}
	for i := range in.Expected.List {
		e := &in.Expected.List[i]
		v := in.Readings[e.Ref]
		switch {
		case !e.Value.Known():
		case !v.Known():
			if e.Informative() {
				o.Unread++
			}
		case e.Setting.ReadOnly:
			o.fixed(e, v)
		case !accepted(in, e, v):
			o.add(e, v)
		}
	}
	if o.drifts > 0 {
		o.compare(in.Alternatives)
	}
	return o
}

func accepted(in Input, e *standard.Expectation, v sheet.Value) bool {
	a, ok := in.Accepted[e.Ref]
	return ok && agree(e.Setting, a, v)
}

func agree(s *sheet.Setting, a, b sheet.Value) bool {
	_, beyond := s.Differ(a, b)
	return !beyond
}

func (o *observed) fixed(e *standard.Expectation, v sheet.Value) {
	o.Read++
	o.Fixed++
	if !agree(e.Setting, e.Value, v) {
		o.FixedOff++
		o.drifts++
	}
}

func (o *observed) add(e *standard.Expectation, v sheet.Value) {
	r := reading{expectation: e, value: v, telling: e.Informative()}
	r.spot = r.place()
	o.readings = append(o.readings, r)
	o.Read++
	if r.spot != atExpected && r.spot != between {
		o.drifts++
	}
	if r.spot == offSheet {
		o.OffSheet++
	}
	if r.telling {
		o.countTelling(r.spot)
		return
	}
	o.Steady++
	if r.spot != atExpected {
		o.SteadyOff++
	}
}

func (o *observed) countTelling(s spot) {
	o.Telling++
	switch s {
	case atExpected:
		o.AtExpected++
	case atFactory:
		o.AtFactory++
	case astray, offSheet:
		o.Neither++
	case between: // counts neither way
	}
}

func (r *reading) place() spot {
	s := r.expectation.Setting
	expected := agree(s, r.expectation.Value, r.value)
	factory := r.telling && agree(s, s.Factory, r.value)
	switch {
	case expected && factory:
		return between
	case expected:
		return atExpected
	case factory:
		return atFactory
	case s.Check(r.value) != nil:
		return offSheet
	default:
		return astray
	}
}

// other is how the readings stand to one of the other standards.
type other struct {
	name   string
	apart  int // settings read in which it differs from ours
	at     int // of apart: as it has them
	ours   int // of apart: as ours has them
	strays []*reading
}

// compare compares with each alternative. One that differs from ours in nothing that was read explains nothing.
func (o *observed) compare(alternatives []Alternative) {
	for _, a := range alternatives {
		if a.Expected == nil {
			continue
		}
		x := other{name: a.Name}
		for i := range o.readings {
			x.add(&o.readings[i], a.Expected.Value(o.readings[i].expectation.Ref))
		}
		if x.apart > 0 {
			o.others = append(o.others, x)
		}
	}
}

func (x *other) add(r *reading, v sheet.Value) {
	s := r.expectation.Setting
	differs := v.Known() && !agree(s, v, r.expectation.Value)
	if differs {
		x.apart++
	}
	ours := r.spot == atExpected || r.spot == between
	theirs := differs && agree(s, v, r.value)
	switch {
	case theirs && ours: // within the tolerance of both: counts neither way
	case theirs:
		x.at++
	case ours && differs:
		x.ours++
	case !ours:
		x.strays = append(x.strays, r)
	}
}
