// Package mailbox polls a folder of an IMAP server (RFC 3501) and hands each
// message, as raw bytes, to intake. Every poll is a fresh connection under a limit
// of time and of bytes, so that a server which falls silent, drips or floods costs
// one poll and nothing else.
//
// A message is dealt with once. What counts is the program's own record, by the
// validity of the folder's numbers and the message's number (cases.MailEntry), and
// behind it the hash of the bytes, which makes a second delivery a no-op; flags and
// order on the server do not count, because people read the mailbox too. The bytes
// are stored first, then the record is written, then the message is marked as seen,
// then it is moved where the server has MOVE (RFC 6851) and the folder exists.
// Nothing is ever deleted: a guard on the connection lets no command through that
// could.
//
// A message that is too large, or cannot be fetched three times, becomes a document
// of its own that tells a person so.
//
// The IMAP library reads without limits of its own, takes a connection cut inside a
// message for its end, and replaces a missing MOVE by a copy that can lose the
// message. It is therefore used for few commands (LOGIN, LIST, SELECT, UID SEARCH,
// UID FETCH of sizes and raw bodies, UID STORE, UID MOVE), and only in this package.
package mailbox
