package edge

import (
	"net"
	"net/http"
	"net/url"
	"strings"
)

// Redirect sends whoever comes by plain HTTP on to HTTPS, under the name they asked for where that is ours. Names that are
// not ours are sent nowhere. Whoever watches over the server may ask for its health here.
func Redirect(owns func(host string) bool, port string, health http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Cache-Control", "no-store")
		h.Set("X-Content-Type-Options", "nosniff")
		host := withoutPort(r.Host)
		switch {
		case r.URL.Path == "/healthz":
			health.ServeHTTP(w, r)
		case !owns(host):
			http.Error(w, "This name is not served here.", http.StatusMisdirectedRequest)
		default:
			h.Set("Connection", "close")
			to := url.URL{Scheme: "https", Host: WithPort(host, port), Path: "/" + strings.TrimLeft(r.URL.Path, "/"), RawQuery: r.URL.RawQuery}
			http.Redirect(w, r, to.String(), status(r.Method))
		}
	})
}

// status gives 301 for what only reads, so that every browser keeps it; otherwise 308, so that a form stays a form.
func status(method string) int {
	if method == http.MethodGet || method == http.MethodHead {
		return http.StatusMovedPermanently
	}
	return http.StatusPermanentRedirect
}

// WithPort adds a port to a host, where it is not the one of HTTPS.
func WithPort(host, port string) string {
	if port != "" && port != "443" {
		return net.JoinHostPort(host, port)
	}
	if strings.Contains(host, ":") {
		return "[" + host + "]"
	}
	return host
}
