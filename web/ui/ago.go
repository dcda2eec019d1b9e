package ui

import (
	"fmt"
	"time"

	"frywright/domain/person"
)

// Ago says in plain words how long ago something was, coarsely.
func Ago(at, now time.Time) string {
	const day = 24 * time.Hour
	d := now.Sub(at)
	switch {
	case d < 10*time.Minute:
		return "in the last few minutes"
	case d < 2*time.Hour:
		return fmt.Sprintf("%d minutes ago", d.Round(10*time.Minute)/time.Minute)
	case d < 2*day:
		return fmt.Sprintf("%d hours ago", d/time.Hour)
	default:
		return fmt.Sprintf("%d days ago", d/day)
	}
}

// AccountNoteText says what happened to a person's sign-in.
func AccountNoteText(what person.AccountEvent) string {
	switch what {
	case person.PasswordSet:
		return "Password set"
	case person.LinkMade:
		return "Link for a password made"
	case person.FactorOn:
		return "Second step switched on"
	case person.FactorOff:
		return "Second step switched off"
	case person.FactorReset:
		return "Second step taken away"
	case person.CodesRenewed:
		return "Recovery codes made anew"
	case person.CodeUsed:
		return "Signed in with a recovery code"
	case person.SignInsEnded:
		return "Signed out on other devices"
	case person.FactorRequired:
		return "Second step asked of all administrators"
	case person.FactorOptional:
		return "Second step no longer asked of administrators"
	default:
		return string(what)
	}
}
