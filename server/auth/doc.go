// Package auth knows who may sign in: accounts with their roles, invitations, passwords,
// second factors, sessions, and the throttling of sign-in attempts.
//
// Passwords follow NIST SP 800-63B-4: 15 characters, or 8 together with a second factor;
// up to 256, normalized to NFKC and counted in code points; common ones refused; nothing
// else demanded of them. They are hashed with Argon2id at 19 MiB, 2 passes, 1 lane, one of
// the settings of OWASP's password storage sheet, so that hashes do not differ by machine.
// Sessions end after 15 minutes without use and after 10 hours in any case (trust notes
// 2.2); the cookie holds a random token of which only the SHA-256 is kept.
//
// What is kept of a second factor must be kept as it is, since codes are computed from
// it: the file mode of the store protects it, and the encryption of back-ups.
package auth
