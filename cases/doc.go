// Package cases holds the domain of newborn-screen follow-up for cystic
// fibrosis: the case document, the program's protocol, and what the two imply on
// a given day (readiness, the reading of sweat tests, the repeat, the next step
// with its due day, clocks, what the evidence supports, letters due).
//
// The package is pure: it does no input or output, reads no clock and keeps no
// state. The next step is derived from recorded facts and never set by hand. It
// does not diagnose: it says what the facts and the protocol imply, and a named
// person decides.
package cases
