package intake

import "dunlin/cases"

// For the tests of the published values.
var JaroWinkler = jaroWinkler

func Jaro(a, b string) float64 { return jaro([]rune(a), []rune(b)) }

// Candidate is a case that may be the infant of a referral, and how sure that is.
type Candidate struct {
	Case  cases.Case
	Level string
	Why   string
}

// Match finds the cases of a reader that may be the infant of a referral.
func Match(r cases.Reader, ref *Referral, m *cases.Matching) ([]Candidate, error) {
	f := &finder{r: r, rules: &cases.Protocol{Matching: *m}, known: map[cases.ID]*onFile{}}
	found, err := f.find(ref)
	if err != nil {
		return nil, err
	}
	var out []Candidate
	for _, x := range found {
		lv := levelWords[x.Level]
		if x.Level == doubtful {
			lv = x.Kind
		}
		out = append(out, Candidate{x.Case, lv, x.Why})
	}
	return out, nil
}

// CaseOf is the case that a referral opens.
func CaseOf(ref Referral, today cases.Day) cases.Case {
	return toCase(&Item{Referral: ref}, &Verdict{Outcome: Opened}, 0, today)
}
