// Package mail takes mails apart for the intake: headings (RFC 5322, RFC 2047,
// RFC 2231), nested parts (RFC 2045, RFC 2046), delivery notices (RFC 3464), read
// receipts (RFC 8098) and automatic replies (RFC 3834).
//
// The bytes of every part are given before any change of character set, because a
// wrong declaration would spoil names without an error. Nothing is unpacked,
// rendered or fetched: of HTML only the text is taken, and archives, pictures and
// encrypted parts are handed on as they are. Size, number and depth of parts and
// the length of headings are limited; what lies beyond a limit, or is broken, is
// named and never dropped silently.
package mail
