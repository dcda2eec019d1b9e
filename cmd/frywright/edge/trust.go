package edge

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"regexp"
	"strings"

	"frywright/web"
)

// Proxies are the networks of the proxies that are believed.
type Proxies []netip.Prefix

// ParseProxies reads networks, such as 10.0.0.0/8, and single addresses.
func ParseProxies(texts []string) (Proxies, error) {
	var list Proxies
	for _, text := range texts {
		network, err := netip.ParsePrefix(text)
		if err != nil {
			ip, ipErr := netip.ParseAddr(text)
			if ipErr != nil {
				return nil, fmt.Errorf("%q is neither an address nor a network such as 10.0.0.0/8", text)
			}
			ip = ip.Unmap()
			network = netip.PrefixFrom(ip, ip.BitLen())
		}
		list = append(list, network.Masked())
	}
	return list, nil
}

func (p Proxies) hold(ip netip.Addr) bool {
	for _, network := range p {
		if network.Contains(ip) {
			return true
		}
	}
	return false
}

// told are the headers in which proxies say for whom they ask. After Believe nobody sees them any more.
var told = []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Proto", "X-Forwarded-Host", "X-Forwarded-Port", "X-Real-Ip", "X-Request-Id"}

// requestID is what an id that a proxy gives may look like.
var requestID = regexp.MustCompile(`^[A-Za-z0-9._-]{1,64}$`)

// year is one year in seconds, for how long browsers are asked to come by HTTPS only (RFC 6797).
const year = "max-age=31536000"

// Believe hands requests on as those of the client that a trusted proxy asks for: its address, and the id of the request.
// What anybody else claims is dropped. Answers over HTTPS ask the browser to stay with it.
func (p Proxies) Believe(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		client, https := r.RemoteAddr, r.TLS != nil
		ctx := r.Context()
		if peer, err := netip.ParseAddrPort(r.RemoteAddr); err == nil && p.hold(peer.Addr().Unmap()) {
			if ip := p.client(r.Header, peer.Addr().Unmap()); ip != peer.Addr().Unmap() {
				client = netip.AddrPortFrom(ip, 0).String()
			}
			https = https || scheme(r.Header) == "https"
			if id := r.Header.Get("X-Request-Id"); requestID.MatchString(id) {
				ctx = web.WithRequestID(ctx, id)
			}
		}
		r = r.Clone(ctx) // whoever gave us the request keeps theirs
		r.RemoteAddr = client
		for _, name := range told {
			r.Header.Del(name)
		}
		if https {
			w.Header().Set("Strict-Transport-Security", year)
		}
		next.ServeHTTP(w, r)
	})
}

// client gives who asks: the rightmost hop that is none of the proxies. A proxy hands on what it does not know, so where
// the two headers do not agree one of them is the client's own, and the peer is all that is known.
func (p Proxies) client(h http.Header, peer netip.Addr) netip.Addr {
	x, standard := h.Values("X-Forwarded-For"), h.Values("Forwarded")
	byX, byStandard := p.rightmost(split(x), peer), p.rightmost(elements(standard, "for"), peer)
	switch {
	case len(x) == 0:
		return byStandard
	case len(standard) == 0 || byX == byStandard:
		return byX
	default:
		return peer
	}
}

// rightmost goes through the hops from us outwards, past the proxies. A hop that is no address ends the way: beyond it
// nothing is known.
func (p Proxies) rightmost(hops []string, peer netip.Addr) netip.Addr {
	at := peer
	for i := len(hops) - 1; i >= 0; i-- {
		ip, ok := hop(hops[i])
		if !ok {
			return at
		}
		if at = ip; !p.hold(ip) {
			return at
		}
	}
	return at
}

// hop reads one hop: an address with or without a port, for IPv6 in brackets or bare.
func hop(text string) (netip.Addr, bool) {
	text = strings.TrimSpace(text)
	if host, _, err := net.SplitHostPort(text); err == nil {
		text = host
	}
	ip, err := netip.ParseAddr(strings.Trim(text, "[]"))
	return ip.Unmap().WithZone(""), err == nil
}

// scheme gives how the client asked the outermost of our proxies, as the one nearest to us says.
func scheme(h http.Header) string {
	x, standard := split(h.Values("X-Forwarded-Proto")), elements(h.Values("Forwarded"), "proto")
	if len(x) > 0 && len(standard) > 0 && !strings.EqualFold(last(x), last(standard)) {
		return ""
	}
	return strings.ToLower(last(append(standard, x...)))
}

func last(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return strings.TrimSpace(list[len(list)-1])
}

func split(values []string) []string {
	if len(values) == 0 {
		return nil
	}
	return strings.Split(strings.Join(values, ","), ",")
}

// elements gives one parameter of every element of Forwarded headers (RFC 7239, 4); empty where an element has none.
// Commas and semicolons within quotes do not separate. A quote that is never closed would swallow what a proxy appended, so
// then nothing is known.
func elements(values []string, name string) []string {
	joined := strings.Join(values, ",")
	if strings.Count(joined, `"`)%2 != 0 {
		return []string{""}
	}
	var list []string
	for _, element := range outsideQuotes(joined, ',') {
		found := ""
		for _, pair := range outsideQuotes(element, ';') {
			key, value, _ := strings.Cut(pair, "=")
			if strings.EqualFold(strings.TrimSpace(key), name) {
				found = strings.Trim(strings.TrimSpace(value), `"`)
			}
		}
		list = append(list, found)
	}
	return list
}

func outsideQuotes(text string, at rune) []string {
	quoted := false
	return strings.FieldsFunc(text, func(c rune) bool {
		if c == '"' {
			quoted = !quoted
		}
		return c == at && !quoted
	})
}
