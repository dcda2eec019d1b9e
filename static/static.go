// Package static serves the styles, scripts and fonts that `npm run build` leaves in dist, under addresses that change
// with their content. It must not know of any page.
package static

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"
)

//go:embed all:dist
var dist embed.FS

// Prefix is where the files are served.
const Prefix = "/static/"

// file is one embedded file.
type file struct {
	data []byte
	hash string // of the content, in hex
	kind string // content type
}

var files = load(dist)

// kinds are the content types of what is shipped; other files are not served.
var kinds = map[string]string{
	".css":   "text/css; charset=utf-8",
	".js":    "text/javascript; charset=utf-8",
	".svg":   "image/svg+xml",
	".png":   "image/png",
	".txt":   "text/plain; charset=utf-8",
	".woff2": "font/woff2",
	".wasm":  "application/wasm",
	".json":  "application/json",
}

// load reads the files below dist. Nothing can fail there but the program's own making.
func load(root fs.FS) map[string]file {
	found := map[string]file{}
	err := fs.WalkDir(root, "dist", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || kinds[path.Ext(name)] == "" {
			return err
		}
		data, err := fs.ReadFile(root, name)
		sum := sha256.Sum256(data)
		found[strings.TrimPrefix(name, "dist/")] = file{data: data, hash: hex.EncodeToString(sum[:8]), kind: kinds[path.Ext(name)]}
		return err
	})
	if err != nil {
		panic(err)
	}
	return found
}

// Path gives the address of a file, with its hash, so that browsers may keep it for ever: "/static/app.css?v=…". A file
// that was not built gets its plain address, where there is nothing.
func Path(name string) string { return address(files, name) }

func address(files map[string]file, name string) string {
	f, ok := files[name]
	if !ok {
		return Prefix + name
	}
	return Prefix + name + "?v=" + f.hash
}

// Handler serves the files below Prefix. Only what was asked for by its present hash, or bears a hash in its own name as
// fonts do, may be kept for ever; the rest is asked for again each time.
func Handler() http.Handler { return serve(files) }

func serve(files map[string]file) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := strings.TrimPrefix(r.URL.Path, Prefix)
		f, ok := files[name]
		switch {
		case !ok:
			http.NotFound(w, r)
			return
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "Only GET and HEAD.", http.StatusMethodNotAllowed)
			return
		}
		write(w, r, name, f)
	})
}

func write(w http.ResponseWriter, r *http.Request, name string, f file) {
	h := w.Header()
	h.Set("Content-Type", f.kind)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("ETag", `"`+f.hash+`"`)
	h.Set("Cache-Control", "no-cache")
	if r.URL.Query().Get("v") == f.hash || strings.HasPrefix(name, "fonts/") {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(f.data))
}
