package form

import (
	"net"
	"net/http"
	"net/netip"
)

// ipv6Site is how many bits of an IPv6 address belong to one connection.
const ipv6Site = 64

// Network gives where a request comes from: the address of the connection, for IPv6 its network. Headers can be made
// up by anybody, so none is believed.
func Network(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	if ip = ip.Unmap().WithZone(""); ip.Is6() {
		if network, err := ip.Prefix(ipv6Site); err == nil {
			return network.String()
		}
	}
	return ip.String()
}
