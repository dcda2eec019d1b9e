package intake

import (
	"strings"

	"github.com/google/uuid"
)

// thing is something that exists already, or that this import makes or changes.
type thing[T any] struct {
	value   T         // as it will stand; where its row is wrong, as it stands
	version uuid.UUID // the last entry that changed it
	known   bool      // it exists already
	spoken  place     // the first row that speaks of it; zero: none does
	wrong   place     // the row that is wrong, so that this import does not write it; zero: none
}

// place is a line of a file.
type place struct {
	file string
	line int
}

// in names the place as seen from a row of a file.
func (p place) in(file string) string {
	text := "line " + wholeText(p.line)
	if p.file != file {
		text += " of " + p.file
	}
	return text
}

// shelf holds the things of one sort by their code or tag, in lower case.
type shelf[T any] struct {
	noun  string
	known map[string]Item[T]
	made  map[string]*thing[T]
}

func newShelf[T any](noun string, known map[string]Item[T]) *shelf[T] {
	return &shelf[T]{noun: noun, known: known, made: map[string]*thing[T]{}}
}

func fold(code string) string { return strings.ToLower(code) }

// get gives what stands under a code; nil for nothing.
func (s *shelf[T]) get(code string) *thing[T] {
	key := fold(code)
	if t, ok := s.made[key]; ok {
		return t
	}
	item, ok := s.known[key]
	if !ok {
		return nil
	}
	t := &thing[T]{value: item.Value, version: item.Version, known: true}
	s.made[key] = t
	return t
}

// claim gives the thing that a row speaks of, a blank one where nothing stands under its code. Where a row spoke of it
// before, that is a complaint about this one and the thing is nil. A row without a code gets a thing of its own.
func (s *shelf[T]) claim(l *line, column string, blank func() T) *thing[T] {
	code := l.text(column)
	t := s.get(code)
	if t == nil {
		t = &thing[T]{value: blank()}
	}
	if t.spoken != (place{}) {
		l.bad(column, "The %s %s is there twice: first in %s.", s.noun, code, t.spoken.in(l.table.File))
		return nil
	}
	t.spoken = l.place()
	if code != "" {
		s.made[fold(code)] = t
	}
	return t
}

// refer gives the thing that a row's cell names, or notes why it cannot.
func (s *shelf[T]) refer(l *line, column string) *thing[T] {
	code := l.text(column)
	if code == "" {
		return nil // the rule that it must be named stands with the body
	}
	t := s.get(code)
	switch {
	case t == nil:
		l.bad(column, "There is no %s %s, neither here nor in these files.", s.noun, clip(code))
		return nil
	case !t.known && t.wrong != (place{}):
		l.bad(column, "The %s %s is itself wrong: see %s.", s.noun, clip(code), t.wrong.in(l.table.File))
		return nil
	}
	return t
}
