package templates

// RepeatPart says of a repeat why, when and which it is, and what to consider besides
// or instead. A person decides.
type RepeatPart struct {
	Head     string // "Repeat test"
	Cause    string // "QNS on 14 Feb 2026."
	Window   string // "Between 2 Mar 2026 and 17 Apr 2026, due 16 Mar 2026."
	State    Tag
	Count    string // "Test 3."
	Consider string // "2 tests gave no result. Consider, besides or instead of one more:"
	Instead  []string
}

// WeighRow is an infant of whom a new weight is wanted.
type WeighRow struct {
	Who
	Weight, Measured string // "1.74 kg", "measured 16 Feb 2026"
	Expected         string // "2.00 kg about 12 Mar 2026 (10 Mar 2026 to 15 Mar 2026)"; empty without a projection
	Basis            string // "from its own gain of 24 g a day"
	Booked           string
	By               Date
	State            Tag
	Href             string
}

// RetestRow is an infant closed as CRMS/CFSPID that is to be tested again.
type RetestRow struct {
	Who
	On     Date // the day to look again
	State  Tag
	Last   string // "Intermediate on 14 Feb 2026"
	Booked string
	Next   string // the day of the protocol after this one, in words
	Series []RetestMark
	Href   string // where it is booked; empty when it is
}

// RetestPart is the series of re-tests of one infant that is followed as CRMS/CFSPID.
type RetestPart struct {
	Due    Date
	State  Tag
	Next   string
	Series []RetestMark
	Book   Link // empty when nothing is to be booked now
}

// RetestMark is one day of the series of re-tests.
type RetestMark struct {
	Age   string // "6 months"
	On    Date
	State Tag
}
