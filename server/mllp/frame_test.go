package mllp

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

// frames reads a stream to its end: each frame as text, a part with ">" and a large
// one with "+" before it.
func frames(r io.Reader, most int) (out []string, stray int, err error) {
	f := newFrameReader(r, most, func() {})
	for {
		fr, err := f.next()
		if err != nil {
			return out, f.strayed(), err
		}
		mark := ""
		if fr.part {
			mark += ">"
		}
		if fr.large {
			mark += "+"
		}
		out = append(out, mark+string(fr.body))
	}
}

func TestFrames(t *testing.T) {
	for _, tc := range []struct {
		in, want string
		stray    int
	}{
		{"", "[]", 0},
		{"\x0bMSH|1\r\x1c\r", `["MSH|1\r"]`, 0},
		{"\x0bMSH|1\r\x1c\r\x0bMSH|2\r\x1c\r", `["MSH|1\r" "MSH|2\r"]`, 0},
		{"\x0bMSH|1\x1c\r\r\n \x0bMSH|2\x1c\r", `["MSH|1" "MSH|2"]`, 0},
		{"GET / HTTP\r\n\x0bMSH|1\x1c\r", `["MSH|1"]`, 10},
		{"only words", "[]", 10},
		{"\x0bMSH|1", `[">MSH|1"]`, 0},
		{"\x0b", "[]", 0},
		{"\x0b\x1c\r", `[""]`, 0},
		{"\x0bMSH|1\x1c", `["MSH|1"]`, 0},
		{"\x0bMSH|1\x1c\x0bMSH|2\x1c\r", `["MSH|1" "MSH|2"]`, 0},
		{"\x0bMSH|1\x1cstill\x1c\r", `["MSH|1\x1cstill"]`, 0},
		{"\x0bMSH|1\x0bMSH|2\x1c\r", `[">MSH|1" "MSH|2"]`, 0},
		{"\x0bMSH|1\x0bFHS|2", `[">MSH|1" ">FHS|2"]`, 0},
		{"\x0bMSH|a\x0bb\x1c\r", `["MSH|a\vb"]`, 0},
		{"\x1c\r\x0bMSH|1\x1c\r", `["MSH|1"]`, 0},
	} {
		for name, r := range map[string]io.Reader{"at once": strings.NewReader(tc.in), "byte by byte": iotest.OneByteReader(strings.NewReader(tc.in))} {
			got, stray, err := frames(r, 1000)
			if s := fmt.Sprintf("%q", got); s != tc.want || stray != tc.stray || err != io.EOF {
				t.Errorf("%q %s: %s, %d stray, %v; want %s, %d", tc.in, name, s, stray, err, tc.want, tc.stray)
			}
		}
	}
}

// TestLargeFrames: a frame at the limit passes; a longer one is cut, its end is found
// and the next is read; one without an end gives up.
func TestLargeFrames(t *testing.T) {
	const most = 100_000
	fits, long := strings.Repeat("x", most), strings.Repeat("y", most+1)
	got, _, err := frames(strings.NewReader("\x0b"+fits+"\x1c\r\x0b"+long+"\x1c\r\x0bMSH|3\x1c\r"), most)
	if len(got) != 3 || got[0] != fits || got[1] != "+"+long[:most] || got[2] != "MSH|3" || err != io.EOF {
		t.Errorf("%d frames, %v", len(got), err)
	}
	got, _, err = frames(io.MultiReader(strings.NewReader("\x0b"), endless('z')), most)
	if len(got) != 1 || len(got[0]) != most+2 || !errors.Is(err, errEndless) {
		t.Errorf("%d frames, %v", len(got), err)
	}
	if got, stray, err := frames(endless('z'), most); len(got) != 0 || stray < maxStray || !errors.Is(err, errNoFrames) {
		t.Errorf("%d frames, %d stray, %v", len(got), stray, err)
	}
}

type endless byte

func (e endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(e)
	}
	return len(p), nil
}

var endMark = regexp.MustCompile("\x1c+\r+")

// TestFramesInPieces: however the stream is divided, the frames are those sent.
func TestFramesInPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var stream bytes.Buffer
		var want []string
		for range rapid.IntRange(1, 5).Draw(t, "frames") {
			body := "MSH|" + rapid.StringOfN(rapid.RuneFrom([]rune("ab|\r\nä\x1c")), 0, 200, -1).Draw(t, "body") + "."
			body = endMark.ReplaceAllString(body, "")
			stream.Write(framed([]byte(body)))
			want = append(want, body)
		}
		sizes := rapid.SliceOfN(rapid.IntRange(1, 50), 1, 10).Draw(t, "sizes")
		got, stray, err := frames(&pieces{stream.Bytes(), sizes, 0}, 10_000)
		if fmt.Sprintf("%q", got) != fmt.Sprintf("%q", want) || stray != 0 || err != io.EOF {
			t.Fatalf("%q, want %q, %d stray, %v", got, want, stray, err)
		}
	})
}

// pieces gives a stream in pieces of these sizes, over and over.
type pieces struct {
	rest  []byte
	sizes []int
	n     int
}

func (p *pieces) Read(b []byte) (int, error) {
	if len(p.rest) == 0 {
		return 0, io.EOF
	}
	k := copy(b, p.rest[:min(len(p.rest), p.sizes[p.n%len(p.sizes)])])
	p.n++
	p.rest = p.rest[k:]
	return k, nil
}

// FuzzFrames: any bytes; the frames do not depend on how the stream is divided, hold
// only bytes of it in order, and none is longer than the limit.
func FuzzFrames(f *testing.F) {
	for _, pattern := range []string{"messages/d16*", "messages/d01*", "malformed/*"} {
		files, err := filepath.Glob(filepath.Join("../../cases/intake/hl7/testdata", filepath.FromSlash(pattern)))
		if err != nil || len(files) == 0 {
			f.Fatalf("%s: %d files, %v", pattern, len(files), err)
		}
		for _, name := range files {
			raw, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(raw, 4096)
			f.Add(framed(raw), 1<<20)
		}
	}
	f.Fuzz(func(t *testing.T, raw []byte, most int) {
		most = 16 + (most&0xFFFFF+0xFFFFF)%0xFFFFF
		got, stray, err := frames(bytes.NewReader(raw), most)
		small, stray2, err2 := frames(iotest.HalfReader(bytes.NewReader(raw)), most)
		if fmt.Sprintf("%q %d %v", got, stray, err) != fmt.Sprintf("%q %d %v", small, stray2, err2) {
			t.Fatalf("%q\n%q", got, small)
		}
		if err != io.EOF && !errors.Is(err, errEndless) && !errors.Is(err, errNoFrames) {
			t.Fatal(err)
		}
		total, rest := 0, raw
		for _, g := range got {
			body := strings.TrimPrefix(strings.TrimPrefix(g, ">"), "+")
			at := bytes.Index(rest, []byte(body))
			if at < 0 && !strings.HasPrefix(body, ">") && !strings.HasPrefix(body, "+") {
				t.Fatalf("%q is not in the stream", body)
			}
			if at >= 0 {
				rest = rest[at:]
			}
			total += len(body)
		}
		if total > len(raw) {
			t.Fatalf("%d bytes of frames from %d", total, len(raw))
		}
	})
}
