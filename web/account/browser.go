package account

import (
	"crypto/rand"
	"net/http"
	"strings"
	"time"

	"frywright/domain/access"
	"frywright/web/path"

	"github.com/google/uuid"
)

// The cookie that marks a browser for its next sign-in. It lets nobody in: it only keeps strangers' tries from slowing
// down somebody who has signed in with this browser before.
const (
	browserCookie = "frywright-browser"
	browserKept   = 365 * 24 * time.Hour
	browserSize   = 26 // characters of rand.Text: 130 random bits
)

// browserName gives the name of the browser's cookie. With HTTPS it is one that no page without HTTPS can set (RFC 6265bis,
// 4.1.3.1).
func (p *Pages) browserName() string {
	if p.sessions.Cookie.Secure {
		return "__Secure-" + browserCookie
	}
	return browserCookie
}

// browserOf gives the value of the browser's cookie; empty where there is none that could be ours.
func (p *Pages) browserOf(r *http.Request) string {
	c, err := r.Cookie(p.browserName())
	if err != nil || len(c.Value) != browserSize {
		return ""
	}
	return c.Value
}

// knownBrowser gives the value of the browser's cookie where the person has signed in with it before, or of the session
// where they are signed in with it, else nothing. It asks the same of the store for an address that nobody has.
func (p *Pages) knownBrowser(r *http.Request, id uuid.UUID) (string, error) {
	if access.FromContext(r.Context()).Person == id && id != uuid.Nil {
		return p.sessions.Token(r.Context()), nil
	}
	cookie := p.browserOf(r)
	if cookie == "" {
		return "", nil
	}
	known, err := p.store.KnowsBrowser(r.Context(), id, cookie)
	if err != nil || !known {
		return "", err
	}
	return cookie, nil
}

// remember marks the browser as one of the person's. Several people may share one. The cookie is seen at the sign-in only.
func (p *Pages) remember(w http.ResponseWriter, r *http.Request, id uuid.UUID) error {
	if !strings.HasPrefix(r.URL.Path, path.SignIn()) {
		return nil
	}
	cookie := p.browserOf(r)
	if cookie == "" {
		cookie = rand.Text()
	}
	http.SetCookie(w, &http.Cookie{
		Name: p.browserName(), Value: cookie, Path: path.SignIn(), MaxAge: int(browserKept / time.Second),
		HttpOnly: true, Secure: p.sessions.Cookie.Secure, SameSite: http.SameSiteLaxMode,
	})
	return p.store.KnowBrowser(r.Context(), id, cookie)
}
