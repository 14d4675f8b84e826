package cases

// DataFaultTally counts the kinds of data faults over many cases and keeps some of the
// lines of one kind. Set the fields of the question, then Add each case once.
type DataFaultTally struct {
	Quality *DataQuality
	Alike   map[ID][]Alike // of a case: others that may be about the same infant
	Kind    DataFault      // whose lines are kept
	Skip    int            // lines passed over
	Most    int            // lines kept after them; 0 none, below 0 all

	Cases  int // that count
	Faulty int // of these, with any kind
	Counts [dataFaultCount]int
	Lines  []DataFaultLine
}

// Alike is another case that may be about the same infant, with what both have in common.
type Alike struct{ Reference, Why string }

// DataFaultLine is one case with what is wrong.
type DataFaultLine struct {
	Case      ID
	Reference string
	Referred  Day
	Closed    Day
	Words     []string
	Others    []string // references of the other cases it is about
}

// Of gives the kinds of faults of a case, suspected duplicates included.
func (t *DataFaultTally) Of(m *Milestones) DataFaults {
	s := t.Quality.Faults(m)
	if len(t.Alike) > 0 && t.Quality.Counts(m) && len(t.Alike[m.Case]) > 0 {
		s.set(SuspectDuplicate, true)
	}
	return s
}

// Add counts one case.
func (t *DataFaultTally) Add(m *Milestones) {
	if !t.Quality.Counts(m) {
		return
	}
	t.Cases++
	s := t.Of(m)
	if s == 0 {
		return
	}
	t.Faulty++
	for f := range dataFaultCount {
		if s.Has(f) {
			t.Counts[f]++
		}
	}
	if s.Has(t.Kind) && t.Counts[t.Kind] > t.Skip && (t.Most < 0 || len(t.Lines) < t.Most) {
		t.Lines = append(t.Lines, t.Line(m, t.Kind))
	}
}

// Line says what is wrong with a case, of one kind.
func (t *DataFaultTally) Line(m *Milestones, f DataFault) DataFaultLine {
	l := DataFaultLine{Case: m.Case, Reference: m.Reference, Referred: m.Referred, Closed: m.Closed, Words: t.Quality.Words(m, f)}
	if f == SuspectDuplicate {
		for _, x := range t.Alike[m.Case] {
			l.Words, l.Others = append(l.Words, "May be the same infant as "+x.Reference+". "+x.Why+"."), append(l.Others, x.Reference)
		}
	}
	return l
}
