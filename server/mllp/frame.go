package mllp

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
)

// The bytes of the minimal lower layer protocol: start, message, end, carriage
// return.
const (
	startBlock     = 0x0B
	endBlock       = 0x1C
	carriageReturn = 0x0D
)

// maxStray bounds what is skipped before a frame, and discardFactor how far beyond
// the size limit a frame is read to find its end.
const (
	maxStray      = 1 << 20
	discardFactor = 4
)

var (
	errNoFrames = errors.New("mllp: more than a megabyte came without a frame")
	errEndless  = errors.New("mllp: a frame far larger than the limit has no end")
)

// frame is what stood between a start and an end.
type frame struct {
	body  []byte // its own
	part  bool   // there was no end
	large bool   // longer than the limit; body is the beginning
}

// frameReader takes frames off a stream. They may be split over any number of
// reads, and several may come in one.
type frameReader struct {
	r       *bufio.Reader
	most    int     // bytes of a frame
	started func()  // called when the first byte of a frame has come
	stray   int     // bytes outside frames since last asked, without blanks
	ready   []frame // taken off the stream and not given out
	err     error   // given when ready is empty
}

func newFrameReader(r io.Reader, most int, started func()) *frameReader {
	return &frameReader{r: bufio.NewReaderSize(r, 32<<10), most: most, started: started}
}

// next gives the next frame. What had come of a frame when the stream ended is
// given as a part before the error.
func (f *frameReader) next() (frame, error) {
	for len(f.ready) == 0 {
		if f.err != nil {
			return frame{}, f.err
		}
		if f.err = f.skip(); f.err == nil {
			f.started()
			f.read()
		}
	}
	fr := f.ready[0]
	f.ready = f.ready[1:]
	return fr, nil
}

// skip passes over what stands before a start.
func (f *frameReader) skip() error {
	for passed := 0; ; {
		b, err := f.r.ReadSlice(startBlock)
		passed += len(b)
		f.stray += len(bytes.Trim(b, "\x0b\x1c\r\n \t\x00"))
		switch {
		case err == nil:
			return nil
		case !errors.Is(err, bufio.ErrBufferFull):
			return err
		case passed > maxStray:
			return errNoFrames
		}
	}
}

// read takes one frame off the stream, after its start.
func (f *frameReader) read() {
	var fr frame
	for passed := 0; ; {
		b, err := f.r.ReadSlice(endBlock)
		passed += len(b)
		if room := f.most - len(fr.body); len(b) > room+1 { // the end itself does not count
			fr.large = true
			b = b[:max(room, 0)]
		}
		fr.body = append(fr.body, b...)
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			if passed > discardFactor*f.most {
				fr.part, f.err = true, errEndless
				f.give(fr)
				return
			}
			continue
		case err != nil:
			fr.part, f.err = true, err
			f.give(fr)
			return
		}
		if f.ended() {
			if !fr.large {
				fr.body = fr.body[:len(fr.body)-1]
			}
			f.give(fr)
			return
		}
	}
}

// ended tells whether the end block just read ends the frame: a carriage return
// follows, or the next frame, or nothing. Any other end block is part of the text.
func (f *frameReader) ended() bool {
	c, err := f.r.ReadByte()
	switch {
	case err != nil:
		f.err = err
		return true
	case c == carriageReturn:
		return true
	}
	_ = f.r.UnreadByte() // cannot fail after a read
	return c == startBlock
}

// give hands a frame out. A start with a header inside it means that an earlier
// message was broken off: it is given as a part of its own.
func (f *frameReader) give(fr frame) {
	if fr.large {
		fr.body = fr.body[:min(len(fr.body), f.most)]
	}
	for {
		at := startInside(fr.body)
		if at < 0 {
			break
		}
		f.ready = append(f.ready, frame{body: fr.body[:at:at], part: true})
		fr.body = fr.body[at+1:]
	}
	if fr.part && len(fr.body) == 0 {
		return
	}
	f.ready = append(f.ready, fr)
}

// startInside finds a start block that a header segment follows; -1 for none.
func startInside(b []byte) int {
	for from := 0; ; {
		i := bytes.IndexByte(b[from:], startBlock)
		if i < 0 {
			return -1
		}
		rest := b[from+i+1:]
		for _, h := range []string{"MSH", "FHS", "BHS"} {
			if bytes.HasPrefix(rest, []byte(h)) {
				return from + i
			}
		}
		from += i + 1
	}
}

// strayed tells how many bytes outside frames came since it was last asked.
func (f *frameReader) strayed() int {
	n := f.stray
	f.stray = 0
	return n
}

// framed puts an answer into a frame.
func framed(b []byte) []byte {
	out := make([]byte, 0, len(b)+3)
	out = append(append(out, startBlock), b...)
	return append(out, endBlock, carriageReturn)
}

// size is a number of bytes in words.
func size(n int) string {
	if n >= 1<<20 {
		return fmt.Sprintf("%d MB", n>>20)
	}
	return fmt.Sprintf("%d bytes", n)
}
