package edge

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"frywright/web"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWhoAsks checks the rightmost hop that is no proxy. The forms of Forwarded are those of RFC 7239, 4 and 6.
func TestWhoAsks(t *testing.T) {
	proxies, err := ParseProxies([]string{"10.0.0.0/8", "2001:db8:ffff::1"})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		peer   string
		header [][2]string
		want   string
	}{
		"nobody in between":             {"192.0.2.1:4711", nil, "192.0.2.1:4711"},
		"a stranger's claim":            {"192.0.2.1:4711", [][2]string{{"X-Forwarded-For", "198.51.100.9"}, {"Forwarded", "for=198.51.100.9"}}, "192.0.2.1:4711"},
		"a proxy":                       {"10.0.0.1:80", [][2]string{{"X-Forwarded-For", "198.51.100.9"}}, "198.51.100.9:0"},
		"a claim before it":             {"10.0.0.1:80", [][2]string{{"X-Forwarded-For", "203.0.113.5, 198.51.100.9"}}, "198.51.100.9:0"},
		"two proxies":                   {"10.0.0.1:80", [][2]string{{"X-Forwarded-For", "203.0.113.5, 198.51.100.9, 10.2.3.4"}}, "198.51.100.9:0"},
		"in two lines":                  {"10.0.0.1:80", [][2]string{{"X-Forwarded-For", "203.0.113.5"}, {"X-Forwarded-For", "198.51.100.9"}}, "198.51.100.9:0"},
		"proxies all the way":           {"10.0.0.1:80", [][2]string{{"X-Forwarded-For", "10.9.9.9, 10.2.3.4"}}, "10.9.9.9:0"},
		"no address":                    {"10.0.0.1:80", [][2]string{{"X-Forwarded-For", "unknown"}}, "10.0.0.1:80"},
		"no address beyond a proxy":     {"10.0.0.1:80", [][2]string{{"X-Forwarded-For", "203.0.113.5, unknown, 10.2.3.4"}}, "10.2.3.4:0"},
		"the standard's header":         {"10.0.0.1:80", [][2]string{{"Forwarded", "for=192.0.2.43, for=198.51.100.17;by=203.0.113.60;proto=http"}}, "198.51.100.17:0"},
		"IPv6, as the standard has it":  {"10.0.0.1:80", [][2]string{{"Forwarded", `For="[2001:db8:cafe::17]:4711"`}}, "[2001:db8:cafe::17]:0"},
		"obfuscated":                    {"10.0.0.1:80", [][2]string{{"Forwarded", "for=_hidden"}}, "10.0.0.1:80"},
		"both, of one mind":             {"10.0.0.1:80", [][2]string{{"Forwarded", "for=198.51.100.9"}, {"X-Forwarded-For", "198.51.100.9"}}, "198.51.100.9:0"},
		"both, at odds":                 {"10.0.0.1:80", [][2]string{{"Forwarded", "for=203.0.113.5"}, {"X-Forwarded-For", "198.51.100.9"}}, "10.0.0.1:80"},
		"a quote that swallows the end": {"10.0.0.1:80", [][2]string{{"Forwarded", `for=203.0.113.5;a=", for=198.51.100.9`}}, "10.0.0.1:80"},
		"an IPv6 proxy":                 {"[2001:db8:ffff::1]:80", [][2]string{{"X-Forwarded-For", "2001:db8::7"}}, "[2001:db8::7]:0"},
		"an IPv4 proxy, seen as IPv6":   {"[::ffff:10.0.0.1]:80", [][2]string{{"X-Forwarded-For", "198.51.100.9"}}, "198.51.100.9:0"},
	} {
		t.Run(name, func(t *testing.T) {
			r := httptest.NewRequest(http.MethodGet, "/", nil)
			r.RemoteAddr = c.peer
			for _, h := range c.header {
				r.Header.Add(h[0], h[1])
			}
			proxies.Believe(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
				assert.Equal(t, c.want, r.RemoteAddr)
				assert.Empty(t, r.Header.Get("X-Forwarded-For")+r.Header.Get("Forwarded"), "nobody behind believes it again")
			}), false).ServeHTTP(httptest.NewRecorder(), r)
		})
	}
}

func TestSchemeAndRequestIDAreHeardFromProxiesAlone(t *testing.T) {
	proxies, err := ParseProxies([]string{"10.0.0.1"})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		peer, proto, forwarded, id string
		https                      bool
		wantID                     string
	}{
		"a proxy":          {"10.0.0.1:80", "https", "", "abc-123", true, "abc-123"},
		"plain":            {"10.0.0.1:80", "http", "", "", false, ""},
		"the standard's":   {"10.0.0.1:80", "", "for=192.0.2.60;proto=https;by=203.0.113.43", "", true, ""},
		"at odds":          {"10.0.0.1:80", "http", "for=192.0.2.60;proto=https", "", false, ""},
		"a stranger":       {"10.0.0.2:80", "https", "", "abc-123", false, ""},
		"an id of no form": {"10.0.0.1:80", "", "", "<script>", false, ""},
	} {
		t.Run(name, func(t *testing.T) {
			r := httptest.NewRequest(http.MethodGet, "/", nil)
			r.RemoteAddr = c.peer
			for key, value := range map[string]string{"X-Forwarded-Proto": c.proto, "Forwarded": c.forwarded, "X-Request-Id": c.id} {
				if value != "" {
					r.Header.Set(key, value)
				}
			}
			w := httptest.NewRecorder()
			proxies.Believe(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
				assert.Equal(t, c.wantID, web.RequestID(r.Context()))
			}), false).ServeHTTP(w, r)
			assert.Equal(t, c.https, w.Header().Get("Strict-Transport-Security") != "")
		})
	}
	_, err = ParseProxies([]string{"proxy.example"})
	require.ErrorContains(t, err, "neither an address nor a network")
}

func FuzzWhoAsks(f *testing.F) {
	f.Add("203.0.113.5, 10.0.0.2", `for="[2001:db8::1]:80";proto=https, for=_x`)
	f.Add(`"`, `a="b;c`)
	proxies, err := ParseProxies([]string{"10.0.0.0/8"})
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, x, standard string) {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		// The proxy appends the true client to whatever came in.
		r.RemoteAddr = "10.0.0.1:80"
		r.Header["X-Forwarded-For"] = []string{x, "198.51.100.9"}
		if standard != "" {
			r.Header["Forwarded"] = []string{standard}
		}
		proxies.Believe(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
			assert.Contains(t, []string{"198.51.100.9:0", "10.0.0.1:80"}, r.RemoteAddr, "nothing made up is believed")
		}), false).ServeHTTP(httptest.NewRecorder(), r)
	})
}

func TestRedirectGoesToOurOwnNamesOnly(t *testing.T) {
	owns := func(host string) bool { return host == "fry.example" }
	health := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) })
	for name, c := range map[string]struct {
		method, host, to, port string
		status                 int
		location               string
	}{
		"a page":                {http.MethodGet, "fry.example", "/desk?worst=food", "443", 301, "https://fry.example/desk?worst=food"},
		"a form":                {http.MethodPost, "fry.example:80", "/desk", "", 308, "https://fry.example/desk"},
		"another port":          {http.MethodGet, "fry.example:8080", "/", "8443", 301, "https://fry.example:8443/"},
		"somebody else's name":  {http.MethodGet, "elsewhere.example", "/", "", 421, ""},
		"no name":               {http.MethodGet, "", "/", "", 421, ""},
		"an address of slashes": {http.MethodGet, "fry.example", "//elsewhere.example/", "", 301, "https://fry.example/elsewhere.example/"},
		"health":                {http.MethodGet, "127.0.0.1", "/healthz", "", 204, ""},
	} {
		t.Run(name, func(t *testing.T) {
			r := httptest.NewRequest(c.method, "/", nil)
			u, err := r.URL.Parse("http://x" + c.to)
			require.NoError(t, err)
			r.URL, r.Host = u, c.host
			w := httptest.NewRecorder()
			Redirect(owns, c.port, health).ServeHTTP(w, r)
			assert.Equal(t, c.status, w.Code)
			assert.Equal(t, c.location, w.Header().Get("Location"))
			assert.Empty(t, w.Header().Get("Strict-Transport-Security"))
		})
	}
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	r.URL.Path, r.URL.Opaque, r.Host = "", ".elsewhere.example/", "fry.example" // as "GET x:.elsewhere.example/" is read
	w := httptest.NewRecorder()
	Redirect(owns, "", health).ServeHTTP(w, r)
	assert.Equal(t, "https://fry.example/", w.Header().Get("Location"))
}
