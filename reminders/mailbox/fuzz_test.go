package mailbox

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// forgetful is a store that knows nothing and keeps nothing.
type forgetful struct{}

func (forgetful) View(context.Context, func(cases.Reader) error) error { return nil }
func (forgetful) Update(context.Context, cases.Actor, func(cases.Writer) error) error {
	return nil
}

// taking is a Sink that takes everything.
type taking struct{ bytes int }

func (s *taking) ReceiveAll(_ context.Context, _ cases.Actor, docs []intake.Document) ([]intake.Result, error) {
	out := make([]intake.Result, len(docs))
	for i, d := range docs {
		sum := sha256.Sum256(d.Raw)
		out[i].Hash = hex.EncodeToString(sum[:])
		s.bytes += len(d.Raw)
	}
	return out, nil
}

// FuzzServer polls a server that answers the n-th command with the n-th of the parts
// of a script, which the byte 0x1E parts. Whatever it says, the poll ends in time and
// the counts add up.
func FuzzServer(f *testing.F) {
	good := "* OK ready\x1e* CAPABILITY IMAP4rev1 MOVE\r\nT1 OK\r\n\x1eT2 OK\r\n\x1e* CAPABILITY IMAP4rev1 MOVE\r\nT3 OK\r\n\x1e* CAPABILITY IMAP4rev1 MOVE\r\nT4 OK\r\n" +
		"\x1e* LIST () \"/\" Handled\r\nT5 OK\r\n\x1eT6 OK\r\n\x1e* 2 EXISTS\r\n* OK [UIDVALIDITY 7] x\r\nT7 OK\r\n\x1e* SEARCH 1 2\r\nT8 OK\r\n" +
		"\x1e* 1 FETCH (UID 1 RFC822.SIZE 5)\r\n* 2 FETCH (UID 2 RFC822.SIZE 9999)\r\nT9 OK\r\n\x1e* 1 FETCH (UID 1 BODY[] {5}\r\nabcde)\r\nT10 OK\r\n" +
		"\x1e* 2 FETCH (UID 2 BODY[]<0> {3}\r\nabc)\r\nT11 OK\r\n\x1eT12 OK\r\n\x1eT13 OK [COPYUID 3 1 1]\r\n\x1e* BYE\r\nT14 OK\r\n"
	f.Add([]byte(good))
	for _, s := range []string{"* PREAUTH x\r\n", "* BYE\r\n", "* OK [CAPABILITY IMAP4rev1] x\r\n\x1eT1 OK [CAPABILITY IMAP4rev1 MOVE] in\r\n\x1e"} {
		f.Add([]byte(s))
	}
	for _, change := range [][2]string{{"SEARCH 1 2", "SEARCH 0"}, {"{5}", "{99999999999}"}, {"{5}\r\nabcde", "\"abcde\""}, {"UID 1 BODY", "UID 9 BODY"},
		{"SEARCH 1 2", "ESEARCH (TAG \"T8\") UID ALL 1:4294967295"}, {"9999", "-1"}, {"T10 OK", "T10 NO"}, {"* 2 EXISTS", "* 4294967295 EXISTS"}, {"abcde", "ab"}} {
		f.Add(bytes.ReplaceAll([]byte(good), []byte(change[0]), []byte(change[1])))
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { l.Close() })
	scripts := make(chan [][]byte, 1)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			var parts [][]byte
			select {
			case parts = <-scripts:
			default: // a second connection of the same poll gets nowhere
			}
			go func() {
				defer c.Close()
				r := bufio.NewReader(c)
				for _, part := range parts {
					if _, err := c.Write(part); err != nil {
						return
					}
					if _, err := r.ReadString('\n'); err != nil {
						return
					}
				}
			}()
		}
	}()
	f.Fuzz(func(t *testing.T, script []byte) {
		for len(scripts) > 0 {
			<-scripts
		}
		parts := bytes.Split(script, []byte{0x1E})
		if !bytes.HasSuffix(parts[0], []byte("\n")) {
			parts[0] = append(bytes.Clone(parts[0]), "\r\n"...)
		}
		scripts <- parts
		sink := &taking{}
		box, err := New(Options{Addr: l.Addr().String(), Security: Plain, User: "u", Handled: "Handled", Trouble: "Trouble", MaxMessage: 4096,
			Password: func() (string, error) { return "p", nil }, Now: func() time.Time { return today }}, forgetful{}, sink)
		if err != nil {
			t.Fatal(err)
		}
		box.limits.dial, box.limits.answer, box.limits.line = 200*time.Millisecond, 50*time.Millisecond, 8<<10
		box.o.PollLimit = time.Second
		began := time.Now()
		tally, err := box.Poll(context.Background())
		if took := time.Since(began); took > 10*time.Second {
			t.Errorf("it took %s", took)
		}
		if tally.Found != tally.Taken+tally.Again+tally.TooLarge+tally.Trouble+tally.Left || err == nil && tally.Left < 0 {
			t.Errorf("%+v, %v", tally, err)
		}
		if sink.bytes > 100*8192 {
			t.Errorf("%d bytes came through", sink.bytes)
		}
	})
}
