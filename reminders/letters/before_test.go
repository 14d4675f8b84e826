package letters

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
)

// Letters that were made and kept give the bytes that they gave then, one folder for
// each format. The sums were taken with the program that made the letters; nobody may
// renew them: another layout is another format. PDF
// streams are compressed by the Go library: should a later Go compress otherwise, this
// test says so before a release does.
func TestLettersMadeBeforeGiveTheSameBytes(t *testing.T) {
	for _, list := range []string{"format-1", "format-2"} {
		sums, err := os.ReadFile(filepath.Join("testdata", list, "SHA256SUMS"))
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSpace(string(sums)), "\n")
		if len(lines) < 10 {
			t.Fatalf("%s: only %d letters", list, len(lines))
		}
		for _, line := range lines {
			want, name, _ := strings.Cut(line, "  ")
			data, err := os.ReadFile(filepath.Join("testdata", list, name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			l, err := Decode(cases.Letter{Number: "7KQ294XF", Data: data})
			if err != nil {
				t.Fatal(err)
			}
			if got := fmt.Sprintf("%x", sha256.Sum256(pdfOf(t, l))); got != want {
				t.Errorf("%s/%s: SHA-256 of the PDF is %s, was %s", list, name, got, want)
			}
		}
	}
}
