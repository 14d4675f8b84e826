// Package intake takes a received document (an HL7 file, a line list), keeps its
// bytes for ever, finds the referrals in it, matches them with cases, opens new
// cases, and lists what a person must look at.
//
// Every document gives at least one item and every item has exactly one outcome,
// so the counters of a run always add up to the items that came in. Only a known
// "in range" answer leads to no case; every other value reaches a person or a
// case. What cannot be read is never dropped: it waits in the review list with
// its place (segment and field, or row and column) named.
//
// The rules follow the program's exchange standard page: the answer list LL840-0
// of LOINC for the cystic fibrosis interpretation, and HL7 version 2.5.1 for the
// places in a message. The formats themselves are read by the packages hl7 and
// csvfile, which implement Format.
//
// A mail is taken apart by a MailReader (package mail). The whole mail is a document,
// and each part of it one of its own, with items of its own. Notices of delivery,
// read receipts, automatic replies and real replies are filed with the letter or case
// they are about. Nothing that a mail says of itself in words changes a fact, and no
// mail is ever answered.
package intake
