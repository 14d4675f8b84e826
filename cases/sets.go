package cases

import (
	"encoding/json"
	"math/bits"
)

// The small sets of the assessment are bit masks that travel as arrays of words:
// an assessment of many cases then makes little garbage.

func wordsOf(mask uint32, words []string) []string {
	out := make([]string, 0, bits.OnesCount32(mask))
	for i, w := range words {
		if mask&(1<<i) != 0 {
			out = append(out, w)
		}
	}
	return out
}

func jsonWords(mask uint32, words []string) ([]byte, error) {
	b := []byte{'['}
	for i, w := range words {
		if mask&(1<<i) == 0 {
			continue
		}
		if len(b) > 1 {
			b = append(b, ',')
		}
		b = append(b, '"')
		b = append(b, w...)
		b = append(b, '"')
	}
	return append(b, ']'), nil
}

func maskOf(word string, words []string) uint32 {
	for i, w := range words {
		if w == word {
			return 1 << i
		}
	}
	return 0
}

// Waits is what an infant waits for before it can be tested.
type Waits uint32

// The members of Waits.
const (
	WaitAge Waits = 1 << iota
	WaitGestation
	WaitWeight
	WaitHold
)

var waitWords = []string{"age", "gestation", "weight", "hold"}

// Has tells whether all of w are in the set.
func (s Waits) Has(w Waits) bool { return s&w == w }

// Words lists the members.
func (s Waits) Words() []string { return wordsOf(uint32(s), waitWords) }

// MarshalJSON gives an array of words.
func (s Waits) MarshalJSON() ([]byte, error) { return jsonWords(uint32(s), waitWords) }

// ReadinessFlags are remarks that do not block.
type ReadinessFlags uint32

// The members of ReadinessFlags.
const (
	FlagGestationUnknown ReadinessFlags = 1 << iota
)

var readinessWords = []string{"gestation-unknown"}

// Has tells whether all of f are in the set.
func (s ReadinessFlags) Has(f ReadinessFlags) bool { return s&f == f }

// Words lists the members.
func (s ReadinessFlags) Words() []string { return wordsOf(uint32(s), readinessWords) }

// MarshalJSON gives an array of words.
func (s ReadinessFlags) MarshalJSON() ([]byte, error) { return jsonWords(uint32(s), readinessWords) }

// TestFlags are remarks on one sweat test.
type TestFlags uint32

// The members of TestFlags.
const (
	FlagStraddle TestFlags = 1 << iota
	FlagOneArm
	FlagOneArmShort
	FlagCollectionLong
	FlagReaction
	FlagBeforeReady
	FlagDuringHold
	FlagArmsApart
)

var testFlagWords = []string{"straddle", "one-arm", "one-arm-short", "collection-long",
	"reaction", "before-ready", "during-hold", "arms-apart"}

// Has tells whether all of f are in the set.
func (s TestFlags) Has(f TestFlags) bool { return s&f == f }

// Words lists the members.
func (s TestFlags) Words() []string { return wordsOf(uint32(s), testFlagWords) }

// MarshalJSON gives an array of words.
func (s TestFlags) MarshalJSON() ([]byte, error) { return jsonWords(uint32(s), testFlagWords) }

// Supports is the set of determinations that the evidence would support; a named
// person decides.
type Supports uint32

// The members of Supports.
const (
	SupCF Supports = 1 << iota
	SupCRMS
	SupCarrier
	SupNotAffected
	SupDied
	SupMoved
	SupRefused
	SupLost
)

var supportWords = []string{"cf", "crms-cfspid", "carrier", "not-affected", "died", "moved", "refused", "lost"}

// Has tells whether all of m are in the set.
func (s Supports) Has(m Supports) bool { return s&m == m }

// HasWord tells whether a determination, named as in a closure, is in the set.
func (s Supports) HasWord(as string) bool {
	m := maskOf(as, supportWords)
	return m != 0 && uint32(s)&m != 0
}

// Words lists the members.
func (s Supports) Words() []string { return wordsOf(uint32(s), supportWords) }

// MarshalJSON gives an array of words.
func (s Supports) MarshalJSON() ([]byte, error) { return jsonWords(uint32(s), supportWords) }

// Actions are things somebody should do besides the next step.
type Actions uint32

// The members of Actions.
const (
	ActTellPrimary Actions = 1 << iota
	ActReferSpecialist
	ActCallToday
	ActOrderGenotype
	ActConsiderElastase
	ActTellSupervisor
	ActQuantitativeChloride
	ActVerifyValue
	ActConfirmIdentity
	ActOrderPolyT
	ActOfferCounselling
	ActScheduleRetests
	ActReportReaction
	ActReweigh
	ActAgreeClosing
	ActFindAddress
)

var actionWords = []string{"tell-primary-care", "refer-specialist", "call-today", "order-genotype",
	"consider-elastase", "tell-supervisor", "quantitative-chloride", "verify-value", "confirm-identity",
	"order-poly-t", "offer-counselling", "schedule-retests", "report-reaction", "reweigh", "agree-closing", "find-address"}

// Has tells whether all of a are in the set.
func (s Actions) Has(a Actions) bool { return s&a == a }

// Words lists the members.
func (s Actions) Words() []string { return wordsOf(uint32(s), actionWords) }

// MarshalJSON gives an array of words.
func (s Actions) MarshalJSON() ([]byte, error) { return jsonWords(uint32(s), actionWords) }

// ArmsRead holds one or two arms in the order of the document; it travels as an
// array.
type ArmsRead struct {
	N int
	A [2]ArmRead
}

// Slice gives the arms that are there.
func (a *ArmsRead) Slice() []ArmRead { return a.A[:a.N] }

// MarshalJSON gives an array of arms.
func (a ArmsRead) MarshalJSON() ([]byte, error) { return json.Marshal(a.A[:a.N]) }
