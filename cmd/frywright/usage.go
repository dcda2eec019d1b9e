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

// misusedBy says in a line what is wrong with a command line, and how the command that was meant is used. A word that is no
// command would otherwise be taken for an argument of the one that runs by default.
func misusedBy(parser *kong.Kong, args []string, err error) error {
	node, text := parser.Model.Node, err.Error()
	var parse *kong.ParseError
	if errors.As(err, &parse) && parse.Context.Selected() != nil {
		node = parse.Context.Selected()
	}
	if word := firstWord(args); word != "" && !isCommand(parser, word) && strings.HasPrefix(text, "unexpected argument "+word) {
		node, text = parser.Model.Node, fmt.Sprintf("there is no command %q", word)
	}
	usage, help := strings.TrimSpace("frywright "+strings.TrimPrefix(node.Summary(), "frywright ")), "frywright --help"
	if node.Type == kong.CommandNode {
		help = "frywright " + node.Path() + " --help"
	} else {
		usage = "frywright COMMAND [flags]"
	}
	return &usageError{fmt.Sprintf("%s; %s tells more\nUsage: %s", text, help, usage)}
}

func firstWord(args []string) string {
	for _, arg := range args {
		if !strings.HasPrefix(arg, "-") {
			return arg
		}
	}
	return ""
}

func isCommand(parser *kong.Kong, word string) bool {
	for _, child := range parser.Model.Children {
		if child.Name == word {
			return true
		}
	}
	return false
}
