// Package house_test checks the habits of the tree that a compiler or a linter does not: which way imports point, how long files
// are, how packages are named and what their comments say. It reads source files only and must not import any package of
// the program, so that it judges a tree that does not build just as well.
package house_test

import (
	"errors"
	"go/ast"
	"go/build"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const module = "frywright"

// source is what the checks need to know of one Go file.
type source struct {
	path      string // from the root, with slashes
	name      string // of the package
	doc       string // the package comment, if this file bears it
	imports   []string
	native    bool // built for the server
	phone     bool // built for js/wasm
	generated bool
}

func (s source) dir() string { return path.Dir(s.path) }

func (s source) test() bool { return strings.HasSuffix(s.path, "_test.go") }

// root finds the folder of go.mod above the tests.
func root(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	require.NoError(t, err)
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		parent := filepath.Dir(dir)
		require.NotEqual(t, parent, dir, "no go.mod above the tests")
		dir = parent
	}
}

// notOurs are folders at the root whose content is made or fetched.
var notOurs = map[string]bool{"bin": true, "data": true, "demo-data": true, "node_modules": true, "static/dist": true}

// walk visits every file of ours: neither made, fetched nor hidden, nor of another module, nor a test's data.
func walk(t *testing.T, visit func(rel string)) {
	t.Helper()
	top := root(t)
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(top, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if !d.IsDir() {
			visit(rel)
			return nil
		}
		if rel != "." && foreign(p, rel) {
			return fs.SkipDir
		}
		return nil
	})
	require.NoError(t, err)
}

func foreign(p, rel string) bool {
	base := path.Base(rel)
	if notOurs[rel] || base == "testdata" || base == "node_modules" || strings.HasPrefix(base, ".") {
		return true
	}
	_, err := os.Stat(filepath.Join(p, "go.mod"))
	return !errors.Is(err, fs.ErrNotExist)
}

// tree reads every Go file of ours.
func tree(t *testing.T) []source {
	t.Helper()
	var all []source
	walk(t, func(rel string) {
		if strings.HasSuffix(rel, ".go") {
			all = append(all, read(t, rel))
		}
	})
	require.NotEmpty(t, all)
	return all
}

func read(t *testing.T, rel string) source {
	t.Helper()
	full := filepath.Join(root(t), filepath.FromSlash(rel))
	f, err := parser.ParseFile(token.NewFileSet(), full, nil, parser.ImportsOnly|parser.ParseComments)
	require.NoError(t, err)
	s := source{path: rel, name: f.Name.Name, doc: f.Doc.Text(), generated: ast.IsGenerated(f)}
	for _, i := range f.Imports {
		p, err := strconv.Unquote(i.Path.Value)
		require.NoError(t, err)
		s.imports = append(s.imports, p)
	}
	s.native = built(t, full, "linux", "amd64")
	s.phone = built(t, full, "js", "wasm")
	return s
}

func built(t *testing.T, full, system, machine string) bool {
	t.Helper()
	c := build.Default
	c.GOOS, c.GOARCH = system, machine
	ok, err := c.MatchFile(filepath.Dir(full), filepath.Base(full))
	require.NoError(t, err)
	return ok
}
