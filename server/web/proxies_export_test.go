package web

import (
	"net"
	"net/http/httptest"
)

// ClientAddress is where a request comes from that says from in X-Forwarded-For and
// arrives from the address by.
func ClientAddress(proxies []string, from, by string) string {
	var trusted []*net.IPNet
	for _, p := range proxies {
		_, n, err := net.ParseCIDR(p)
		if err != nil {
			panic(err)
		}
		trusted = append(trusted, n)
	}
	r := httptest.NewRequest("GET", "/", nil)
	r.Header.Set("X-Forwarded-For", from)
	r.RemoteAddr = net.JoinHostPort(by, "40000")
	return clientAddress(trusted)(r)
}
