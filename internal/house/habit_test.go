package house_test

import (
	"fmt"
	"path"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

const longest = 500 // lines; beyond that a file holds more than one noun

// written says whether a person writes and reads this file from top to bottom.
func written(rel string) bool {
	return slices.Contains([]string{".go", ".templ", ".css", ".js", ".mjs", ".sql", ".sh"}, path.Ext(rel)) &&
		!strings.HasSuffix(rel, "_templ.go") && rel != "store/schema.sql"
}

// tooLong says what is wrong with the length of a file, or nothing.
func tooLong(rel, content string) string {
	if n := strings.Count(content, "\n"); written(rel) && n >= longest {
		return fmt.Sprintf("%s has %d lines; keep files under %d: one noun a file", rel, n, longest)
	}
	return ""
}

func TestFilesAreShort(t *testing.T) {
	walk(t, func(rel string) {
		if !written(rel) {
			return
		}
		if complaint := tooLong(rel, text(t, rel)); complaint != "" {
			t.Error(complaint)
		}
	})
}

// vague are names that say nothing of what a package holds, so that everything ends up in it.
var vague = []string{"base", "common", "core", "helper", "helpers", "lib", "misc", "model", "models", "shared", "types", "util", "utils"}

// names lists what is wrong with the names of the packages. The pages of a noun may be called by the noun, so domain/sheet
// and web/sheet are namesakes, as long as no file needs both.
func names(all []source) []string {
	var found []string
	folders := map[string][]string{} // by name
	for _, s := range all {
		name, dir := strings.TrimSuffix(s.name, "_test"), s.dir()
		if name == "main" || slices.Contains(folders[name], dir) {
			continue
		}
		if slices.Contains(vague, name) {
			found = append(found, fmt.Sprintf("%s: the name %q says nothing; call it by what it holds", dir, name))
		}
		for _, other := range folders[name] {
			if !namesakes(other, dir) {
				found = append(found, fmt.Sprintf("%s and %s bear the same name, and would have to be renamed where they meet", other, dir))
			}
		}
		folders[name] = append(folders[name], dir)
	}
	return found
}

// namesakes says whether two folders are a noun of the domain and its pages.
func namesakes(a, b string) bool {
	return part(a) == a && part(b) == b && path.Base(a) == path.Base(b) &&
		(path.Dir(a) == "domain" && path.Dir(b) == "web" || path.Dir(a) == "web" && path.Dir(b) == "domain")
}

// meetings lists where a file imports a noun together with its pages.
func meetings(all []source) []string {
	var found []string
	for _, s := range all {
		for _, imp := range s.imports {
			noun, ok := strings.CutPrefix(imp, module+"/domain/")
			if ok && slices.Contains(s.imports, module+"/web/"+noun) {
				found = append(found, fmt.Sprintf("%s imports both domain/%s and web/%s; split it, or call the pages something else", s.path, noun, noun))
			}
		}
	}
	return found
}

func TestPackagesAreNamedWell(t *testing.T) {
	all := tree(t)
	for _, complaint := range append(names(all), meetings(all)...) {
		t.Error(complaint)
	}
}

// comments lists what is wrong with the package comments. Commands and packages of tests alone stand above everything, so
// there is nothing to be kept from them.
func comments(all []source) []string {
	type pack struct {
		doc   string
		below bool // something may stand above it
	}
	packs := map[string]pack{}
	for _, s := range all {
		p := packs[s.dir()]
		packs[s.dir()] = pack{doc: p.doc + s.doc, below: p.below || s.name != "main" && !s.test()}
	}
	var found []string
	for dir, p := range packs {
		if p.doc == "" {
			found = append(found, dir+": no package comment; say what it is for and what it must not know")
		} else if p.below && !strings.Contains(strings.Join(strings.Fields(p.doc), " "), "must not ") {
			found = append(found, dir+": the package comment does not say what the package must not know")
		}
	}
	return found
}

func TestPackagesSayWhatTheyAreFor(t *testing.T) {
	for _, complaint := range comments(tree(t)) {
		t.Error(complaint)
	}
}

// orphans lists generated views whose template is gone.
func orphans(files []string) []string {
	var found []string
	for _, rel := range files {
		if view, ok := strings.CutSuffix(rel, "_templ.go"); ok && !slices.Contains(files, view+".templ") {
			found = append(found, rel+" has no "+path.Base(view)+".templ")
		}
	}
	return found
}

func TestViewsHaveTheirTemplates(t *testing.T) {
	var files []string
	walk(t, func(rel string) { files = append(files, rel) })
	for _, complaint := range orphans(files) {
		t.Error(complaint)
	}
}

// TestHabitsSpeak holds the checks of this file against made-up trees.
func TestHabitsSpeak(t *testing.T) {
	long := strings.Repeat("\n", longest)
	assert.NotEmpty(t, tooLong("web/server.go", long))
	assert.NotEmpty(t, tooLong("static/base.css", long))
	assert.Empty(t, tooLong("web/server.go", long[1:]))
	assert.Empty(t, tooLong("web/ui/frame_templ.go", long), "generated")

	assert.Len(t, names([]source{{path: "domain/util/a.go", name: "util"}, {path: "domain/util/b.go", name: "util"}}), 1)
	assert.Len(t, names([]source{{path: "store/sheet/a.go", name: "sheet"}, {path: "web/sheet/a.go", name: "sheet"}}), 1)
	assert.Len(t, names([]source{{path: "web/sheet/a.go", name: "sheet"}, {path: "web/desk/sheet/a.go", name: "sheet"}}), 1)
	assert.Empty(t, names([]source{{path: "domain/sheet/a.go", name: "sheet"}, {path: "web/sheet/a.go", name: "sheet"}}))
	assert.Len(t, meetings([]source{{path: "web/routes.go", imports: []string{"frywright/domain/sheet", "frywright/web/sheet"}}}), 1)
	assert.Empty(t, meetings([]source{{path: "web/routes.go", imports: []string{"frywright/domain/access", "frywright/web/sheet"}}}))

	assert.Empty(t, names([]source{{path: "store/a.go", name: "store"}, {path: "store/a_test.go", name: "store_test"}}))
	assert.Empty(t, names([]source{{path: "cmd/a/a.go", name: "main"}, {path: "cmd/b/b.go", name: "main"}}))

	assert.Len(t, comments([]source{{path: "store/a.go", name: "store"}}), 1)
	assert.Len(t, comments([]source{{path: "store/a.go", name: "store", doc: "Package store keeps things."}}), 1)
	assert.Len(t, comments([]source{{path: "cmd/a/a.go", name: "main"}}), 1)
	assert.Empty(t, comments([]source{{path: "store/a.go", name: "store", doc: "Package store keeps things. It must\nnot know of pages."}, {path: "store/b.go", name: "store"}}))
	assert.Empty(t, comments([]source{{path: "cmd/a/a.go", name: "main", doc: "Command a serves."}}))
	assert.Empty(t, comments([]source{{path: "e2e/a_test.go", name: "e2e", doc: "Package e2e walks."}}))

	assert.Len(t, orphans([]string{"web/ui/frame_templ.go"}), 1)
	assert.Empty(t, orphans([]string{"web/ui/frame_templ.go", "web/ui/frame.templ"}))
}

// inScripts are what scripts may not do, but for the files named: run text as code, put text into the page as markup, hear
// other windows, and keep anything of the record in the browser.
var inScripts = map[string][]string{
	"eval(": nil, "new Function": nil, "document.write": nil, "insertAdjacentHTML": nil, "outerHTML": nil, "postMessage": nil, "__proto__": nil,
	"document.cookie": nil, "sessionStorage": nil, "indexedDB": nil, "caches.": nil,
	"innerHTML":    {"static/js/weigh.js"},                           // a piece of a page of ours, escaped by the server
	"localStorage": {"static/js/theme.js", "static/js/theme-key.js"}, // light or dark
}

// overreach says what a script does that it may not.
func overreach(rel, content string) []string {
	var found []string
	for what, files := range inScripts {
		if path.Ext(rel) == ".js" && strings.Contains(content, what) && !slices.Contains(files, rel) {
			found = append(found, rel+" uses "+what)
		}
	}
	return found
}

func TestScriptsRunAndKeepNothing(t *testing.T) {
	for what := range inScripts {
		assert.NotEmpty(t, overreach("static/js/made-up.js", "x = "+what+"x"))
	}
	read := 0
	walk(t, func(rel string) {
		if strings.HasPrefix(rel, "static/") && path.Ext(rel) == ".js" {
			read++
			assert.Empty(t, overreach(rel, text(t, rel)))
		}
	})
	assert.Positive(t, read)
}
