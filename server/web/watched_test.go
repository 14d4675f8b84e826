package web_test

import (
	"fmt"
	"net/http"
	"strings"
)

// watched looks at the headers of every answer of a test's server, whatever the test
// is about: pages, files, redirects, refusals and faults.
func (s *site) watched(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h.ServeHTTP(w, r)
		head := w.Header()
		if s.elsewhere != "" && r.URL.Path == "/sign-in/service" && strings.HasPrefix(head.Get("Location"), s.elsewhere+"/") {
			head = head.Clone()
			head.Del("Location")
		}
		for _, f := range headerFaults(r, head, s.secure) {
			s.t.Errorf("%s %s: %s", r.Method, r.URL.Path, f)
		}
	})
}

// Headers of every answer (OWASP HTTP Headers cheat sheet; ASVS 5.0.0, 3.4).
var alwaysSent = map[string]string{
	"X-Content-Type-Options":       "nosniff",
	"X-Frame-Options":              "DENY",
	"Referrer-Policy":              "same-origin",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Permissions-Policy":           "camera=(), geolocation=(), microphone=()",
}

const (
	pagePolicy = "default-src 'none'; style-src 'self'; img-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'"
	// The browser shows a PDF in a viewer of its own, which the page's policy would stop.
	pdfPolicy  = "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
	filePolicy = "default-src 'none'; sandbox; frame-ancestors 'none'"
)

// headerFaults says what is wrong with the headers of an answer.
func headerFaults(r *http.Request, h http.Header, secure bool) (out []string) {
	fault := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	for name, want := range alwaysSent {
		if got := h.Get(name); got != want {
			fault("%s is %q, want %q", name, got, want)
		}
	}
	if got := h.Get("Strict-Transport-Security"); (got == "max-age=63072000") != secure {
		fault("Strict-Transport-Security is %q", got)
	}
	policy, disposition := pagePolicy, h.Get("Content-Disposition")
	switch {
	case strings.HasPrefix(disposition, "attachment"):
		policy = filePolicy
	case h.Get("Content-Type") == "application/pdf":
		policy = pdfPolicy
	}
	if got := h.Get("Content-Security-Policy"); got != policy {
		fault("Content-Security-Policy is %q, want %q", got, policy)
	}
	if got := h.Get("Cache-Control"); got != "no-store" && !(strings.HasPrefix(r.URL.Path, "/static/") && strings.HasSuffix(got, "immutable")) {
		fault("Cache-Control is %q", got)
	}
	if kind := h.Get("Content-Type"); strings.HasPrefix(kind, "text/") && !strings.Contains(strings.ToLower(kind), "; charset=utf-8") {
		fault("Content-Type is %q, without a character set", kind)
	}
	if to := h.Get("Location"); to != "" && (!strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n")) {
		fault("leads to %q, which may be another site", to)
	}
	for _, name := range []string{"Server", "X-Powered-By", "Access-Control-Allow-Origin"} {
		if h.Get(name) != "" {
			fault("says %s: %s", name, h.Get(name))
		}
	}
	for _, c := range h["Set-Cookie"] {
		out = append(out, cookieFaults(c, secure)...)
	}
	return out
}

// cookieFaults says what is wrong with a cookie (ASVS 5.0.0, 3.3).
func cookieFaults(c string, secure bool) (out []string) {
	want := []string{"; Path=/", "; HttpOnly", "; SameSite=Lax"}
	if secure {
		want = append(want, "; Secure")
	}
	for _, w := range want {
		if !strings.Contains(c, w) {
			out = append(out, "a cookie lacks "+w[2:])
		}
	}
	if strings.Contains(c, "Domain=") || secure && !strings.HasPrefix(c, "__Host-") {
		out = append(out, "a cookie reaches further than this host")
	}
	return out
}
