package letters

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
)

var update = flag.Bool("update", false, "rewrite the golden letters")

// Every kind in every language, as pdftotext reads the PDF: the words in reading order,
// without the feet of the sheets and without where lines break. Look at a difference,
// and at the sheet as a picture, before renewing it with -update.
func TestEveryLetterReadsAsBefore(t *testing.T) {
	seen := map[string]bool{}
	golden := func(name string, l Letter, err error) {
		t.Run(name, func(t *testing.T) {
			if err != nil {
				t.Fatal(err)
			}
			got := wordsOf(string(poppler(t, pdfOf(t, l), "pdftotext")), &l)
			file := filepath.Join("testdata", "letters", name+".txt")
			seen[file] = true
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("the letter changed; now:\n%s\nbefore:\n%s", got, want)
			}
			blocksInOrder(t, got, &l)
		})
	}
	for _, language := range []string{"en", "es"} {
		for _, x := range everyLetter() {
			if cases.LetterKindOf(x.due.Kind).To != cases.ToFamily && language != "en" {
				continue
			}
			x.c.Family.Language = language
			l, err := x.compose(t, complete())
			golden(language+"-"+x.name, l, err)
		}
	}
	l, err := clinicDay(t, complete())
	golden("en-clinic-day", l, err)
	files, err := filepath.Glob("testdata/letters/*.txt")
	if err != nil || len(files) != len(seen) && len(seen) > 1 {
		t.Errorf("%d golden letters, %d letters, %v", len(files), len(seen), err)
	}
}

// wordsOf is the text of a letter in lines of some 90 characters, without its feet.
func wordsOf(text string, l *Letter) string {
	sheets, _ := l.sheets()
	text = strings.Join(strings.Fields(text), " ")
	for _, s := range sheets {
		foot := s.Texts[len(s.Texts)-1].Text
		text = strings.Replace(text, " "+foot, "", 1)
	}
	var b strings.Builder
	length := 0
	for _, w := range strings.Fields(text) {
		switch {
		case length+len(w) > 90:
			b.WriteByte('\n')
			length = 0
		case length > 0:
			b.WriteByte(' ')
		}
		b.WriteString(w)
		length += len(w) + 1
	}
	return b.String() + "\n"
}

// blocksInOrder finds each block after the one before it.
func blocksInOrder(t *testing.T, text string, l *Letter) {
	t.Helper()
	rest := strings.Join(strings.Fields(text), " ")
	for _, b := range l.Blocks {
		i := strings.Index(rest, squeeze(b.Text))
		if i < 0 {
			t.Fatalf("%q does not come in its place", b.Text)
		}
		rest = rest[i+len(squeeze(b.Text)):]
	}
}
