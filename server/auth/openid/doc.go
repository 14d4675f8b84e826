// Package openid lets staff sign in through a service that their program already uses,
// by OpenID Connect Core 1.0: authorization code with PKCE (RFC 7636, S256), state and
// nonce, and a redirect address that is fixed in the settings.
//
// The service vouches for a work e-mail; it makes no account and gives no role. Of the
// ID token signature, issuer, audience, authorized party, expiry and nonce are checked,
// and the e-mail counts only when the service says that it verified it. What the service
// says in its own words is never shown: people get the words of this package, the log
// gets the cause.
//
// Nothing is asked of the service before somebody wants to sign in through it, so that
// the program starts and passwords work while it is down.
package openid
