package ui

import (
	"strconv"
	"strings"
	"time"

	"frywright/domain/fleet"
	"frywright/domain/sheet"
)

// FormatTime gives a moment in a zone as people write it: "Fri 20 Nov 2026, 21:40". An unknown zone gives UTC and says
// so; the zero time gives "–".
func FormatTime(t time.Time, zone string) string { return format(t, zone, "Mon 2 Jan 2006, 15:04") }

// FormatDay gives the day of a moment in a zone: "Fri 20 Nov 2026".
func FormatDay(t time.Time, zone string) string { return format(t, zone, "Mon 2 Jan 2006") }

func format(t time.Time, zone, layout string) string {
	if t.IsZero() {
		return "–"
	}
	loc, err := fleet.Zone(zone)
	if err != nil || zone == "" || zone == "Local" || zone == "UTC" {
		return t.UTC().Format(layout) + " UTC"
	}
	return t.In(loc).Format(layout)
}

// className gives a class's word as it begins a badge.
func className(c sheet.Class) string {
	word := c.String()
	return strings.ToUpper(word[:1]) + word[1:]
}

// Tones of a StateBadge. Each has a shape of its own, so that its colour is never all that tells.
const (
	ToneGood    = "good"    // as it should be
	ToneBad     = "bad"     // wrong
	ToneWaiting = "waiting" // under way
	ToneUnknown = "unknown" // nothing is known
	ToneQuiet   = "quiet"   // a plain word
)

// tone gives a known tone.
func tone(t string) string {
	switch t {
	case ToneGood, ToneBad, ToneWaiting, ToneUnknown:
		return t
	default:
		return ToneQuiet
	}
}

// Crumb is one step of Breadcrumbs.
type Crumb struct {
	Label string
	Href  string // empty for where one is
}

// Share is one of several explanations with its odds.
type Share struct {
	Label   string
	Percent float64 // 0 to 100
	Value   string  // as shown; made from Percent where empty
	Note    string  // what speaks for it
}

func (s Share) shown() string {
	switch {
	case s.Value != "":
		return s.Value
	case s.Percent > 0 && s.Percent < 1:
		return "under 1 %"
	case s.Percent > 99 && s.Percent < 100:
		return "over 99 %"
	default:
		return strconv.FormatFloat(s.Percent, 'f', 0, 64) + " %"
	}
}

// width gives the length of the bar, out of 100.
func (s Share) width() string { return strconv.FormatFloat(min(100, max(0, s.Percent)), 'f', 1, 64) }

// PageLink gives the address of a page of a list, counted from 0.
type PageLink func(page int) string

func percent(done, total int) int {
	if total <= 0 {
		return 0
	}
	return min(100, max(0, done*100/total))
}
