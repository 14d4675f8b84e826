package auth

import (
	"net/http"
	"time"
)

// deviceCookie is the name of the cookie that tells a device an account was used on
// before: one an account, so that people who share a computer do not push each other
// out. The name holds a digest, no address.
func (g *Guard) deviceCookie(id string) string {
	name := "dunlin-device-" + digest(fold(id))[:12]
	if g.secure {
		name = "__Host-" + name
	}
	return name
}

// Device is the token of the account's known device in a request; "" for none.
func (g *Guard) Device(r *http.Request, id string) string {
	c, err := r.Cookie(g.deviceCookie(id))
	if err != nil {
		return ""
	}
	return c.Value
}

// KeepDevice lets the browser remember that the account was used on it.
func (g *Guard) KeepDevice(w http.ResponseWriter, id, token string) {
	if token == "" {
		return
	}
	http.SetCookie(w, &http.Cookie{Name: g.deviceCookie(id), Value: token, Path: "/", MaxAge: int(deviceFor / time.Second), Secure: g.secure, HttpOnly: true, SameSite: http.SameSiteLaxMode})
}
