package intake_test

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"

	"dunlin/cases/intake"
)

// oneInterpretation is d01 without variants and two-variant words, with another
// interpretation; cf says whether cystic fibrosis is among the positive conditions.
func oneInterpretation(t testing.TB, answer string, cf bool, pairs ...string) []byte {
	pairs = append([]string{"LA25817-0^Out of range requiring immediate referral^LN", answer, "Two CFTR variants found. ", "",
		"21654-9^CFTR gene mutations found [Identifier] in Blood or Tissue by Molecular genetics method Nominal^LN|1|F508del (c.1521_1523delCTT, p.Phe508del)", "57721-3^Reason for lab test in Dried blood spot^LN|1|LA12421-6",
		"21654-9^CFTR gene mutations found [Identifier] in Blood or Tissue by Molecular genetics method Nominal^LN|2|G551D (c.1652G>A)", "57721-3^Reason for lab test in Dried blood spot^LN|2|LA12421-6"}, pairs...)
	if !cf {
		pairs = append(pairs, "LA22202-8^Cystic fibrosis^LN", "LA137-2^None^LN",
			"Cystic fibrosis: out of range", "Cystic fibrosis: in range", "Refer for sweat chloride testing.", "No further testing.")
	}
	return d01(t, pairs...)
}

// TestEveryAnswer: each answer of the table of the exchange page (LL840-0, seen on
// loinc.org) leads to what the table suggests.
func TestEveryAnswer(t *testing.T) {
	f, err := os.Open("testdata/answers.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, row := range rows[1:] {
		if row[0] != "46769-6" {
			continue
		}
		n++
		code, text, handling := row[2], row[3], row[4]
		want := "review"
		switch {
		case strings.HasPrefix(handling, "no case"):
			want = "no-case"
		case strings.HasPrefix(handling, "open case or"): // awaits the repeat card unless the program says otherwise
		case strings.HasPrefix(handling, "open case"):
			want = "opened"
		}
		raw := oneInterpretation(t, code+"^"+text+"^LN", want == "opened")
		eq(t, code+" "+text, outcomes(newBench(t, intake.Settings{}).receive(code, raw)), want)
		if code == "LA12430-7" {
			eq(t, code+" by the program's setting", outcomes(newBench(t, intake.Settings{OpenOnRepeatCard: true}).receive(code, raw)), "opened")
		}
	}
	if n != 13 {
		t.Errorf("%d answers", n)
	}
}

// TestDecisions: the findings of the exchange page that change the design.
func TestDecisions(t *testing.T) {
	const in, out = "LA18592-8^In range^LN", "LA18593-6^Out of range^LN"
	cf := "OBX|4|CWE|46769-6^Cystic fibrosis newborn screen interpretation^LN||"
	for _, c := range []struct {
		name string
		raw  []byte
		want string
		says string
		top  bool
	}{
		{"overall out of range, CF in range", oneInterpretation(t, in, false), "no-case", "flag", false},
		{"CF among the positive conditions, in range", oneInterpretation(t, in, true), "review", "among the positive", false},
		{"flag says normal, answer out of range", oneInterpretation(t, out+"|||N|||F|||9", true, "|||9|||A|||F", "|||"), "opened", "flag", false},
		{"no interpretation, CF positive", oneInterpretation(t, "", true, cf, "OBX|4|CWE|57721-3^Reason^LN||"), "opened", "No cystic fibrosis interpretation", false},
		{"no interpretation, only overall", oneInterpretation(t, "", false, cf, "OBX|4|CWE|57721-3^Reason^LN||"), "review", "overall result alone", false},
		{"no interpretation, only tested for", oneInterpretation(t, "", false, cf, "OBX|4|CWE|57719-7^Tested^LN||LA22202-8^Cystic fibrosis^LN~"), "review", "overall result alone", false},
		{"no interpretation, CF equivocal", oneInterpretation(t, "", true, cf, "OBX|4|CWE|57721-3^Reason^LN||", "57131-5^", "57720-5^"), "review", "equivocal", false},
		{"answer code mistyped", oneInterpretation(t, "LA18593-7^Out of range^LN", true), "review", "LA18593-6", false},
		{"answer code not known", oneInterpretation(t, "LA99999-9^Something^LN", true), "review", "not one that is known", false},
		{"local code first, LOINC second", oneInterpretation(t, "AB^Abnormal^L^LA18593-6^Out of range^LN", true), "opened", "", false},
		{"local code in range, LOINC second", oneInterpretation(t, "N^Normal^L^LA18592-8^In range^LN", false), "no-case", "", false},
		{"in range only in words", oneInterpretation(t, "^In range", false), "review", "only in words", false},
		{"out of range only in words", oneInterpretation(t, "^Out of range", true), "opened", "", false},
		{"in range, local text says abnormal", oneInterpretation(t, "LA18592-8^In range^LN^A^Abnormal^L", false), "review", "Abnormal", false},
		{"in range, specimen poor", oneInterpretation(t, in, false, "LA12432-3^Acceptable^LN", "LA20627-8^Specimen has uneven saturation^LN"), "review", "not acceptable", false},
		{"in range, a variant named", d01(t, "LA25817-0^Out of range requiring immediate referral^LN", in, "LA22202-8^Cystic fibrosis^LN", "LA137-2^None^LN"), "review", "variant is named", true},
		{"in range and out of range", oneInterpretation(t, in+"~"+out, true), "review", "disagree", false},
		{"unknown result beside out of range", oneInterpretation(t, out, true, "OBX|5|TX|57707-2^Cystic fibrosis newborn screening comment/discussion^LN", "OBX|5|ST|99717-3^Local CFTR^L"), "opened", "not known", false},
		{"in range with meconium ileus", oneInterpretation(t, in, false, "LA137-2^None^LN||||||F|||20260302063000-0600|||||20260308140000-0500||||Example State Public Health Laboratory\rOBX|7", "LA1-1^Meconium ileus^L||||||F|||20260302063000-0600|||||20260308140000-0500||||Example State Public Health Laboratory\rOBX|7"), "review", "falsely low", false},
		{"wrong patient", oneInterpretation(t, out+"||||||W|||9", true), "review", "another patient", false},
		{"cannot be obtained", oneInterpretation(t, out+"||||||X|||9", true), "review", "no result", false},
		{"homozygous in the variant", d01(t, "F508del (c.1521_1523delCTT, p.Phe508del)", "F508del homozygous", "G551D (c.1652G>A)", "none"), "review", "homozygous", true},
		{"two variants said, one named", d01(t, "G551D (c.1652G>A)", "none detected"), "review", "two alleles", true},
		{"two alleles under an unknown code", oneInterpretation(t, out, true, "OBX|5|TX|57707-2^Cystic fibrosis newborn screening comment/discussion^LN||IRT raised. Refer for sweat chloride testing.", "OBX|5|ST|CFTRX^CFTR second tier^L||F508del/W1282X"), "review", "unknown code", true},
		{"birth date missing", d01(t, "20260301041500-0600", ""), "review", "birth date is missing", true},
		{"birth in the future", d01(t, "20260301041500-0600", "20270301041500-0600"), "review", "PID[1]-7: The birth date 2027-03-01 lies in the future", true},
		{"born years ago", d01(t, "20260301041500-0600", "19860301"), "review", "PID[1]-7", true},
		{"birth by month only", d01(t, "20260301041500-0600", "202603"), "review", "gives no day", true},
		{"birth in words", d01(t, "20260301041500-0600", "March 1 2026"), "review", "not a date", true},
		{"time of birth impossible", d01(t, "20260301041500-0600", "20260301251500-0600"), "opened", "time of birth", false},
		{"weight in kg", d01(t, "||3120|g^gram^UCUM", "||3.12|g^gram^UCUM"), "opened", "looks like kilograms", false},
		{"weight with the unit kg", d01(t, "||3120|g^gram^UCUM", "||3.12|kg^kilogram^UCUM"), "opened", "", false},
		{"gestation of 52 weeks", d01(t, "||39|wk", "||52|wk"), "opened", "OBX[10]-5", false},
		{"cut in the last result", []byte(strings.TrimSuffix(strings.SplitAfter(string(d01(t)), "46769-6^Cystic")[0], "")), "review", "cut off", true},
		{"an order cut off", []byte(strings.Split(string(d01(t)), "OBX|1|NM|48633-2")[0]), "review", "cut off", false},
		{"another event", d01(t, "ORU^R01^ORU_R01", "ORU^R30^ORU_R30"), "review", "R30", true}, // it holds a result about cystic fibrosis
		{"character set not read here", d01(t, "|AL|AL|||||", "|AL|AL||GB 18030-2000|||", "^BABYGIRL^", "^\xc4\xe3^"), "review", "MSH-18", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newBench(t, intake.Settings{}).receive(c.name, c.raw)
			eq(t, "outcome", outcomes(r), c.want)
			eq(t, "top", r.Items[0].Top, c.top)
			if !strings.Contains(reasons(r), c.says) {
				t.Errorf("nothing says %q", c.says)
			}
			if t.Failed() {
				t.Log(reasons(r))
			}
		})
	}
}
