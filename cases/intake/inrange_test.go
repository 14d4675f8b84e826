package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases/intake"
)

// TestInRangeSaidOtherwise: what an in-range message says besides its answer brings it
// to a person, also when the plain message came before: it is no duplicate of that.
func TestInRangeSaidOtherwise(t *testing.T) {
	const answer = "LA18592-8^In range^LN"
	const state = "|||N|||F|||20260302063000-0600|||||20260308140000-0500||||Example State Public Health Laboratory"
	for name, x := range map[string][2]string{
		"the other coding":   {answer, answer + "^OOR^Out of range^L"},
		"the original text":  {answer, answer + "^^^^^^Out of range"},
		"the other code":     {answer, answer + "^LA18593-6^^LN"},
		"all but one":        {"LA18592-8^In range^LN|||N|", "LA18592-8^In range for all but cystic fibrosis^LN|||N|"},
		"pending":            {answer + state, answer + state + "\rOBX|77|TX|57707-2^Cystic fibrosis newborn screening comment^LN||Second tier DNA pending||||||F"},
		"a variant in words": {answer + state, answer + state + "\rOBX|77|TX|57707-2^Cystic fibrosis newborn screening comment^LN||Elevated IRT, one CFTR variant F508del||||||F"},
	} {
		b := newBench(t, intake.Settings{})
		eq(t, "plain", outcomes(b.receive("plain", in05(t))), "no-case")
		raw := in05(t, x[0], x[1])
		it := b.receive(name, raw).Items[0]
		if it.Outcome != "review" {
			t.Errorf("%s: %s, %v", name, it.Outcome, it.Reasons)
		}
	}
	for _, quiet := range []string{"F508del was not found", "The panel tests for F508del, G551D and 37 others", "Elevated IRT, no CFTR variant found"} {
		b := newBench(t, intake.Settings{})
		raw := in05(t, answer+state, answer+state+"\rOBX|77|TX|57707-2^Cystic fibrosis newborn screening comment^LN||"+quiet+"||||||F")
		if it := b.receive("quiet", raw).Items[0]; it.Outcome != "no-case" {
			t.Errorf("%s: %s, %s", quiet, it.Outcome, strings.Join(it.Reasons, " "))
		}
	}
}
