// Package drift compares what was read with what is expected: per setting, by class and tolerance, with unknown kept
// apart from right. It must not know why values differ; that is package cause.
package drift

import (
	"time"

	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/standard"
)

// Status says how a reading stands to what is expected.
type Status int

// The statuses.
const (
	Unknown  Status = iota // not read, or a standard is missing: says nothing
	Right                  // within the tolerance
	Drifted                // differs by more than the tolerance
	Accepted               // differs, and somebody entitled to has accepted it for now
)

// Finding is how one place stands.
type Finding struct {
	*standard.Expectation
	Read       sheet.Value
	Status     Status
	Size       float64              // reading minus expected, in the setting's unit; 1 for other than numbers
	Acceptance *standard.Acceptance // where Status is Accepted, or where it ran out
	OffSheet   string               // where the sheet does not allow the value: why, in plain words
}

// Result is the comparison of one set of readings.
type Result struct {
	Findings []Finding // in the controller's order, every place of the fryer
	Breaches []sheet.Breach
	Rules    []rule.Breach
}

// Compare compares the readings with what is expected. Acceptances are honoured until their date as seen at now, and
// only for the value that was accepted. rules are the keys of the rules switched on for the site.
func Compare(x *standard.Expected, readings map[sheet.Ref]sheet.Value, accepted []standard.Acceptance, rules []string, now time.Time) Result {
	r := Result{Findings: make([]Finding, len(x.List))}
	for i := range x.List {
		r.Findings[i] = judge(&x.List[i], readings[x.List[i].Ref])
	}
	for i := range accepted {
		r.accept(x, &accepted[i], now)
	}
	value := func(ref sheet.Ref) sheet.Value { return readings[ref] }
	r.Breaches = sheet.Breaches(x.Interlocks(), value)
	r.Rules = rule.Check(rules, x.Sheet, x.Appliance, value)
	return r
}

func judge(e *standard.Expectation, read sheet.Value) Finding {
	f := Finding{Expectation: e, Read: read}
	if !read.Known() {
		return f
	}
	if err := e.Setting.Check(read); err != nil && !e.Setting.ReadOnly {
		f.OffSheet = err.Error()
	}
	if !e.Value.Known() {
		return f
	}
	size, beyond := e.Setting.Differ(e.Value, read)
	f.Size, f.Status = size, Right
	if beyond {
		f.Status = Drifted
	}
	return f
}

func (r *Result) accept(x *standard.Expected, a *standard.Acceptance, now time.Time) {
	i := x.Position(a.Ref)
	if i < 0 {
		return
	}
	f := &r.Findings[i]
	if f.Status != Drifted {
		return
	}
	if _, beyond := f.Setting.Differ(a.Value, f.Read); beyond {
		return
	}
	f.Acceptance = a
	if now.Before(a.Until) {
		f.Status = Accepted
	}
}

// Counts is how many places stand how.
type Counts struct {
	Places   int
	Right    int
	Unknown  int // nothing read, where something is expected
	Accepted int
	Drifted  int
	ByClass  [sheet.Safety + 1]int // drifted settings, broken interlocks and broken rules, by class
	Broken   int                   // interlocks and rules
}

// Counts counts the findings, breaches and rules.
func (r *Result) Counts() Counts {
	c := Counts{Places: len(r.Findings)}
	for i := range r.Findings {
		switch r.Findings[i].Status {
		case Right:
			c.Right++
		case Accepted:
			c.Accepted++
		case Drifted:
			c.Drifted++
			c.ByClass[r.Findings[i].Setting.Class]++
		case Unknown:
			if r.Findings[i].Value.Known() && !r.Findings[i].Read.Known() {
				c.Unknown++
			}
		}
	}
	for _, b := range r.Breaches {
		c.ByClass[b.Interlock.Class]++
		c.Broken++
	}
	for _, b := range r.Rules {
		c.ByClass[b.Class]++
		c.Broken++
	}
	return c
}

// Worst gives the worst class among what is wrong; 0 where nothing is known to be wrong.
func (c Counts) Worst() sheet.Class {
	for _, class := range sheet.Classes() {
		if c.ByClass[class] > 0 {
			return class
		}
	}
	return 0
}

// Drifted lists the findings that drifted, in the controller's order.
func (r *Result) Drifted() []Finding { return r.With(Drifted) }

// With lists the findings of a status, in the controller's order.
func (r *Result) With(s Status) []Finding {
	var found []Finding
	for i := range r.Findings {
		if r.Findings[i].Status == s {
			found = append(found, r.Findings[i])
		}
	}
	return found
}
