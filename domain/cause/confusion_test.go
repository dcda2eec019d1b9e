package cause

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files anew")

const controllers = 10_000 // for each cause

// band is how many settings tell.
type band struct {
	from int
	name string
}

var bands = []band{{0, "0 to 2"}, {3, "3 or 4"}, {5, "5 to 7"}, {8, "8 to 11"}, {12, "12 and more"}}

// row counts verdicts.
type row struct {
	verdicts map[Kind]int
	right    int
	seen     int // controllers of which something that was read differs
}

func (r *row) add(other *row) {
	for k, n := range other.verdicts {
		r.verdicts[k] += n
	}
	r.right += other.right
	r.seen += other.seen
}

func (r *row) wrong() int { return r.seen - r.right - r.verdicts[CannotTell] }

// confusion is what the weighing makes of one cause.
type confusion struct {
	cause    Kind
	rows     []*row // by band
	certain  int    // resets stated at 20 to 1
	oneSided *row   // partly put back: five or more tell, but of one side fewer than two were read
}

func newRow() *row { return &row{verdicts: map[Kind]int{}} }

func simulate(k Kind, seed uint64) *confusion {
	c := &confusion{cause: k, oneSided: newRow()}
	for range bands {
		c.rows = append(c.rows, newRow())
	}
	s := newSimulation(seed)
	for range controllers {
		t := s.happen(k)
		r := Weigh(t.in)
		one := &row{verdicts: map[Kind]int{r.Verdict: 1}}
		if r.Drifts > 0 {
			one.seen = 1
			if t.right(&r) {
				one.right = 1
			}
		}
		c.rows[bandOf(t.telling())].add(one)
		if k == PartlyPutBack && r.Counts.Telling >= 5 && t.telling() < 5 {
			c.oneSided.add(one)
		}
		if r.Verdict == FullReset && r.Sure() {
			c.certain++
		}
	}
	return c
}

func bandOf(telling int) int {
	at := 0
	for i, b := range bands {
		if telling >= b.from {
			at = i
		}
	}
	return at
}

// between sums the rows of bands that begin at from or later, but before to.
func (c *confusion) between(from, to int) *row {
	sum := newRow()
	for i, b := range bands {
		if b.from >= from && b.from < to {
			sum.add(c.rows[i])
		}
	}
	return sum
}

var truths = []Kind{Isolated, FullReset, PartlyPutBack, OtherStandard, WrongSheet, ""}

func TestTenThousandControllersOfEachCause(t *testing.T) {
	found := make([]*confusion, len(truths))
	t.Run("simulate", func(t *testing.T) {
		for i, k := range truths {
			t.Run(string(k), func(t *testing.T) {
				t.Parallel()
				found[i] = simulate(k, uint64(i+1))
			})
		}
	})
	resets, wrong := 0, 0
	for _, c := range found {
		resets += c.certain
		if c.cause != FullReset {
			wrong += c.certain
		}
		few, many := c.between(0, 3), c.between(5, 1000)
		switch c.cause {
		case "":
			assert.LessOrEqual(t, c.between(0, 1000).wrong(), controllers/200, "nothing happened, and yet an explanation is named")
			continue
		case Isolated, FullReset, PartlyPutBack:
			assert.Greater(t, few.seen, 500, "%s: too few fryers with hardly anything that tells", c.cause)
			assert.GreaterOrEqual(t, few.verdicts[CannotTell], few.seen*199/200, "%s: named although too few settings tell", c.cause)
		}
		assert.Greater(t, many.seen, controllers/2, c.cause)
		assert.GreaterOrEqual(t, float64(many.right), 0.97*float64(many.seen), "%s: right where five or more settings tell", c.cause)
	}
	all := pooled(found)
	assert.GreaterOrEqual(t, float64(all.right), 0.97*float64(all.seen), "all causes together, one-sided readings too")
	assert.Greater(t, resets, controllers/3)
	assert.LessOrEqual(t, wrong*50, resets, "resets stated at 20 to 1: %d wrong of %d", wrong, resets)
	golden(t, "testdata/confusion.md", markdown(found, resets, wrong))
}

// pooled sums the rows of every cause where five or more settings differ from factory, one-sided readings too.
func pooled(found []*confusion) *row {
	sum := newRow()
	for _, c := range found {
		if c.cause != "" {
			sum.add(c.between(5, 1000))
			sum.add(c.oneSided)
		}
	}
	return sum
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "run with -update where the change is meant")
}

// markdown writes the confusion table.
func markdown(found []*confusion, resets, wrong int) string {
	var b strings.Builder
	b.WriteString("| what happened | settings that tell | controllers | by hand | reset | partly put back | other standard | wrong sheet | cannot tell | right |\n")
	b.WriteString("|---|---|--:|--:|--:|--:|--:|--:|--:|--:|\n")
	unseen := 0
	for _, c := range found {
		unseen += c.between(0, 1000).verdicts[""]
		for i, r := range c.rows {
			r.line(&b, nameOf(c.cause), bands[i].name)
		}
		if c.cause != "" {
			c.between(5, 1000).line(&b, "**"+nameOf(c.cause)+"**", "**5 and more**")
		}
		c.oneSided.line(&b, "of the 3 or 4", "5 and more, one side unread")
	}
	pooled(found).line(&b, "**every cause**", "**5 and more, one side unread too**")
	fmt.Fprintf(&b, "\n%d controllers for each cause; %d in all showed no difference in what was read and are left out. "+
		"A reset was stated at 20 to 1 for %d controllers and was wrong for %d of them (%.2f %%; allowed 2 %%).\n",
		controllers, unseen, resets, wrong, 100*float64(wrong)/float64(resets))
	b.WriteString(legend)
	return b.String()
}

func (r *row) line(b *strings.Builder, cause, tell string) {
	if r.seen == 0 {
		return
	}
	fmt.Fprintf(b, "| %s | %s | %d", cause, tell, r.seen)
	for _, k := range append(Kinds(), CannotTell) {
		fmt.Fprintf(b, " | %d", r.verdicts[k])
	}
	if tell == bands[0].name {
		b.WriteString(" | – |\n") // cannot tell is what it should say
		return
	}
	fmt.Fprintf(b, " | %.1f %% |\n", 100*float64(r.right)/float64(r.seen))
}

const legend = `
Settings that tell: settings that were read and are expected to differ from factory. Where the truth is another standard: settings read in which it differs from ours, or from factory,
whichever are fewer. Where the sheet is wrong: settings read. A reset partly put back is only told by five where of those still at factory and of those put back at least two were read;
the others are counted under "3 or 4", shown once more below it, and counted in the last row. Nothing happened: only misread values differ, and the verdict "by hand" says that a value may be misread.
`

func nameOf(k Kind) string {
	switch k {
	case Isolated:
		return "changed by hand"
	case FullReset:
		return "full reset"
	case PartlyPutBack:
		return "reset, partly put back"
	case OtherStandard:
		return "another standard"
	case WrongSheet:
		return "wrong sheet"
	default:
		return "nothing happened"
	}
}
