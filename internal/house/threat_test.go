package house_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// items says how many requirements of levels 1 and 2 each section of OWASP ASVS 5.0.0 has: they are the first of their
// section, 253 in all. Sections of level 3 alone are left out.
const items = `1.1:2 1.2:9 1.3:11 1.4:3 1.5:2 2.1:3 2.2:3 2.3:4 2.4:1 3.2:2 3.3:4 3.4:6 3.5:5 3.7:2 4.1:3 4.2:1 4.3:2 4.4:4
	5.1:1 5.2:3 5.3:2 5.4:3 6.1:3 6.2:12 6.3:4 6.4:4 6.5:5 6.6:3 6.8:4 7.1:3 7.2:4 7.3:2 7.4:5 7.5:2 7.6:2 8.1:2 8.2:3 8.3:1 8.4:1
	9.1:3 9.2:4 10.1:2 10.2:2 10.3:4 10.4:11 10.5:5 10.6:2 10.7:3 11.1:2 11.2:3 11.3:3 11.4:4 11.5:1 11.6:1 12.1:3 12.2:2 12.3:4
	13.1:1 13.2:5 13.3:2 13.4:5 14.1:2 14.2:4 14.3:3 15.1:3 15.2:3 15.3:7 16.1:1 16.2:5 16.3:4 16.4:3 16.5:3 17.1:1 17.2:4 17.3:2`

// TestTheThreatModelHolds reads the threat model: every test and every make target that it names is there, once; every
// row says what stops the threat and names what shows it, or has no more than a reason; and every requirement of the
// standard is answered exactly once.
func TestTheThreatModelHolds(t *testing.T) {
	_, after, found := strings.Cut(text(t, "DEVELOPERS.md"), "\n## Threat model\n")
	require.True(t, found)
	section, _, _ := strings.Cut(after, "\n## ")
	assert.Empty(t, threats(section, testNames(t), text(t, "Makefile")))
}

// TestThreatsAreFound gives a threat model in which each kind of mistake is made.
func TestThreatsAreFound(t *testing.T) {
	rows := "| item | answer | test |\n|---|---|---|\n"
	tests := map[string]int{"TestThere": 1, "TestTwice": 2}
	for section, says := range map[string]string{
		"`TestNotThere`":                        "there is no TestNotThere",
		"`TestTwice`":                           "there is more than one TestTwice",
		"`make nothing`":                        "no make nothing",
		rows + "| who | what |  |":              "neither a test nor a reason",
		rows + "| who | | `TestThere` |":        "neither a test nor a reason",
		rows + "| who | what | looks right |":   "neither a test nor a reason",
		rows + "| 1.1.1 | so | – |":             "1.1.2 is answered 0 times",
		rows + "| 1.1.1–2, 1.1.2 | so | – |":    "1.1.2 is answered 2 times",
		rows + "| 1.1.3 | level 3 | – |":        "1.1.3 is no requirement of level 1 or 2",
		rows + "| 1.1, 1.2.1 | chapter | – |\n": "1.2.2 is answered 0 times",
	} {
		assert.Contains(t, strings.Join(threats(section, tests, "\nvuln:"), "; "), says, section)
	}
	right := rows + "| `who` | what | `TestThere`, `make vuln` |\n| " + regexp.MustCompile(`:\d+`).ReplaceAllString(strings.Join(strings.Fields(items), ", "), "") + " | so | – |\n"
	assert.Empty(t, threats(right, tests, "\nvuln:"))
}

var (
	named  = regexp.MustCompile("`((?:Test|Fuzz|Benchmark)[A-Za-z0-9_]+)`")
	target = regexp.MustCompile("`make ([a-z0-9-]+)`")
	row    = regexp.MustCompile(`(?m)^\|([^|]*)\|([^|]*)\|([^|]*)\|$`)
	item   = regexp.MustCompile(`\b(\d+)\.(\d+)(?:\.(\d+)(?:–(\d+))?)?`)
)

// threats says what is wrong with a threat model. tests counts the tests of the tree by name.
func threats(section string, tests map[string]int, makefile string) []string {
	var wrong []string
	for _, m := range named.FindAllStringSubmatch(section, -1) {
		switch n := tests[m[1]]; {
		case n == 0:
			wrong = append(wrong, "there is no "+m[1])
		case n > 1:
			wrong = append(wrong, "there is more than one "+m[1])
		}
	}
	for _, m := range target.FindAllStringSubmatch(section, -1) {
		if !strings.Contains(makefile, "\n"+m[1]+":") {
			wrong = append(wrong, "no make "+m[1])
		}
	}
	answered := map[string]int{}
	for _, m := range row.FindAllStringSubmatch(section, -1) {
		what, shows := strings.TrimSpace(m[2]), strings.TrimSpace(m[3])
		if strings.HasPrefix(what, "---") || shows == "test" {
			continue
		}
		if what == "" || !named.MatchString(shows) && !target.MatchString(shows) && shows != "–" {
			wrong = append(wrong, "neither a test nor a reason: "+m[0])
		}
		wrong = append(wrong, answer(m[1], answered)...)
	}
	return append(wrong, unanswered(answered)...)
}

// most gives how many requirements each section has.
func most() map[string]int {
	sections := map[string]int{}
	for _, field := range strings.Fields(items) {
		name, n, _ := strings.Cut(field, ":")
		sections[name], _ = strconv.Atoi(n)
	}
	return sections
}

// answer counts the requirements that a row is about: one, a range of a section, or a whole section.
func answer(cell string, answered map[string]int) (wrong []string) {
	for _, m := range item.FindAllStringSubmatch(cell, -1) {
		section := m[1] + "." + m[2]
		first, last := 1, most()[section]
		if m[3] != "" {
			first, _ = strconv.Atoi(m[3])
			last = first
		}
		if m[4] != "" {
			last, _ = strconv.Atoi(m[4])
		}
		for i := first; i <= last; i++ {
			id := fmt.Sprintf("%s.%d", section, i)
			answered[id]++
			if i > most()[section] {
				wrong = append(wrong, id+" is no requirement of level 1 or 2")
			}
		}
	}
	return wrong
}

// unanswered names the requirements that are not answered once, where any is: a model may also do without the standard.
func unanswered(answered map[string]int) (wrong []string) {
	if len(answered) == 0 {
		return nil
	}
	for section, n := range most() {
		for i := range n {
			id := fmt.Sprintf("%s.%d", section, i+1)
			if answered[id] != 1 {
				wrong = append(wrong, fmt.Sprintf("%s is answered %d times", id, answered[id]))
			}
		}
	}
	slices.Sort(wrong)
	return wrong
}

// testNames counts the tests of the tree by name.
func testNames(t *testing.T) map[string]int {
	t.Helper()
	names := map[string]int{}
	walk(t, func(rel string) {
		if !strings.HasSuffix(rel, "_test.go") {
			return
		}
		f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root(t), filepath.FromSlash(rel)), nil, parser.SkipObjectResolution)
		require.NoError(t, err)
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Recv == nil && named.MatchString("`"+fn.Name.Name+"`") {
				names[fn.Name.Name]++
			}
		}
	})
	return names
}
