// Package bench measures the program at fleet scale: it invents a fleet once, and measures pages, imports, changes of
// standards, rebuilding and starting over it, each beside a floor from the same run. What it serves and opens is handed in
// by the command; it must not have a server or a database of its own making besides the floors.
package bench

import (
	"context"
	"io"
	"time"

	"frywright/store"
)

// Host is what the bench is given of the program that it measures.
type Host struct {
	Open     func(folder string) (*store.Store, error) // opens the database of a data folder as the server does
	Office   func(context.Context) context.Context     // gives a context in which the program itself acts
	Database string                                    // name of the database file in a data folder
	Out      io.Writer
}

// Run is one run of the bench.
type Run struct {
	Host
	Plan
	Dir string // where fleets are kept
}

func (r *Run) since(began time.Time) time.Duration { return time.Since(began).Round(time.Millisecond) }
