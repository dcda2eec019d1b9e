package house_test

import (
	"fmt"
	"path"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// rule is one ban on an import.
type rule struct {
	name string
	why  string
	bans func(s source, imp string) bool

	caught  []example // made up; the rule must speak
	allowed []example // made up; no rule may speak
}

// example is a made-up file with one import.
type example struct {
	file, imp string
}

// source makes the file of an example: *_js.go is the phone's alone, *_native.go the server's alone, all others both's.
func (e example) source() source {
	phone, native := strings.HasSuffix(e.file, "_js.go"), strings.HasSuffix(e.file, "_native.go")
	return source{path: e.file, imports: []string{e.imp}, native: !phone, phone: !native}
}

// own gives the folder of an import of this module: "frywright/web/ui" is "web/ui".
func own(imp string) (dir string, ok bool) { return strings.CutPrefix(imp, module+"/") }

// within says whether dir is one of the tops or lies below one.
func within(dir string, tops ...string) bool {
	return slices.ContainsFunc(tops, func(top string) bool { return dir == top || strings.HasPrefix(dir, top+"/") })
}

// standard says whether an import is of the standard library: those have no point in their first element.
func standard(imp string) bool {
	first, _, _ := strings.Cut(imp, "/")
	return first != module && !strings.Contains(first, ".")
}

// part gives the first two elements of a folder: "cmd/frywright/demo" is of "cmd/frywright".
func part(dir string) string {
	elements := strings.Split(dir, "/")
	return path.Join(elements[:min(2, len(elements))]...)
}

// feature gives the part of web that a folder belongs to; web itself is of none.
func feature(dir string) string {
	if dir == "web" || !within(dir, "web") {
		return ""
	}
	return part(dir)
}

// supports says whether a file is there for tests only: a test, the browser tests, or a suite that tests share (store/storetest).
func supports(s source) bool {
	parent, base := path.Split(s.dir())
	return s.test() || within(s.dir(), "e2e") || base == path.Base(parent)+"test"
}

// breaches lists what the rules have against a file.
func breaches(s source) []string {
	var found []string
	for _, imp := range s.imports {
		for _, r := range rules {
			if r.bans(s, imp) {
				found = append(found, fmt.Sprintf("%s imports %s\n\t%s: %s", s.path, imp, r.name, r.why))
			}
		}
	}
	return found
}

func TestImportsPointOneWay(t *testing.T) {
	for _, s := range tree(t) {
		for _, b := range breaches(s) {
			t.Error(b)
		}
	}
}

// TestEveryRuleSpeaks holds every rule against made-up files, so that none of them can be silent for the wrong reason.
func TestEveryRuleSpeaks(t *testing.T) {
	for _, r := range rules {
		t.Run(r.name, func(t *testing.T) {
			require.NotEmpty(t, r.why)
			require.NotEmpty(t, r.caught)
			for _, e := range r.caught {
				assert.Contains(t, strings.Join(breaches(e.source()), "\n"), r.name+": "+r.why, "%s importing %s", e.file, e.imp)
			}
			for _, e := range r.allowed {
				assert.Empty(t, breaches(e.source()), "%s importing %s", e.file, e.imp)
			}
		})
	}
}

// TestTheTreeIsRead makes sure that the rules are held against the real program.
func TestTheTreeIsRead(t *testing.T) {
	seen := map[string]int{}
	for _, s := range tree(t) {
		top, _, _ := strings.Cut(s.path, "/")
		seen[top] += len(s.imports)
	}
	for _, top := range []string{"cmd", "domain", "migrations", "store", "web"} {
		assert.Positive(t, seen[top], "no import was found below %s", top)
	}
}
