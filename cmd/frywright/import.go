package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"frywright/domain/intake"
	"frywright/store"
)

type importCommand struct {
	Files    []string `arg:"" help:"CSV files; what each is, its header says." type:"existingfile"`
	DryRun   bool     `help:"Only say what would happen."`
	GoodRows bool     `help:"Write the rows that are right even where others are wrong."`
	All      bool     `help:"List every row, the unchanged ones too."`
}

// errNotWritten ends the command with a failure after the problems were listed.
var errNotWritten = errors.New("nothing was written: mend the rows above, or import the good ones with --good-rows")

// Run imports the files.
func (c importCommand) Run(e *environment) error {
	files := make([]intake.File, len(c.Files))
	for i, name := range c.Files {
		data, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		files[i] = intake.File{Name: filepath.Base(name), Data: data}
	}
	return e.withStore(func(ctx context.Context, s *store.Store) error {
		plan, written, err := c.do(ctx, s, files)
		if err != nil {
			return err
		}
		if err := c.report(e, plan); err != nil {
			return err
		}
		switch {
		case c.DryRun:
			_, err = fmt.Fprintln(e.out, "This was a dry run: nothing was written.")
		case written:
			_, err = fmt.Fprintf(e.out, "Wrote %d entries.\n", len(plan.Drafts))
		default:
			err = errNotWritten
		}
		return err
	})
}

func (c importCommand) do(ctx context.Context, s *store.Store, files []intake.File) (intake.Plan, bool, error) {
	if c.DryRun {
		plan, err := s.PlanImport(ctx, files)
		return plan, false, err
	}
	return s.Import(ctx, files, c.GoodRows)
}

func (c importCommand) report(e *environment, p intake.Plan) error {
	for _, f := range p.FileProblems {
		if _, err := fmt.Fprintf(e.out, "%s: %s\n", where(f), f.Message); err != nil {
			return err
		}
	}
	for _, r := range p.Rows {
		if r.Outcome == intake.Same && !c.All {
			continue
		}
		if _, err := fmt.Fprintf(e.out, "%s:%d: %s: %s\n", r.File, r.Line, r.Outcome, r.What); err != nil {
			return err
		}
		for _, line := range lines(r) {
			if _, err := fmt.Fprintln(e.out, "    "+line); err != nil {
				return err
			}
		}
	}
	for _, o := range intake.Outcomes() {
		if n := p.Counts[o]; n > 0 {
			if _, err := fmt.Fprintf(e.out, "%6d %s\n", n, o); err != nil {
				return err
			}
		}
	}
	return nil
}

// lines says what is wrong with a row, what it changes, and what is worth knowing of it.
func lines(r intake.Row) []string {
	var list []string
	for _, p := range r.Problems {
		if p.Column == "" {
			list = append(list, p.Message)
			continue
		}
		list = append(list, p.Column+": "+p.Message)
	}
	list = append(list, r.Changes...)
	for _, note := range r.Notes {
		list = append(list, "note: "+note)
	}
	return list
}

// where says where in a file a complaint belongs.
func where(f intake.FileProblem) string {
	at := f.File
	if f.Line > 0 {
		at += fmt.Sprintf(":%d", f.Line)
	}
	if f.Column != "" {
		at += ": " + f.Column
	}
	return at
}
