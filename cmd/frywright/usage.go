package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/alecthomas/kong"
)

// usageError is a command line that was not understood.
type usageError struct{ text string }

// Error implements error.
func (e *usageError) Error() string { return e.text }

// misusedBy says in a line what is wrong with a command line, and in another how the command that was meant is used. A word
// that is no command would otherwise be taken for an argument of the one that runs by default.
func misusedBy(parser *kong.Kong, args []string, err error) error {
	node, text := parser.Model.Node, err.Error()
	var parse *kong.ParseError
	if errors.As(err, &parse) && parse.Context.Selected() != nil {
		node = parse.Context.Selected()
	}
	if word, ok := noCommand(parser, args, text); ok {
		return &usageError{strings.Replace(text, "unexpected argument "+word, fmt.Sprintf("there is no command %q", word), 1) + "; frywright --help tells more"}
	}
	usage, help := strings.TrimSpace("frywright "+strings.TrimPrefix(node.Summary(), "frywright ")), "frywright --help"
	if node.Type == kong.CommandNode {
		help = "frywright " + node.Path() + " --help"
	} else {
		usage = "frywright COMMAND [flags]"
	}
	return &usageError{fmt.Sprintf("%s; %s tells more\nUsage: %s", text, help, usage)}
}

// noCommand gives the word that stands where a command should, if that is what is wrong.
func noCommand(parser *kong.Kong, args []string, text string) (string, bool) {
	rest, ok := strings.CutPrefix(text, "unexpected argument ")
	if !ok {
		return "", false
	}
	for _, arg := range args {
		if rest == arg || strings.HasPrefix(rest, arg+",") { // what was perhaps meant may follow
			return arg, true
		}
		if isCommand(parser, arg) {
			return "", false
		}
	}
	return "", false
}

func isCommand(parser *kong.Kong, word string) bool {
	for _, child := range parser.Model.Children {
		if child.Name == word {
			return true
		}
	}
	return false
}
