package intake

import (
	"encoding/csv"
	"os"
	"slices"
	"strings"
	"testing"
)

// TestSpellings reads every spelling of the table of the exchange page; the column
// where_seen of the file names the published source of each.
func TestSpellings(t *testing.T) {
	f, err := os.Open("testdata/cftr-spellings.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 50 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		text, legacy := row[0], row[1]
		g := ReadVariants([]VariantText{{Text: text, Code: "c", Sub: "1"}}, nil)
		var want []string
		implied := false
		switch {
		case legacy == "no variant":
		case legacy == "unlisted":
			want = []string{text}
		case strings.HasSuffix(legacy, " x2"):
			want = []string{"F508del", "F508del"}
			if strings.HasPrefix(text, "homozygous") {
				want, implied = want[:1], true // not both named
			}
		case legacy == "R117H + 7T/9T":
			want = []string{"R117H", "7T", "9T"}
		case strings.HasSuffix(legacy, " + none"):
			want = []string{strings.TrimSuffix(legacy, " + none")}
		default:
			want = strings.Split(legacy, " + ")
		}
		if !slices.Equal(g.Names, want) || !g.Reported || (g.Implied != "") != implied {
			t.Errorf("%q: %q reported %v implied %q, want %q (implied %v)", text, g.Names, g.Reported, g.Implied, want, implied)
		}
	}
}

// TestVariantTexts: texts beyond the table. Zygosity and phase are never inferred
// from punctuation, and a word that means two alleles goes to a person.
func TestVariantTexts(t *testing.T) {
	for _, c := range []struct {
		texts    []string
		comments []string
		names    string
		reported bool
		implied  bool
	}{
		{texts: []string{"F508del (c.1521_1523delCTT, p.Phe508del)", "G551D (c.1652G>A)"}, names: "F508del G551D", reported: true},
		{texts: []string{"F508del (c.1652G>A)"}, names: "F508del (c.1652G>A)", reported: true},
		{texts: []string{"F508del; R117H;5T"}, names: "F508del R117H;5T", reported: true},
		{texts: []string{"F508del;R117H;5T"}, names: "F508del R117H;5T", reported: true},
		{texts: []string{"F508del, heterozygous"}, names: "F508del", reported: true},
		{texts: []string{"One copy of F508del detected"}, names: "F508del", reported: true},
		{texts: []string{"F508del (homozygous)"}, names: "F508del", reported: true, implied: true},
		{texts: []string{"HOMOZYGOUS FOR F508DEL"}, names: "F508del", reported: true, implied: true},
		{texts: []string{"F508del x2"}, names: "F508del", reported: true, implied: true},
		{texts: []string{"two copies of F508del"}, names: "F508del", reported: true, implied: true},
		{texts: []string{"F508del/F508del"}, names: "F508del F508del", reported: true},
		{texts: []string{"F508del/F508del (homozygous)"}, names: "F508del F508del", reported: true},
		{texts: []string{"compound heterozygous F508del/G551D"}, names: "F508del G551D", reported: true},
		{texts: []string{"compound heterozygous F508del"}, names: "F508del", reported: true, implied: true},
		{texts: []string{"Two variants detected"}, names: "", reported: true, implied: true},
		{texts: []string{"F508del", "F508del"}, names: "F508del F508del", reported: true},
		{texts: []string{"F508del not detected"}, reported: true},
		{texts: []string{"F508del, no second variant found"}, names: "F508del", reported: true},
		{texts: []string{"WT/F508del"}, names: "F508del", reported: true},
		{texts: []string{"No CFTR variants detected"}, reported: true},
		{texts: []string{"Pending"}},
		{texts: []string{"Not tested"}},
		{texts: []string{"see report"}},
		{texts: []string{"c.3705T>G"}, names: "c.3705T>G", reported: true},
		{texts: []string{"F508del"}, comments: []string{"Infant is homozygous for F508del."}, names: "F508del", reported: true, implied: true},
		{texts: []string{"F508del"}, comments: []string{"Two CFTR variants found. Refer."}, names: "F508del", reported: true, implied: true},
		{texts: []string{"F508del"}, comments: []string{"Infants with two CFTR variants are referred at once."}, names: "F508del", reported: true},
		{texts: []string{"F508del"}, comments: []string{"A second variant was not found; two variants would mean CF if confirmed."}, names: "F508del", reported: true},
		{texts: []string{"F508del", "G551D"}, comments: []string{"Two CFTR variants found."}, names: "F508del G551D", reported: true},
		{comments: []string{"IRT raised, no CFTR variant found."}},
		{comments: []string{"Two CFTR variants identified."}, implied: true},
	} {
		var vs []VariantText
		for i, s := range c.texts {
			vs = append(vs, VariantText{Text: s, Code: "c", Sub: string(rune('1' + i))})
		}
		g := ReadVariants(vs, c.comments)
		if strings.Join(g.Names, " ") != c.names || g.Reported != c.reported || (g.Implied != "") != c.implied {
			t.Errorf("%q %q: %q reported %v implied %q", c.texts, c.comments, g.Names, g.Reported, g.Implied)
		}
	}
	two := ReadVariants([]VariantText{{Text: "F508del", Code: "21654-9"}, {Text: "F508del", Code: "78382-9"}}, nil)
	if len(two.Names) != 1 {
		t.Errorf("two tests of one variant count %q", two.Names)
	}
}
