package state

import (
	"fmt"
	"strings"

	"frywright/domain/cause"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
)

// Told is an entry in plain words.
type Told struct {
	Title  string // for those who service
	Plain  string // for a restaurant manager; empty: not for them
	Detail string
}

// Tell puts an entry into plain words. purpose and known are of the reading that a snapshot entry belongs to.
func Tell(body journal.Body, purpose snapshot.Purpose, known int) Told {
	switch b := body.(type) {
	case snapshot.Begun:
		return Told{Title: "Reading begun, " + b.Purpose.Word()}
	case snapshot.Finished:
		return tellFinished(b, purpose, known)
	case snapshot.Dropped:
		return Told{Title: "Reading given up", Detail: b.Why}
	case snapshot.Event:
		return Told{Title: "Noted: " + cause.Words(b.What), Plain: "Noted: " + cause.Words(b.What), Detail: b.Note}
	case snapshot.Note:
		return Told{Title: "Note", Detail: b.Text}
	case snapshot.Ticked:
		return tellTicked(b)
	case standard.Accepted:
		return Told{Title: "Difference accepted", Detail: b.Ref.Key + ": " + b.Reason}
	case standard.Ended:
		return Told{Title: "Accepted difference ended", Detail: b.Ref.Key + ": " + b.Reason}
	case standard.Changed:
		return tellChanged(b)
	case rule.Switched:
		return tellRule(b)
	default:
		return tellFleet(body)
	}
}

func tellFinished(b snapshot.Finished, purpose snapshot.Purpose, known int) Told {
	t := Told{Title: fmt.Sprintf("Read %s: %s", purpose.Word(), count(known, "value", "values")), Detail: b.Note}
	t.Plain = "The settings were checked."
	if purpose == snapshot.AsLeft {
		t.Plain = "The settings were put right and checked."
	}
	return t
}

func tellTicked(b snapshot.Ticked) Told {
	if b.Done {
		return Told{Title: "Put back: " + b.Ref.String()}
	}
	return Told{Title: "Not put back after all: " + b.Ref.String()}
}

func tellChanged(b standard.Changed) Told {
	var parts []string
	if n := len(b.Set); n > 0 {
		parts = append(parts, count(n, "value set", "values set"))
	}
	if n := len(b.Clear); n > 0 {
		parts = append(parts, count(n, "value cleared", "values cleared"))
	}
	whose := "the " + b.Level.Word()
	if b.Level == standard.OfFryer {
		whose = b.Level.Word()
	}
	return Told{Title: "Changed " + whose + ": " + strings.Join(parts, ", "), Detail: b.Why}
}

func tellRule(b rule.Switched) Told {
	r, _ := rule.Find(b.Rule)
	if b.On {
		return Told{Title: "Rule switched on: " + r.Title}
	}
	return Told{Title: "Rule switched off: " + r.Title}
}

func tellFleet(body journal.Body) Told {
	switch b := body.(type) {
	case fleet.CustomerSaved:
		return Told{Title: "Restaurant company saved: " + b.Customer.Name}
	case fleet.SiteSaved:
		return Told{Title: "Restaurant saved: " + b.Site.Name}
	case fleet.ModelSaved:
		return Told{Title: "Fryer model saved: " + b.Model.Name}
	case fleet.FryerSaved:
		return Told{Title: "Fryer saved: " + b.Fryer.Tag}
	case fleet.FryerMoved:
		return Told{Title: "Moved to another restaurant", Plain: "Moved here", Detail: b.Why}
	case fleet.FryerRetired:
		return Told{Title: "Retired", Plain: "Taken out of use", Detail: b.Why}
	case fleet.FryerReturned:
		return Told{Title: "Back in use", Plain: "Back in use", Detail: b.Why}
	case sheet.Saved:
		return Told{Title: "Settings sheet saved: " + b.Sheet.Name, Detail: b.Why}
	case person.Saved:
		return Told{Title: "Person saved: " + b.Person.Name}
	default:
		return Told{Title: body.Kind()}
	}
}
