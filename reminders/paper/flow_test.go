package paper

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"
)

// A document of everything that a Flow sets, for looking at and for what follows.
func sample() *Flow {
	f := NewFlow(USLetter, 54)
	f.Bottom -= 20
	f.Head = func(f *Flow) { f.Para(Style{Size: 9}, "Sample, continued"); f.Skip(6) }
	f.Para(Style{16, true}, "A day on paper")
	f.Boxed(8, 1, 0.08, func(f *Flow) {
		f.Para(Style{10, true}, "Before every collection")
		f.Item(Style{Size: 10}, "•", strings.Repeat("The skin of the inner forearm is sound and dry. ", 4))
		f.Tick(Style{Size: 10}, "Name and birth date checked")
	})
	f.Skip(10)
	t := Table{Style: Style{Size: 10}, Grid: 0.5, Pad: 4, RowHeight: 30,
		Columns: []Column{{Head: "Arm", Width: 60}, {Head: "Induction began"}, {Head: "Ended"}, {Head: "Amount (µL)"}}}
	for i := range 40 {
		t.Rows = append(t.Rows, []string{fmt.Sprint("row ", i+1), "", "", ""})
	}
	f.Table(t)
	f.Rule(1)
	f.Para(Style{Size: 10}, "Signed ______ 王")
	f.Foot(Style{Size: 9}, 760, func(page, of int) string { return PageOf(page, of) })
	return f
}

func TestFlowKeepsOnTheSheetAndLosesNothing(t *testing.T) {
	f := sample()
	all := ""
	for n, s := range f.Sheets() {
		for _, m := range s.Texts {
			if m.X < 54 || m.X+Width(m.Text, m.Style) > USLetter.Width-54+0.01 || m.Y < 54 || m.Y > 761 {
				t.Errorf("sheet %d: %q at %.0f, %.0f", n+1, m.Text, m.X, m.Y)
			}
			all += m.Text + "\n"
		}
		if n > 0 && (s.Texts[0].Text != "Sample, continued" || s.Texts[1].Text != "Arm") {
			t.Errorf("sheet %d begins with %q, %q", n+1, s.Texts[0].Text, s.Texts[1].Text)
		}
		if want := fmt.Sprintf("Page %d of %d", n+1, len(f.Sheets())); s.Texts[len(s.Texts)-1].Text != want {
			t.Errorf("the foot says %q, want %q", s.Texts[len(s.Texts)-1].Text, want)
		}
	}
	for i := range 40 {
		if !strings.Contains(all, fmt.Sprintf("row %d\n", i+1)) {
			t.Errorf("row %d is lost", i+1)
		}
	}
	if len(f.Sheets()) < 2 || !strings.Contains(all, "Signed ______ ?") {
		t.Errorf("%d sheets: %s", len(f.Sheets()), all)
	}
}

func TestSameSheetsGiveTheSameBytes(t *testing.T) {
	info := Info{Title: "Día", Language: "es", On: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)}
	var first, again bytes.Buffer
	for _, b := range []*bytes.Buffer{&first, &again} {
		if err := Write(b, info, sample().Sheets()); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(first.Bytes(), again.Bytes()) || !bytes.Contains(first.Bytes(), []byte("/Lang (es)")) {
		t.Error("other bytes the second time, or no language")
	}
}
