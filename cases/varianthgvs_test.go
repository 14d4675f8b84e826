package cases_test

import (
	"testing"

	"dunlin/cases"
)

// TestVariantHGVS: names as in J Mol Diagn 2007;9:1-6, table 1, and ClinVar; nothing is
// guessed for a name that the table does not hold whole.
func TestVariantHGVS(t *testing.T) {
	for name, want := range map[string]string{
		"F508del": "NM_000492.4:c.1521_1523del", "ΔF508": "NM_000492.4:c.1521_1523del", "G551D": "NM_000492.4:c.1652G>A", "621+1 G->T": "NM_000492.4:c.489+1G>T",
		"1078delT": "NM_000492.4:c.948delT", "5T": "", "R117H;5T": "", "7T": "", "F508del/G551D": "", "c.1234A>G": "", "": "", "F508": "",
	} {
		if got := cases.VariantHGVS(name); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}
