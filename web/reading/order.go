package reading

import (
	"net/http"
	"slices"

	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// order is how a reading goes through the settings: in the controller's own order. A reading as left goes through those
// first that were off before, for they have to be proved; the others may follow.
type order struct {
	proof []int // positions from 1 of what has to be proved, ascending; empty: there is nothing special
}

func (p *Pages) order(r *http.Request, fryer uuid.UUID, purpose snapshot.Purpose) (order, error) {
	if purpose != snapshot.AsLeft {
		return order{}, nil
	}
	a, err := p.Store.Assessment(r.Context(), fryer)
	if err != nil {
		return order{}, err
	}
	var o order
	for _, f := range a.Result.Drifted() {
		if !f.Setting.ReadOnly {
			o.proof = append(o.proof, a.Expected.Position(f.Ref)+1)
		}
	}
	return o, nil
}

// first gives the position at which a reading begins.
func (o order) first() int {
	if len(o.proof) > 0 {
		return o.proof[0]
	}
	return 1
}

// next gives the position to read after pos, 0 to begin with, where pos itself counts as read; 0 where what the reading
// is for is done.
func (o order) next(res *state.ReadingResult, pos int) int {
	if len(o.proof) > 0 && (pos == 0 || slices.Contains(o.proof, pos)) {
		return unread(res, o.proof, pos)
	}
	return unread(res, all(res), pos)
}

// rest gives the first position without a reading at all; 0 where every one has one.
func (o order) rest(res *state.ReadingResult) int { return unread(res, all(res), 0) }

// proved counts what has to be proved and was gone through.
func (o order) proved(res *state.ReadingResult) int {
	n := 0
	for _, at := range o.proof {
		if _, has := res.Snapshot.Readings[refAt(res, at)]; has {
			n++
		}
	}
	return n
}

// count gives the place of a position among those that the reading asks for one after another, and how many there are.
func (o order) count(res *state.ReadingResult, pos int) (place, total int) {
	if i := slices.Index(o.proof, pos); i >= 0 {
		return i + 1, len(o.proof)
	}
	return pos, len(res.Result.Findings)
}

// back gives the position to go back to; 0 where there is none.
func (o order) back(pos int) int {
	if i := slices.Index(o.proof, pos); i > 0 {
		return o.proof[i-1]
	}
	return pos - 1
}

func all(res *state.ReadingResult) []int {
	positions := make([]int, len(res.Result.Findings))
	for i := range positions {
		positions[i] = i + 1
	}
	return positions
}

// unread gives the first of the positions after pos without a reading, going round at the end; 0 where every other has
// one.
func unread(res *state.ReadingResult, positions []int, pos int) int {
	open := func(at int) bool {
		_, has := res.Snapshot.Readings[refAt(res, at)]
		return at != pos && !has
	}
	for _, at := range positions {
		if at > pos && open(at) {
			return at
		}
	}
	for _, at := range positions {
		if open(at) {
			return at
		}
	}
	return 0
}

func refAt(res *state.ReadingResult, pos int) sheet.Ref { return res.Result.Findings[pos-1].Ref }
