package templates

import (
	"strings"
	"testing"
)

const goodHead = "kind: booking\nlanguage: en\nversion: 1\ntitle: T\nstatus: draft\n---\n"

func headOf(kind string) string { return strings.Replace(goodHead, "booking", kind, 1) }

func TestParseLetterTextNamesEveryFaultWithItsLine(t *testing.T) {
	tests := []struct{ name, src, want string }{
		{"unknown field", goodHead + "Dear {infnt},", "x.txt:7: unknown field {infnt}; known: contact, doctor, "},
		{"unknown field in second line of a paragraph", goodHead + "Dear\n{infnt},", "x.txt:8: unknown field {infnt}"},
		{"field of another kind", goodHead + "On {test_day}", `x.txt:7: a letter of the kind "booking" has no field {test_day} (the day of the test`},
		{"unknown condition", goodHead + "?pet - Bring it", `x.txt:7: after the question mark: unknown field {pet}`},
		{"condition of another kind", goodHead + "?chloride - It is high", `x.txt:7: after the question mark: a letter of the kind "booking" has no field {chloride}`},
		{"field that may be missing", goodHead + "Hello\n\nCall {site_phone}.", "x.txt:9: the field {site_phone} may have no value: begin the block with ?site_phone"},
		{"under another condition", goodHead + "?site_note Call {site_phone}.", "x.txt:7: the field {site_phone} may have no value"},
		{"in the block without it", goodHead + "?!site Go to {site}.", "x.txt:7: the field {site} stands in a block that is only there without it"},
		{"hours in another language", strings.Replace(goodHead, "en", "es", 1) + "De {hours}", "x.txt:7: the field {hours} may have no value"},
		{"repeated outside of a list", goodHead + "* a thing", "x.txt:7: a line that begins with * is repeated for each infant of a list"},
		{"row outside of a repeated block", headOf("clinic-day") + "{row_time}", "x.txt:7: the field {row_time} belongs to one infant of the list: begin the block with *"},
		{"row of a case's letter", goodHead + "*- {row_time}", `x.txt:7: a letter of the kind "booking" has no field {row_time}`},
		{"open brace", goodHead + "Dear {infant", "x.txt:7: the brace of {infant is not closed"},
		{"closing brace", goodHead + "Dear infant}", "x.txt:7: a closing brace without its opening one"},
		{"empty mark", goodHead + "Hello\n\n- \n", ""},
		{"no head end", "kind: booking\n", "x.txt:2: the head does not end"},
		{"missing key", "kind: booking\n---\nHello", `x.txt:2: the head has no "language" line`},
		{"unknown key", "colour: red\n" + goodHead + "Hello", "x.txt:1: expected one of kind, language"},
		{"twice", "kind: a\n" + goodHead + "Hello", `x.txt:2: "kind" stands in the head twice`},
		{"unknown kind", headOf("postcard") + "Hello", `x.txt:1: there is no letter of the kind "postcard"; the kinds: first-notice, booking,`},
		{"variant of a kind with one text", "variant: b\n" + goodHead + "Hello", `x.txt:2: the kind "booking" has one text, so it takes no variant`},
		{"missing variant", headOf("repeat-needed") + "Hello", `x.txt:1: the kind "repeat-needed" needs a variant: intermediate, qns, unclear`},
		{"unknown variant", "variant: b\n" + headOf("repeat-needed") + "Hello", `x.txt:2: the kind "repeat-needed" has no variant "b"; it has: intermediate, qns, unclear`},
		{"no text", goodHead, "x.txt:6: the letter has no text"},
		{"bytes", goodHead + "\xff", "x.txt:1: the file is not UTF-8"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ParseLetterText("x.txt", []byte(tt.src))
			if tt.want == "" {
				if err != nil {
					t.Fatalf("err = %v, want none", err)
				}
				return
			}
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Fatalf("err = %v, want %q", err, tt.want)
			}
		})
	}
	_, err := ParseLetterText("x.txt", []byte(goodHead+"{a}\n\n{b}"))
	if err == nil || strings.Count(err.Error(), "unknown field") != 2 {
		t.Errorf("err = %v, want both faults", err)
	}
}

func TestFillNamesTheFieldThatHasNoValue(t *testing.T) {
	text, err := ParseLetterText("x.txt", []byte(goodHead+"Dear {infant},\n\n?site_phone Call {site_phone}.\n\n- {visit_day}\n- {phone}"))
	if err != nil {
		t.Fatal(err)
	}
	_, err = text.Fill(LetterFields{"infant": "Ada {phone}", "visit_day": " "})
	if err == nil {
		t.Fatal("no error for missing values")
	}
	for _, want := range []string{"x.txt:11: the field {visit_day} has no value", "x.txt:12: the field {phone} has no value"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("err = %v, want %q", err, want)
		}
	}
	if _, err = text.Fill(LetterFields{"infant": "Ada", "visit_day": "a\nb", "phone": "1"}); err == nil {
		t.Error("a value of two lines was taken")
	}
	blocks, err := text.Fill(LetterFields{"infant": "Ada {phone}", "visit_day": "Monday", "phone": "555"})
	if err != nil {
		t.Fatal(err)
	}
	// A value is never read for fields again, and the optional paragraph is gone.
	if got, want := Plain(blocks), "Dear Ada {phone},\n\n- Monday\n- 555"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestConditionsMayBeTurnedAndJoined(t *testing.T) {
	src := headOf("missed") + "?next_day ?next_time > {next_day}, {next_time}\n?next_day ?!next_time > {next_day}\n?!next_day > No day yet\nand no line more"
	text, err := ParseLetterText("x.txt", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	for want, f := range map[string]LetterFields{
		"Monday, noon\n\nand no line more": {"next_day": "Monday", "next_time": "noon"},
		"Monday\n\nand no line more":       {"next_day": "Monday"},
		"No day yet\n\nand no line more":   {"next_time": "noon"},
	} {
		blocks, err := text.Fill(f)
		if got := Plain(blocks); err != nil || got != want {
			t.Errorf("%v: %q, %v, want %q", f, got, err, want)
		}
	}
}

func TestRowsRepeatTheirBlocks(t *testing.T) {
	text, err := ParseLetterText("x.txt", []byte(headOf("clinic-day")+"{count}\n\n*! {row_time} {row_infant}\n*?row_care > Heed: {row_care}\n\nEnd"))
	if err != nil {
		t.Fatal(err)
	}
	rows := []LetterFields{{"row_time": "09:30", "row_infant": "A", "row_care": "twin"}, {"row_time": "10:30", "row_infant": "B"}}
	for want, rows := range map[string][]LetterFields{
		"2\n\n09:30 A\n\nHeed: twin\n\n10:30 B\n\nEnd": rows,
		"2\n\nEnd": nil,
	} {
		blocks, err := text.Fill(LetterFields{"count": "2", "row_time": "never"}, rows...)
		if got := Plain(blocks); err != nil || got != want {
			t.Errorf("%q, %v, want %q", got, err, want)
		}
	}
	if _, err := text.Fill(LetterFields{"count": "2"}, LetterFields{"row_time": "09:30"}); err == nil || !strings.Contains(err.Error(), "x.txt:9: the field {row_infant} has no value") {
		t.Errorf("err = %v", err)
	}
}

func FuzzParseLetterText(f *testing.F) {
	set, err := ParseLetters()
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range set.All() {
		src, err := letterFiles.ReadFile("letters/" + text.File)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	f.Add([]byte(goodHead + "?site - {site}"))
	f.Add([]byte(headOf("clinic-day") + "*?row_care ?!fax - {row_care}"))
	f.Fuzz(func(t *testing.T, src []byte) {
		text, err := ParseLetterText("x.txt", src)
		if err != nil {
			return
		}
		// What parses can be filled when every field has a value, and when all that may
		// be missing is.
		values, rows := set.Sample(text)
		if text.Language != "en" {
			values["hours"] = "always"
		}
		if _, err := text.Fill(values, rows...); err != nil {
			t.Errorf("parsed, but cannot be filled: %v", err)
		}
		least, leastRow := LetterFields{}, LetterFields{}
		for _, field := range LetterFieldsOf(text.Kind, text.Language) {
			if !field.Maybe {
				least[field.Name], leastRow[field.Name] = "x", "x"
			}
		}
		if _, err := text.Fill(least, leastRow); err != nil {
			t.Errorf("parsed, but cannot be filled with what every letter has: %v", err)
		}
	})
}
