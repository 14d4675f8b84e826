// Package auth knows who may sign in: accounts with their roles, passwords,
// sessions, and the throttling of sign-in attempts.
//
// Passwords are hashed with Argon2id at 19 MiB, 2 passes, 1 lane, one of the
// settings of OWASP's password storage sheet, so that hashes do not differ by
// machine. Sessions end after 15 minutes without use and after 10 hours in any
// case (trust notes 2.2); the cookie holds a random token of which only the
// SHA-256 is kept.
package auth
