package daysheet

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"dunlin/reminders/paper"
	"dunlin/templates"
)

var day = time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)

// sheet is a day sheet of so many infants, the first of them with all that can be said.
func sheet(n int) *templates.DaySheet {
	s := &templates.DaySheet{
		Title: "Day sheet: Monday 9 March 2026, 13:00 to 15:15",
		Where: "Alder Bay CF Clinic, 2 Curlew Street, Alder Bay, 555-0150. Room 4. Collector: microbore tubing.",
		Count: templates.Count(n, "infant", "infants"), Made: "Printed 5 Mar 2026, 08:52, by Dagny Achterberg", None: "Nobody is booked.",
		Care: []string{
			"Local protocol and licensed practice come first. This sheet decides nothing: a named person does.",
			"Ask the parent for full name and birth date. Twins: one infant in the room at a time; label before you leave the cot.",
			"Weigh the infant today. A projected weight is an estimate and makes nobody ready.",
			"Inner forearm, left and right, one limb at a time. Sound, clean skin; never over a cut, a rash or a burn.",
			"Both electrodes on the same limb, never on bare skin, the current never across the chest. None in an oxygen-rich enclosure. Stop if the infant is in pain.",
			"Induction about 5 minutes (common practice). Collect for 30 minutes, no longer; least amount 15 µL for each arm in 30 minutes. Never pool arms.",
			"Keep the infant warm and fed. Look at the skin before and after: a blister or burn is written down, seen by a clinician the same day, and reported.",
			"Poor feeding, vomiting, listlessness or wheeze: medical care today, whatever becomes of the test.",
		},
		Enter: "Enter each test under Schedule, Record test, from this session's list.", Keep: "Health information: keep locked, shred after entry.",
	}
	for i := range n {
		k := templates.SheetInfant{Time: fmt.Sprintf("13:%02d", i*2), Name: fmt.Sprintf("OYELARAN-%d, Tobias", i), Born: "21 Jan 2026", Age: "47 days that day", Corrected: "corrected 43 weeks",
			Reference: fmt.Sprintf("AB-2026-%04d", i+112), Why: "Repeat, attempt 2: QNS on 14 Feb 2026", Weight: "Last weighed 3.59 kg on 4 Mar 2026", Projected: "About 3.71 kg that day: estimate, weigh on the day",
			Postpone: []string{"unwell", "dehydrated, or feeding badly", "swollen", "on steroids", "eczema or sore skin at the site", "on oxygen", "implanted device", "seizures", "cream on the skin"},
			Checks:   []string{"skin sound", "no cream", "inner forearm", "one limb at a time", "current never across the chest", "no electrode on bare skin"}, Unit: "µL"}
		if i == 0 {
			k.Twin, k.Interpreter = "Twin A of 2", "Interpreter needed: Spanish"
			k.Stop = []string{"last weighed 1920 g on Wed 4 Mar 2026, 2000 g are needed; weigh again"}
			k.Override = "Booked all the same by decision of Dr. Sanna Ferrante-Wells: two variants."
			k.Holds = []string{"steroids, since 1 Mar 2026 (answer of the doctor awaited)"}
			k.Unit = "µL or mg"
		}
		s.Infants = append(s.Infants, k)
	}
	return s
}

// read gives the text of each page of the PDF.
func read(t *testing.T, s *templates.DaySheet) (pages []string) {
	t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("DUNLIN_CI") != "" {
			t.Fatal("pdftotext is missing")
		}
		t.Skip("pdftotext is missing")
	}
	var buf bytes.Buffer
	if err := Write(&buf, s, day); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, buf.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-enc", "UTF-8", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
}

// Three infants take one page (ux.md, print). Everything said on the page is in the text
// of the PDF, in the same order.
func TestThreeInfantsOnOnePage(t *testing.T) {
	s := sheet(3)
	s.Infants[0] = s.Infants[1]
	s.Infants[2].Twin = "Twin B of 2"
	pages := read(t, s)
	if len(pages) != 1 {
		t.Errorf("%d pages", len(pages))
	}
	text := strings.Join(strings.Fields(pages[0]), " ")
	at := 0
	for _, want := range []string{s.Title, "Room 4.", "3 infants.", s.Made, "Before and during", s.Care[0], s.Care[7], "OYELARAN-1, Tobias", "AB-2026-0113", "attempt 2: QNS on 14 Feb 2026",
		"weigh on the day", "Name and birth date said by the parent", "Weight today, kg", "implanted device", "no electrode on bare skin", "Induction began", "Amount, µL", "Left", "Right", "Not done today", "Collected by", "OYELARAN-2, Tobias", s.Enter, "Signed", "Page 1 of 1", s.Keep} {
		i := strings.Index(text[at:], want)
		if i < 0 {
			t.Fatalf("%q is missing, or out of order, in %s", want, text)
		}
		at += i
	}
}

// A long session goes on over pages, each with its number and how many there are; no
// box is parted, and what speaks against an infant is said.
func TestALongSession(t *testing.T) {
	s := sheet(12)
	pages := read(t, s)
	if len(pages) < 3 {
		t.Errorf("%d pages", len(pages))
	}
	for i, p := range pages {
		text := strings.Join(strings.Fields(p), " ")
		if !strings.Contains(text, fmt.Sprintf("Page %d of %d", i+1, len(pages))) || !strings.Contains(text, s.Title) {
			t.Errorf("page %d has no number or head: %s", i+1, text)
		}
		if names, arms := len(regexp.MustCompile(`OYELARAN-\d+`).FindAllString(text, -1)), strings.Count(text, "Not done today"); names != arms {
			t.Errorf("page %d: a box is parted: %d names, %d ends", i+1, names, arms)
		}
	}
	first := strings.Join(strings.Fields(pages[0]), " ")
	for _, want := range []string{"[Twin A of 2]", "Interpreter needed: Spanish.", "Not ready as far as is known: last weighed 1920 g", "Dr. Sanna Ferrante-Wells", "On hold: steroids, since 1 Mar 2026", "Amount, µL or mg"} {
		if !strings.Contains(first, want) {
			t.Errorf("no %q on the first page", want)
		}
	}
}

// A name that the font cannot set is never shown as if it were readable.
func TestNameThatCannotBeSet(t *testing.T) {
	s := sheet(1)
	s.Infants[0].Name = "王, 小明"
	if text := strings.Join(strings.Fields(read(t, s)[0]), " "); !strings.Contains(text, "write the name here by hand") {
		t.Errorf("nothing warns: %s", text)
	}
	if unreadable("NGUYỄN, Đức") != "" || unreadable("IBARRA SOLÍS, Lucía") != "" {
		t.Error("a name that can be set is called unreadable")
	}
}

// Nothing of an infant's box reaches over its edge or the sheet's.
func TestNothingRunsOverTheEdge(t *testing.T) {
	s := sheet(2)
	s.Infants[0].Name = strings.Repeat("LONGNAME-", 6) + "X, " + strings.Repeat("Longer", 6)
	s.Infants[0].Holds = []string{strings.Repeat("a long note of the doctor ", 12)}
	for _, p := range sheets(s) {
		for _, x := range p.Texts {
			if end := x.X + paper.Width(x.Text, x.Style); end > paper.USLetter.Width-margin+0.5 || x.Y > paper.USLetter.Height-20 {
				t.Errorf("%q ends at %.0f, %.0f", x.Text, end, x.Y)
			}
		}
	}
}

// The same day gives the same bytes, and an empty one is a sheet all the same.
func TestSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	if err := Write(&a, sheet(4), day); err != nil {
		t.Fatal(err)
	}
	if err := Write(&b, sheet(4), day); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Errorf("the same sheet gives other bytes, %v", err)
	}
	empty := sheet(0)
	empty.Warning = "This session does not take place: Cancelled."
	if text := strings.Join(read(t, empty), " "); !strings.Contains(text, empty.None) || !strings.Contains(text, empty.Warning) {
		t.Errorf("empty: %s", text)
	}
}

func BenchmarkWrite(b *testing.B) {
	s := sheet(12)
	for b.Loop() {
		var buf bytes.Buffer
		if err := Write(&buf, s, day); err != nil {
			b.Fatal(err)
		}
	}
}
