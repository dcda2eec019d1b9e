package site

import (
	"fmt"
	"strconv"
	"strings"

	"frywright/domain/fleet"
	"frywright/domain/sheet"
	"frywright/domain/state"
	"frywright/web/ui"
)

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// tally counts how the fryers of a restaurant stand.
type tally struct {
	fryers, off, stale, unread int
	worst                      sheet.Class
}

func tallyOf(list []state.Fryer) tally {
	t := tally{fryers: len(list)}
	for i := range list {
		f := &list[i]
		t.worst = max(t.worst, f.Worst())
		switch {
		case f.Wrong() > 0:
			t.off++
		case !f.StaleSince.IsZero():
			t.stale++
		case f.LastRead.IsZero():
			t.unread++
		}
	}
	return t
}

// sentence says how a restaurant's fryers stand, for those who service them.
func sentence(list []state.Fryer) string {
	t := tallyOf(list)
	var parts []string
	if t.off > 0 {
		parts = append(parts, fmt.Sprintf("%s not as it should be, the worst a %s matter", ofAll(t.off, t.fryers), t.worst))
		if t.off > 1 {
			parts[0] = fmt.Sprintf("%s not as they should be, the worst a %s matter", ofAll(t.off, t.fryers), t.worst)
		}
	}
	if t.stale > 0 {
		parts = append(parts, counted(t.stale, "has to be read again", "have to be read again"))
	}
	if t.unread > 0 {
		parts = append(parts, counted(t.unread, "was never read", "were never read"))
	}
	switch {
	case t.fryers == 0:
		return "No fryer stands here."
	case len(parts) == 0 && t.fryers == 1:
		return "Its one fryer is as it should be, as far as it was read."
	case len(parts) == 0:
		return fmt.Sprintf("All %d fryers are as they should be, as far as they were read.", t.fryers)
	case t.off == 0:
		return "Nothing is known to be wrong, but of " + counted(t.fryers, "fryer", "fryers") + " " + strings.Join(parts, " and ") + "."
	default:
		return strings.Join(parts, "; ") + "."
	}
}

// ofAll begins a sentence about some of the fryers.
func ofAll(n, all int) string {
	switch {
	case all == 1:
		return "Its one fryer is"
	case n == all:
		return fmt.Sprintf("All %d fryers are", all)
	case n == 1:
		return fmt.Sprintf("1 of %d fryers is", all)
	default:
		return fmt.Sprintf("%d of %d fryers are", n, all)
	}
}

// plainSentence says it to the restaurant's manager: what is small does not alarm.
func plainSentence(list []state.Fryer) string {
	t := tallyOf(list)
	trouble := 0
	for i := range list {
		if list[i].Tone() == state.Trouble {
			trouble++
		}
	}
	switch {
	case t.fryers == 0:
		return "No fryer is listed for this restaurant yet."
	case trouble == 1 && t.fryers == 1:
		return "The settings of your fryer are not as they should be. Your service company can see this."
	case trouble > 0:
		return fmt.Sprintf("The settings of %d of your %d fryers are not as they should be. Your service company can see this.", trouble, t.fryers)
	case t.off > 0:
		return "Your fryers can be used. Small settings are off; your service company can see this."
	case t.stale+t.unread > 0:
		return fmt.Sprintf("Nothing is known to be wrong. %s to be checked.", counted(t.stale+t.unread, "fryer is still", "fryers are still"))
	case t.fryers == 1:
		return "Your fryer is as it should be."
	default:
		return fmt.Sprintf("All %d fryers are as they should be.", t.fryers)
	}
}

// toneOf gives the shape before the sentence: that of the fryer in the worst state.
func toneOf(list []state.Fryer, plain bool) string {
	tone := ui.ToneGood
	if len(list) == 0 {
		return ui.ToneQuiet
	}
	for i := range list {
		switch t := list[i].Tone(); {
		case t == state.Trouble, t == state.Mind && !plain:
			return ui.ToneBad
		case t == state.Mind:
			tone = ui.ToneQuiet
		case t == state.Ask && tone == ui.ToneGood:
			tone = ui.ToneUnknown
		}
	}
	return tone
}

// siteWords says in a line how a restaurant stands.
func siteWords(s *state.Site) string {
	parts := []string{counted(s.Fryers, "fryer", "fryers")}
	if s.Wrong > 0 {
		parts = append(parts, counted(s.Wrong, "not as it should be", "not as they should be"))
	}
	if s.Stale > 0 {
		parts = append(parts, counted(s.Stale, "to be read again", "to be read again"))
	}
	return strings.Join(parts, ", ")
}

// townLine names town and company of a restaurant in a list.
func townLine(s *state.Site, plain bool) string {
	var parts []string
	if s.Town != "" {
		parts = append(parts, s.Town)
	}
	if !plain && s.CustomerName != "" {
		parts = append(parts, s.CustomerName)
	}
	return strings.Join(parts, ", ")
}

// address is the whole postal line of a restaurant.
func address(s *fleet.Site) string {
	var parts []string
	for _, p := range []string{s.Address, s.Town, s.Country} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	return strings.Join(parts, ", ")
}

// stands names the place of a fryer; its model where nobody said.
func stands(f *state.Fryer) string {
	if f.Name == "" {
		return f.ModelName
	}
	return f.Name
}

func gasWords(g fleet.GasSupply) string {
	switch g {
	case fleet.NaturalGas:
		return "Natural gas"
	case fleet.Propane:
		return "Propane"
	default:
		return "None"
	}
}

func metres(m float64) string {
	return strings.Replace(strconv.FormatFloat(m, 'f', -1, 64), "-", "−", 1) + " m above sea level"
}

func volts(v float64) string {
	if v == 0 {
		return "Not recorded"
	}
	return strconv.FormatFloat(v, 'f', -1, 64) + " V"
}

// found says how many restaurants the list has.
func (v *listView) found() string {
	what := counted(v.Total, "restaurant", "restaurants")
	if v.More {
		return "More than " + what
	}
	return what
}

// company names the restaurant company, as its fryers know it.
func (v *showView) company() string {
	for _, list := range [][]state.Fryer{v.Fryers, v.Retired} {
		if len(list) > 0 {
			return list[0].CustomerName
		}
	}
	return ""
}
