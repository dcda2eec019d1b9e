package people

import (
	"fmt"
	"strings"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/path"
	"frywright/web/ui"
)

// roleName names a role on screens.
func roleName(role access.Role) string {
	switch role {
	case access.Administrator:
		return "Administrator"
	case access.Dispatcher:
		return "Dispatcher"
	case access.Technician:
		return "Technician"
	default:
		return "Restaurant manager"
	}
}

func rolePlural(role access.Role) string { return roleName(role) + "s" }

// roleNote says what a role may do.
func roleNote(role access.Role) string {
	switch role {
	case access.Administrator:
		return "Everything, people too."
	case access.Dispatcher:
		return "The desk, the whole fleet, its standards and sheets."
	case access.Technician:
		return "Reads and puts right the fryers of their areas and restaurants."
	default:
		return "Sees in plain words how the fryers of their own restaurants are."
	}
}

func roleOptions() []ui.Option {
	var options []ui.Option
	for _, role := range access.Roles() {
		options = append(options, ui.Option{Value: string(role), Label: roleName(role), Note: roleNote(role)})
	}
	return options
}

func ofRole(people []person.Person, role access.Role) []person.Person {
	var group []person.Person
	for _, x := range people {
		if x.Role == role {
			group = append(group, x)
		}
	}
	return group
}

// reachWords says in a few words what a person sees.
func reachWords(x person.Person) string {
	var parts []string
	if x.Role == access.Technician {
		parts = append(parts, x.Areas...)
	}
	if n := len(x.Sites); n > 0 {
		parts = append(parts, counted(n, "restaurant", "restaurants"))
	}
	if len(parts) == 0 && x.Role == access.Technician {
		return "No area yet"
	}
	return strings.Join(parts, ", ")
}

func sitesLabel(role access.Role) string {
	if role == access.Technician {
		return "Restaurants besides"
	}
	return "Restaurants"
}

func listed(list []string, none string) string {
	if len(list) == 0 {
		return none
	}
	return strings.Join(list, ", ")
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// refusal gives all that an error says, for pages without the fields that it names.
func refusal(err error) string {
	if onPage(err) != nil {
		return fault.MessageOf(err)
	}
	if fields := fault.FieldsOf(err); len(fields) > 0 {
		return fields[0].Message
	}
	return fault.MessageOf(err)
}

// onPage gives the complaints about the one field that the page of a person has.
func onPage(err error) []fault.Field {
	if ui.ErrorOf(fault.FieldsOf(err), "reason") == "" {
		return nil
	}
	return fault.FieldsOf(err)
}

func (v *editView) at(name string) string { return ui.ErrorOf(fault.FieldsOf(v.Err), name) }

func crumbs(v editView) []ui.Crumb {
	list := []ui.Crumb{{Label: "People", Href: path.People()}}
	if v.New {
		return append(list, ui.Crumb{Label: "Add"})
	}
	return append(list, ui.Crumb{Label: v.Person.Name, Href: path.Person(v.Person.ID)}, ui.Crumb{Label: "Edit"})
}

func lookHint(v editView) string {
	if v.Looked == "" {
		return "By name, town, code or company."
	}
	return "Tick those to add, then look for others or save."
}
