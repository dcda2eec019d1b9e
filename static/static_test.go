package static

import (
	"net/http"
	"net/http/httptest"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func shelf() map[string]file {
	return load(fstest.MapFS{
		"dist/app.css":            {Data: []byte("a{}")},
		"dist/app.js":             {Data: []byte("1")},
		"dist/fonts/x-AB12.woff2": {Data: []byte("font")},
		"dist/.gitkeep":           {},
		"dist/notes.md":           {Data: []byte("not shipped")},
	})
}

func TestAddressChangesWithTheContent(t *testing.T) {
	before := shelf()
	after := load(fstest.MapFS{"dist/app.css": {Data: []byte("b{}")}})
	assert.Regexp(t, `^/static/app\.css\?v=[0-9a-f]{16}$`, address(before, "app.css"))
	assert.NotEqual(t, address(before, "app.css"), address(after, "app.css"))
	assert.Equal(t, "/static/gone.css", address(before, "gone.css"))
}

func TestServing(t *testing.T) {
	files := shelf()
	const forever = "public, max-age=31536000, immutable"
	for _, c := range []struct {
		name, method, target string
		status               int
		kind, cache          string
	}{
		{"by its hash", "GET", address(files, "app.css"), 200, "text/css; charset=utf-8", forever},
		{"without a hash", "GET", "/static/app.js", 200, "text/javascript; charset=utf-8", "no-cache"},
		{"by an old hash", "GET", "/static/app.js?v=0123456789abcdef", 200, "text/javascript; charset=utf-8", "no-cache"},
		{"a font", "GET", "/static/fonts/x-AB12.woff2", 200, "font/woff2", forever},
		{"only asked about", "HEAD", address(files, "app.css"), 200, "text/css; charset=utf-8", forever},
		{"posted to", "POST", "/static/app.css", 405, "text/plain; charset=utf-8", ""},
		{"nothing there", "GET", "/static/none.css", 404, "text/plain; charset=utf-8", ""},
		{"no kind to serve", "GET", "/static/notes.md", 404, "text/plain; charset=utf-8", ""},
		{"a folder", "GET", "/static/fonts/", 404, "text/plain; charset=utf-8", ""},
		{"above the folder", "GET", "/static/../static.go", 404, "text/plain; charset=utf-8", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := httptest.NewRecorder()
			serve(files).ServeHTTP(w, httptest.NewRequest(c.method, c.target, nil))
			assert.Equal(t, c.status, w.Code)
			assert.Equal(t, c.kind, w.Header().Get("Content-Type"))
			assert.Equal(t, c.cache, w.Header().Get("Cache-Control"))
			assert.Equal(t, "nosniff", w.Header().Get("X-Content-Type-Options"))
		})
	}
}

func TestWhatIsKnownIsNotSentAgain(t *testing.T) {
	files := shelf()
	first := httptest.NewRecorder()
	serve(files).ServeHTTP(first, httptest.NewRequest(http.MethodGet, "/static/app.js", nil))
	require.NotEmpty(t, first.Header().Get("ETag"))
	r := httptest.NewRequest(http.MethodGet, "/static/app.js", nil)
	r.Header.Set("If-None-Match", first.Header().Get("ETag"))
	again := httptest.NewRecorder()
	serve(files).ServeHTTP(again, r)
	assert.Equal(t, http.StatusNotModified, again.Code)
	assert.Empty(t, again.Body.String())
}
