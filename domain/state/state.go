// Package state says how a fryer stands, in a sentence before any table, and what is the one thing to do next. It is
// what lists and the fryer's page show. It must not know how the state was stored or is drawn.
package state

import (
	"fmt"
	"time"

	"frywright/domain/cause"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"

	"github.com/google/uuid"
)

// Fryer is one fryer as lists and its own page show it.
type Fryer struct {
	ID           uuid.UUID
	Tag          string
	Name         string // where it stands
	SiteID       uuid.UUID
	SiteName     string
	Town         string
	Zone         string
	CustomerID   uuid.UUID
	CustomerName string
	ModelID      uuid.UUID
	ModelName    string
	SheetID      uuid.UUID
	SheetName    string
	Energy       sheet.Energy
	Pot          sheet.Pot
	Serial       string
	Installed    string
	Note         string
	Retired      time.Time // zero: in use
	Version      uuid.UUID // the last entry that changed it

	Standing
}

// Standing is the computed part: how the last known readings stand to what is expected.
type Standing struct {
	Places   int // values that the controller has
	Right    int
	Unknown  int // expected, but not read, or not read since something happened
	Accepted int
	ByClass  [sheet.Safety + 1]int // what is wrong, by class
	Broken   int                   // interlocks and rules broken, counted in ByClass
	PutBack  int                   // lines of the put-back list
	Ticked   int                   // of them ticked off
	Since    time.Time             // how long the worst is known to be so; zero: nothing is wrong

	LastRead    time.Time // the last finished reading; zero: never
	LastPurpose snapshot.Purpose
	StaleSince  time.Time       // something that can erase settings happened after the last reading; zero: nothing did
	StaleWhat   cause.EventKind // what happened
	Cause       cause.Kind      // what happened, by the last reading; empty: nothing is wrong
	CauseOdds   float64         // its probability

	OpenID     uuid.UUID // an unfinished reading; Nil: none
	OpenDone   int       // values read in it
	OpenBy     string
	OpenBegun  time.Time
	OpenIntent snapshot.Purpose
}

// Wrong counts what is wrong.
func (s *Standing) Wrong() int {
	n := 0
	for _, k := range s.ByClass {
		n += k
	}
	return n
}

// Worst gives the worst class among what is wrong; 0 where nothing is known to be wrong.
func (s *Standing) Worst() sheet.Class {
	for _, c := range sheet.Classes() {
		if s.ByClass[c] > 0 {
			return c
		}
	}
	return 0
}

// NeedsHands says whether somebody has to go there or go on there.
func (s *Standing) NeedsHands() bool {
	return s.Wrong() > 0 || !s.StaleSince.IsZero() || s.OpenID != uuid.Nil
}

// Tone is how bad it is, for the look of a sentence. It never stands alone: the words say the same.
type Tone string

// The tones.
const (
	Calm    Tone = "calm"    // all right
	Ask     Tone = "ask"     // not known
	Mind    Tone = "mind"    // minor or output
	Trouble Tone = "trouble" // food or safety
)

// Tone gives the tone of the fryer's state.
func (f *Fryer) Tone() Tone {
	switch {
	case !f.Retired.IsZero():
		return Calm
	case f.Worst() >= sheet.Food:
		return Trouble
	case f.Wrong() > 0:
		return Mind
	case !f.StaleSince.IsZero() || f.LastRead.IsZero() || f.Unknown > 0:
		return Ask
	default:
		return Calm
	}
}

// Sentence says how the fryer stands, for those who service it.
func (f *Fryer) Sentence() string {
	switch {
	case !f.Retired.IsZero():
		return "Retired. Its history is kept."
	case !f.StaleSince.IsZero():
		return fmt.Sprintf("Not read since %s.", cause.Words(f.StaleWhat))
	case f.LastRead.IsZero():
		return "Never read: how its controller is set is not known."
	case f.Wrong() > 0 && f.PutBack > 0 && f.Ticked >= f.PutBack:
		return fmt.Sprintf("%s put back. Read it again as left to be sure.", all(f.PutBack))
	case f.Wrong() > 0:
		return f.wrongSentence()
	case f.Unknown > 0:
		return fmt.Sprintf("What was read is right; %s not read.", count(f.Unknown, "setting was", "settings were"))
	case f.Accepted > 0:
		return fmt.Sprintf("As it should be, with %s.", count(f.Accepted, "accepted difference", "accepted differences"))
	default:
		return "Every setting is as it should be."
	}
}

func (f *Fryer) wrongSentence() string {
	text := count(f.Wrong()-f.Broken, "setting is off", "settings are off")
	if f.Wrong() == f.Broken {
		text = count(f.Broken, "rule is broken", "rules are broken")
	}
	text += ", the worst " + f.Worst().Matter()
	if what := cause.Headline(f.Cause); what != "" {
		return text + ": " + what + "."
	}
	return text + "."
}

// PlainSentence says the same to a restaurant manager, without the trade's procedures.
func (f *Fryer) PlainSentence() string {
	switch {
	case !f.Retired.IsZero():
		return "No longer in use."
	case f.Worst() >= sheet.Food:
		return "Its settings are not as they should be. Your service company can see this."
	case f.Wrong() > 0:
		return "Small settings are off. It can be used; your service company can see this."
	case !f.StaleSince.IsZero():
		return fmt.Sprintf("To be checked after %s.", cause.Words(f.StaleWhat))
	case f.LastRead.IsZero():
		return "Not checked yet."
	case f.Unknown > 0:
		return "What was checked is as it should be; not all of it was."
	default:
		return "As it should be."
	}
}

// StepKind is a kind of next thing to do.
type StepKind string

// The kinds of step.
const (
	StepRead    StepKind = "read"     // begin a reading, as found
	StepGoOn    StepKind = "go-on"    // go on with the open reading
	StepPutBack StepKind = "put-back" // work off the put-back list
	StepAsLeft  StepKind = "as-left"  // read again as left
	StepRoutine StepKind = "routine"  // nothing presses: a routine reading
	StepNone    StepKind = "none"     // retired
)

// Step is the one thing to do next.
type Step struct {
	Kind   StepKind
	Label  string // the button
	Detail string // one line under it
}

// Next gives the one thing to do next at the fryer.
func (f *Fryer) Next() Step {
	switch {
	case !f.Retired.IsZero():
		return Step{Kind: StepNone}
	case f.OpenID != uuid.Nil:
		return Step{StepGoOn, "Go on reading", fmt.Sprintf("%d of %d values read, %s", f.OpenDone, f.Places, f.OpenIntent.Word())}
	case !f.StaleSince.IsZero():
		return Step{StepRead, "Read the settings", "to see what " + cause.Words(f.StaleWhat) + " left behind"}
	case f.PutBack > 0 && f.Ticked >= f.PutBack:
		return Step{StepAsLeft, "Read again as left", "to prove that it is put back"}
	case f.PutBack > 0:
		return Step{StepPutBack, fmt.Sprintf("Put back %s", count(f.PutBack-f.Ticked, "setting", "settings")), "in the controller's own order"}
	case f.Wrong() > 0 && f.Unknown == 0:
		return Step{StepRead, "Read the settings", "what is off cannot be put back at the controller: see whether it is still so"}
	case f.LastRead.IsZero():
		return Step{StepRead, "Read the settings", "for the first time"}
	case f.Unknown > 0:
		return Step{StepRead, "Read the settings", fmt.Sprintf("%d of %d are not known", f.Unknown, f.Places)}
	default:
		return Step{StepRoutine, "Read the settings", "a routine check"}
	}
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func all(n int) string {
	if n == 1 {
		return "The one setting is"
	}
	return fmt.Sprintf("All %d settings are", n)
}
