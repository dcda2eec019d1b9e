// Package fault holds the error of the whole program: a kind, a message that is safe to show to the person at the
// screen, the form fields it belongs to, and the cause for the log. It must not know of HTTP, SQL or any noun.
package fault

import (
	"errors"
	"fmt"
	"strings"
)

// Kind says what sort of failure it is; the web's one table maps it to a status.
type Kind int

// The kinds. An error that is not an *Error is Internal.
const (
	Internal    Kind = iota // ours: the text goes to the log only
	Invalid                 // the input is wrong; Fields says where
	NotFound                // no such thing, or not theirs to see
	Denied                  // their role may not do it
	SignedOut               // nobody is signed in
	Conflict                // somebody else changed it meanwhile
	TooMany                 // asked too often
	Unavailable             // cannot be done now, try again
)

// Field is one complaint about one form field, in plain words.
type Field struct {
	Name    string // the form field's name
	Message string // what is wrong and what would be right
}

// Error is a failure with a message for the user.
type Error struct {
	Kind    Kind
	Message string
	Fields  []Field
	Cause   error
}

// Error gives the whole text for the log.
func (e *Error) Error() string {
	parts := []string{}
	if e.Message != "" {
		parts = append(parts, e.Message)
	}
	for _, f := range e.Fields {
		parts = append(parts, f.Name+": "+f.Message)
	}
	if e.Cause != nil {
		parts = append(parts, e.Cause.Error())
	}
	return strings.Join(parts, "; ")
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// New makes an error of a kind with a message for the user.
func New(kind Kind, format string, args ...any) *Error {
	return &Error{Kind: kind, Message: fmt.Sprintf(format, args...)}
}

// Wrap adds a kind and a message for the user to a cause.
func Wrap(cause error, kind Kind, format string, args ...any) *Error {
	return &Error{Kind: kind, Message: fmt.Sprintf(format, args...), Cause: cause}
}

// KindOf gives the kind of err; Internal where it is not an *Error.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// MessageOf gives the text that is safe to show; empty for an internal failure.
func MessageOf(err error) string {
	var e *Error
	if errors.As(err, &e) && e.Kind != Internal {
		return e.Message
	}
	return ""
}

// FieldsOf gives the field complaints of err.
func FieldsOf(err error) []Field {
	var e *Error
	if errors.As(err, &e) {
		return e.Fields
	}
	return nil
}

// Fields collects complaints while a form or a body is checked.
type Fields []Field

// Add notes a complaint.
func (f *Fields) Add(name, format string, args ...any) {
	*f = append(*f, Field{Name: name, Message: fmt.Sprintf(format, args...)})
}

// Need notes a complaint when value is empty.
func (f *Fields) Need(name, value, format string, args ...any) {
	if strings.TrimSpace(value) == "" {
		f.Add(name, format, args...)
	}
}

// Err gives an Invalid error of what was noted, or nil.
func (f Fields) Err() error {
	if len(f) == 0 {
		return nil
	}
	message := "Please mend the marked field."
	if len(f) > 1 {
		message = fmt.Sprintf("Please mend the %d marked fields.", len(f))
	}
	return &Error{Kind: Invalid, Message: message, Fields: f}
}
