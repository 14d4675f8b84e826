package csvfile

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/cases/intake"
)

func first(t *testing.T, text string, s intake.Settings) intake.Item {
	t.Helper()
	if !(Format{}).Sniff([]byte(text)) {
		t.Fatal("not recognized as a line list")
	}
	return (Format{}).Read([]byte(text), s).Items[0]
}

func faults(it intake.Item) (out []string) {
	for _, p := range it.Problems {
		if p.Severity == intake.Fault {
			out = append(out, p.String())
		}
	}
	return out
}

func TestDelimitersAndHeadings(t *testing.T) {
	for name, text := range map[string]string{
		"comma":     "Card Number,Last Name,First Name,Date of Birth,Interpretation\n0012,Wren,Ada,2026-03-01,Out of range\n",
		"semicolon": "Card Number;Last Name;First Name;Date of Birth;Interpretation\r\n0012;Wren;Ada;2026-03-01;Out of range\r\n",
		"tab":       "card_no\tsurname\tgiven name\tDOB\tNBS result\r0012\tWren\tAda\t2026-03-01\tOut of range\r",
		"pipe":      "Serial|Surname|Given_Name|Birth Date|CF result\n0012|Wren|Ada|2026-03-01|Out of range",
		"quoted":    "\"Odd, Heading\",\"Card Number\",\"Last Name\",First Name,DOB,Result\n-,\"0012\",\"Wren\",Ada,2026-03-01,Out of range\n",
		"BOM":       "\uFEFFCard Number,Last Name,First Name,DOB,Result\n0012,Wren,Ada,2026-03-01,Out of range\n",
		"title":     "Referrals of the week\n\nCard Number,Last Name,First Name,DOB,Result\n0012,Wren,Ada,2026-03-01,Out of range\n",
		"swapped":   "Result,DOB,First Name,Last Name,Card Number\nOut of range,2026-03-01,Ada,Wren,0012\n",
	} {
		it := first(t, text, intake.Settings{})
		r := it.Referral
		got := fmt.Sprint(r.Card, r.Infant.Family, r.Infant.Given, r.Infant.Born.Day, r.Interpretation)
		if want := fmt.Sprint("0012", "Wren", "Ada", cases.MakeDay(2026, 3, 1), r.Interpretation); got != want || r.Interpretation[0].Text != "Out of range" || len(it.Problems) > 0 {
			t.Errorf("%s: %s %v", name, got, it.Problems)
		}
	}
}

func TestCounty(t *testing.T) {
	for _, head := range []string{"County", "county_of_residence", "Parish"} {
		r := first(t, "Card Number,Last Name,DOB,Result,Address,City,Zip,"+head+"\n0012,Wren,2026-03-01,Out of range,1 Way,Alder Bay,00012,Tern Valley\n", intake.Settings{}).Referral
		if a := r.Home.Address; a == nil || a.County != "Tern Valley" || a.City != "Alder Bay" {
			t.Errorf("%s: %+v", head, a)
		}
	}
}

func TestDates(t *testing.T) {
	for _, c := range []struct{ text, none, dm, md string }{
		{"2026-03-04", "2026-03-04", "2026-03-04", "2026-03-04"},
		{"20260304", "2026-03-04", "2026-03-04", "2026-03-04"},
		{"2026-03-04T23:55:00", "2026-03-04", "2026-03-04", "2026-03-04"},
		{"04/03/2026", "", "2026-03-04", "2026-04-03"},
		{"4.3.2026", "", "2026-03-04", "2026-04-03"},
		{"25/03/2026", "2026-03-25", "2026-03-25", ""},
		{"03/25/2026", "2026-03-25", "", "2026-03-25"},
		{"03/03/2026", "2026-03-03", "2026-03-03", "2026-03-03"},
		{"3/4/26", "", "2026-04-03", "2026-03-04"},
		{"5 Mar 2026", "2026-03-05", "2026-03-05", "2026-03-05"},
		{"Mar 5, 2026", "2026-03-05", "2026-03-05", "2026-03-05"},
		{"05-March-2026", "2026-03-05", "2026-03-05", "2026-03-05"},
		{"2026-02-30", "", "", ""},
		{"46082", "", "", ""},
		{"tomorrow", "", "", ""},
	} {
		for order, want := range map[intake.DateOrder]string{"": c.none, intake.DayMonth: c.dm, intake.MonthDay: c.md} {
			day, _, why := readDate(c.text, order)
			if day.String() != want || (want == "") != (why != "") {
				t.Errorf("%s with order %q: %s %s, want %q", c.text, order, day, why, want)
			}
		}
	}
}

func TestSettingsOfASender(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "c02-line-list-utf8-bom-semicolon.csv"))
	if err != nil {
		t.Fatal(err)
	}
	it := first(t, string(raw), intake.Settings{DateOrder: intake.DayMonth, CommaDecimals: true})
	if it.Referral.Infant.Born.Day != cases.MakeDay(2026, 3, 4) || *it.Referral.IRT[0].Value != 88 || len(it.Problems) > 0 {
		t.Errorf("%+v %v", it.Referral.Infant.Born, it.Problems)
	}
}

const head = "card_serial,infant_last,infant_first,dob,irt_ng_ml,nbs_interpretation,birth_weight_g,gest_age_wk,guardian_phone\n"

func TestDamagedRows(t *testing.T) {
	for _, c := range []struct {
		row, says string
		fault     bool
	}{
		{"1.2E+11,Wren,Ada,2026-03-01,80,out of range,3100,39,1", "row 2, card_serial: The number was changed by a spreadsheet", true},
		{"123e5,Wren,Ada,2026-03-01,80,out of range,3100,39,1", "scientific notation", true},
		{"'0012,Wren,Ada,2026-03-01,80,out of range,3100,39,1", "", false},
		{"0012,=cmd(),Ada,2026-03-01,80,out of range,3100,39,1", "row 2, infant_last: The cell begins like a formula", true},
		{"0012,Wren,Ada,2026-03-01,80,out of range,3100", "7 values where the heading has 9", true},
		{"0012,Wren,Ada,2026-03-01,80,out of range,3100,39,1,x", "10 values where the heading has 9", true},
		{"0012,Wren,Ada,2026-03-01,80,out of range,3100,39,1,,", "", false},
		{"0012,\"Wren,Ada,2026-03-01,80,out of range,3100,39,1", "quotation mark", true},
		{"0012,Wren,Ada,2026-03-01,\"88,0\",out of range,3100,39,1", "row 2, irt_ng_ml: The IRT has a comma", false},
		{"0012,Wren,Ada,2026-03-01,>250,out of range,3.1,39,1", "row 2, birth_weight_g: The birth weight looks like kilograms", false},
		{"0012,Wren,Ada,2026-03-01,80,out of range,3100,39.4,1", "row 2, gest_age_wk: The gestation has a decimal", false},
		{"0012,Wren,Ada,2026-03-01,80,out of range,3100,39 wks,1", "", false},
		{"0012,Wren,Ada,2026-03-01,80,out of range,3100,39w4d,+1 555 555 0101", "", false},
	} {
		it := first(t, head+c.row+"\n", intake.Settings{})
		var all []string
		for _, p := range it.Problems {
			all = append(all, p.String())
		}
		if text := strings.Join(all, "\n"); !strings.Contains(text, c.says) || c.says == "" && text != "" || (len(faults(it)) > 0) != c.fault {
			t.Errorf("%s\n%s", c.row, text)
		}
	}
}

// TestRowsAreIndependent: an unclosed quotation mark does not take the rows after it.
func TestRowsAreIndependent(t *testing.T) {
	text := head + "1,\"Open,A,2026-03-01,80,out of range,3100,39,1\n2,Next,B,2026-03-02,80,out of range,3100,39,1\n,,,,,,,,\n3,\"Two\nlines\",C,2026-03-03,80,in range,3100,39,1\n4,Last,D,2026-03-04,80,in range,3100,39,1"
	r := (Format{}).Read([]byte(text), intake.Settings{})
	var got []string
	for _, it := range r.Items {
		got = append(got, it.Label+" "+it.Referral.Card)
	}
	if want := []string{"row 2 1", "row 3 2", "row 5 3", "row 7 4"}; !slices.Equal(got, want) || r.Blank != 1 {
		t.Errorf("%q, %d blank", got, r.Blank)
	}
}

func TestNotALineList(t *testing.T) {
	for _, text := range []string{"", "hello", "a,b,c\n1,2,3\n", "Dear team,\nplease see the list, dob and result\n", "%PDF-1.7\n"} {
		if (Format{}).Sniff([]byte(text)) {
			t.Errorf("%q was taken for a line list", text)
		}
		if r := (Format{}).Read([]byte(text), intake.Settings{}); len(r.Items) != 1 || len(faults(r.Items[0])) != 1 {
			t.Errorf("%q: %d items", text, len(r.Items))
		}
	}
	if r := (Format{}).Read([]byte(head), intake.Settings{}); len(r.Items) != 1 || len(faults(r.Items[0])) != 1 {
		t.Errorf("a heading alone: %+v", r.Items)
	}
}

// TestCellsComeBack: whatever is written in quoted cells is read again.
func TestCellsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		comma := rapid.SampledFrom([]byte{',', ';', '\t', '|'}).Draw(t, "comma")
		ending := rapid.SampledFrom([]string{"\n", "\r\n", "\r"}).Draw(t, "ending")
		cell := rapid.StringOfN(rapid.SampledFrom([]rune("ab\",;|\t\n é=")), 0, 8, -1)
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 1, 5), 1, 5).Draw(t, "rows")
		var b strings.Builder
		for _, r := range rows {
			for i, c := range r {
				if i > 0 {
					b.WriteByte(comma)
				}
				b.WriteString(`"` + strings.ReplaceAll(c, `"`, `""`) + `"`)
			}
			b.WriteString(ending)
		}
		got := split(b.String(), comma)
		if len(got) != len(rows) {
			t.Fatalf("%d rows, want %d", len(got), len(rows))
		}
		for i := range rows {
			if !slices.Equal(got[i].cells, rows[i]) {
				t.Fatalf("row %d: %q, want %q", i, got[i].cells, rows[i])
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	files, _ := filepath.Glob(filepath.Join("testdata", "*.csv"))
	if len(files) < 4 {
		f.Fatal("seeds are missing")
	}
	for _, name := range files {
		raw, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	f.Add([]byte(head + "\"\n\"\""))
	f.Fuzz(func(t *testing.T, raw []byte) {
		f := Format{}
		f.Sniff(raw)
		for _, s := range []intake.Settings{{}, {DateOrder: intake.MonthDay, CommaDecimals: true}} {
			r := f.Read(raw, s)
			if len(r.Items) == 0 {
				t.Fatal("no item")
			}
			for i := range r.Items {
				if v := intake.Decide(&r.Items[i], s); v.Outcome == "" {
					t.Fatal("an item without an outcome")
				} else if v.Outcome == intake.Review && len(v.Reasons) == 0 {
					t.Fatalf("a review item without a reason: %+v", r.Items[i])
				}
			}
		}
	})
}

// TestHostileSizes: a file of quotation marks that are never closed ends soon.
func TestHostileSizes(t *testing.T) {
	r := (Format{}).Read([]byte(head+strings.Repeat("\"\n", 1<<17)), intake.Settings{})
	if n := len(r.Items); n == 0 || n > maxRows+1 {
		t.Errorf("%d items", n)
	}
}
