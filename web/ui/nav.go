package ui

import (
	"frywright/domain/access"
	"frywright/web/path"
)

// link is one entry of the navigation.
type link struct {
	Section string
	Label   string
	Href    string
	Icon    string
}

// phoneLinks is how many entries of the navigation stand in the bar of a phone; the others open from "More".
const phoneLinks = 3

// sections lists what the actor may go to, in the order of their day.
func sections(a access.Actor) []link {
	switch {
	case !a.SignedIn():
		return nil
	case access.May(a, access.SeeDesk):
		return deskSections(a)
	case access.May(a, access.SeeSettings):
		return []link{
			{"fryers", "Find a fryer", path.Fryers(), "find"},
			{"sites", "Sites", path.Sites(), "site"},
		}
	default:
		return []link{
			{"sites", "My restaurants", path.Sites(), "site"},
			{"fryers", "My fryers", path.Fryers(), "fryer"},
		}
	}
}

func deskSections(a access.Actor) []link {
	list := []link{
		{"desk", "Desk", path.Desk(), "desk"},
		{"fryers", "Fryers", path.Fryers(), "fryer"},
		{"sites", "Sites", path.Sites(), "site"},
	}
	for _, l := range []struct {
		link
		action access.Action
	}{
		{link{"standards", "Standards", path.Standards(), ""}, access.SetStandard},
		{link{"sheets", "Sheets", path.Sheets(), ""}, access.EditSheet},
		{link{"lately", "Lately", path.Lately(), ""}, access.SeeDesk},
		{link{"import", "Import", path.Import(), ""}, access.Import},
		{link{"people", "People", path.People(), ""}, access.EditPeople},
	} {
		if access.May(a, l.action) {
			list = append(list, l.link)
		}
	}
	return list
}

// splitForPhone gives the entries of the bar and those behind "More".
func splitForPhone(list []link) (bar, more []link) {
	if len(list) <= phoneLinks+1 {
		return list, nil
	}
	return list[:phoneLinks], list[phoneLinks:]
}

// holds says whether the lit section is among the entries.
func holds(list []link, section string) bool {
	for _, l := range list {
		if l.Section == section {
			return true
		}
	}
	return false
}
