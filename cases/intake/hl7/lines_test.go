package hl7

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"dunlin/cases/intake"
)

// TestCutLine: CR, LF and CR LF end a line, wherever in a long file they stand.
func TestCutLine(t *testing.T) {
	for _, end := range []string{"\r", "\n", "\r\n"} {
		for _, n := range []int{0, 1, 254, 255, 256, 257, 767, 768, 769, 5000} {
			line, rest := cutLine([]byte(strings.Repeat("x", n) + end + "rest\rof\nit"))
			if len(line) != n || string(rest) != "rest\rof\nit" {
				t.Errorf("%q after %d: %d, rest %q", end, n, len(line), rest)
			}
		}
	}
	if line, rest := cutLine([]byte("x\n\ry")); string(line) != "x" || string(rest) != "\ry" {
		t.Errorf("%q %q", line, rest)
	}
	if line, rest := cutLine(bytes.Repeat([]byte("x"), 5000)); len(line) != 5000 || rest != nil {
		t.Errorf("%d, %d", len(line), len(rest))
	}
}

// BenchmarkManyLines reads files of short lines with one kind of line end. The time
// for a byte must not grow with the file.
func BenchmarkManyLines(b *testing.B) {
	for _, end := range []string{"\r", "\n"} {
		for _, mb := range []int{1, 4} {
			b.Run(fmt.Sprintf("%q/%dMB", end, mb), func(b *testing.B) {
				raw := []byte("MSH|^~\\&|A" + end + strings.Repeat("NTE|1||not much"+end, mb<<20/16))
				b.SetBytes(int64(len(raw)))
				for b.Loop() {
					(Format{}).Read(raw, intake.Settings{})
				}
			})
		}
	}
}

// BenchmarkManyFrames reads files of tiny frames, with and without headers. The time
// for a byte must not grow with the file.
func BenchmarkManyFrames(b *testing.B) {
	for _, unit := range []string{"\x0bx\x1c", "\x0bx", "\x0bMSH|1\x1c\r"} {
		for _, kb := range []int{100, 400} {
			b.Run(fmt.Sprintf("%q/%dkB", unit, kb), func(b *testing.B) {
				raw := []byte(strings.Repeat(unit, kb<<10/len(unit)))
				b.SetBytes(int64(len(raw)))
				for b.Loop() {
					unframe(raw)
				}
			})
		}
	}
}
