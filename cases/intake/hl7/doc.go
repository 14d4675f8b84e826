// Package hl7 reads HL7 version 2 files: newborn-screen results (ORU^R01), alone
// or in batches, with any line ends, with or without MLLP frame bytes, and turns
// each patient result into a neutral intake.Referral.
//
// Positions and tables are those of HL7 version 2.5.1. The reader does not
// validate profiles and never panics: whatever it cannot read becomes a problem
// that names the segment, its occurrence, the field and the component. Splitting
// comes first, and each value is unescaped once, after it has been split.
//
// Sweat-test results are read side by side: place, amount (µL or mg), minutes of
// collection, chloride, state, quantity not sufficient, and the laboratory's own
// interpretation. An order for each side, one order with sub-identifiers, and site,
// amount and value as lines of their own are all read. A sender's own codes are read
// by its table: each with a LOINC code, or with one of "sweat site", "sweat amount",
// "sweat minutes", "sweat interpretation" and "sweat comment", for which no LOINC
// code was found.
package hl7

// Limits: what exceeds them goes to a person instead of being read.
const (
	MaxMessage  = 5 << 20 // bytes in one message
	MaxSegments = 20_000  // segments in one message
	MaxRepeats  = 1_000   // repeats of one field
	MaxMessages = 20_000  // messages in one file
	MaxInfants  = 500     // infants in one message
	MaxFamily   = 100     // people of one family
	MaxSites    = 100     // sites of sweat of one infant
)
