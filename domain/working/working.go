// Package working describes how a shown number came about, so that every one of them can be opened on the screen:
// inputs, formula, source, uncertainty. It computes nothing itself and must not know of any formula.
package working

// Line is one input or intermediate result.
type Line struct {
	Label string
	Value string // with its unit
	From  string // where it was taken from: "reading of 20 Nov 2026", "house standard of the site"
}

// Working is the explanation of one result.
type Working struct {
	Title       string // what was worked out
	Result      string // the result as shown
	Inputs      []Line
	Formula     string   // in words or symbols
	Steps       []string // the numbers put in, one step a line
	Source      string   // the published source, or "common practice, no source"
	Uncertainty string   // how sure it is, and what it leaves out
}
