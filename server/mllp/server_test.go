package mllp_test

import (
	"bytes"
	"context"
	"errors"
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/server/mllp"
)

// TestAnswerAfterTheCommit: when the answer is there, the message is in the store,
// and the same message again is answered alike.
func TestAnswerAfterTheCommit(t *testing.T) {
	l := listen(t, intake.Settings{}, nil)
	c := l.dial()
	c.send(frame(message(t, d01)))
	c.wants("AA", "D01-0001")
	if got := l.counts(); got != "map[opened:1] 0 waiting" {
		t.Error(got)
	}
	c.send(frame(message(t, d01)))
	c.wants("AA", "D01-0001")
	if got := l.counts(); got != "map[duplicate:1 opened:1] 0 waiting" {
		t.Error(got)
	}
	if strings.Contains(l.log.String(), "TESTFAMILY") || !strings.Contains(l.log.String(), "D01-0001") {
		t.Errorf("log:\n%s", l.log)
	}
	err := l.db.View(context.Background(), func(r cases.Reader) error {
		docs, err := r.ReceivedLast(1)
		if err != nil || len(docs) != 1 || docs[0].Source != "interface" || docs[0].Sender != "mllp" || docs[0].Name != "HL7 message D01-0001" {
			t.Errorf("%+v, %v", docs, err)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestFramesOnTheLine: several messages in one packet, a message in many packets, and
// bytes outside frames, which are skipped and logged.
func TestFramesOnTheLine(t *testing.T) {
	l := listen(t, intake.Settings{}, nil)
	c := l.dial()
	c.send(message(t, "messages/d16-two-mllp-frames.bin"))
	a, _ := c.answer()
	b, _ := c.answer()
	if a != "AA" || b != "AA" {
		t.Error(a, b)
	}
	whole := frame(message(t, d01))
	for len(whole) > 0 {
		n := min(len(whole), 700)
		c.send(whole[:n])
		whole = whole[n:]
		time.Sleep(time.Millisecond)
	}
	c.wants("AA", "D01-0001")
	c.send([]byte("some noise"), frame(message(t, "malformed/m03-duplicate-delimiters.hl7")))
	c.wants("AE", "M03-0001")
	if !strings.Contains(l.log.String(), "skipped") || strings.Contains(l.log.String(), "noise") {
		t.Errorf("log:\n%s", l.log)
	}
}

// TestSameNumberOtherContent: a message number that repeats is no duplicate.
func TestSameNumberOtherContent(t *testing.T) {
	l := listen(t, intake.Settings{}, nil)
	c := l.dial()
	for _, f := range []string{"malformed/m12-same-control-id-a.hl7", "malformed/m12-same-control-id-b-different.hl7"} {
		c.send(frame(message(t, f)))
		if code, _ := c.answer(); code != "AA" {
			t.Error(f, code)
		}
	}
	if got := l.counts(); strings.Contains(got, "duplicate") {
		t.Error(got)
	}
}

// TestPartIsKeptAndNotAnswered: the connection ends in the middle of a message. The
// part waits for a person until the whole one comes.
func TestPartIsKeptAndNotAnswered(t *testing.T) {
	l := listen(t, intake.Settings{}, nil)
	c := l.dial()
	c.send(frame(message(t, d01))[:1500])
	c.Close()
	l.waitFor("the part", func() bool { return l.counts() == "map[review:1] 1 waiting" })
	c = l.dial()
	c.send(frame(message(t, d01)))
	c.wants("AA", "D01-0001")
	if got := l.counts(); got != "map[opened:1 review:1] 0 waiting" {
		t.Error(got)
	}

	// The cut message of the exchange page, byte for byte.
	c = l.dial()
	c.send(message(t, "malformed/m04-truncated-mllp.bin"))
	if err := c.Conn.(*net.TCPConn).CloseWrite(); err != nil {
		t.Fatal(err)
	}
	c.ends()
	if got := l.counts(); got != "map[opened:1 review:2] 1 waiting" {
		t.Error(got)
	}
}

// TestSlowDrip: a message that does not end in time is kept as a part and the
// connection closed; a connection without messages is closed after its idle time.
func TestSlowDrip(t *testing.T) {
	l := listen(t, intake.Settings{}, func(o *mllp.Options) { o.Frame, o.Idle = 80*time.Millisecond, 150*time.Millisecond })
	drip, idle := l.dial(), l.dial()
	for _, b := range frame(message(t, d01))[:2000] {
		if _, err := drip.Write([]byte{b}); err != nil {
			break
		}
		time.Sleep(time.Millisecond)
	}
	drip.ends()
	idle.ends()
	if got := l.counts(); got != "map[review:1] 1 waiting" {
		t.Error(got)
	}
}

// TestTooLarge: the beginning of a message above the limit is kept, the sender is
// told, and the next message on the line is taken.
func TestTooLarge(t *testing.T) {
	l := listen(t, intake.Settings{}, func(o *mllp.Options) { o.MaxFrame = 20_000 })
	big := append(message(t, d01), bytes.Repeat([]byte("NTE|1||x\r"), 3000)...)
	c := l.dial()
	c.send(frame(big), frame(message(t, d01)))
	c.wants("AE", "D01-0001")
	c.wants("AA", "D01-0001")
	if got := l.counts(); got != "map[opened:1 review:1] 1 waiting" {
		t.Error(got)
	}
}

// TestNotStored: nothing is acknowledged that is not stored. The sender is told to
// keep the message, and may send it again.
func TestNotStored(t *testing.T) {
	l := listen(t, intake.Settings{}, nil)
	l.set(errors.New("the disk is full"), nil)
	c := l.dial()
	c.send(frame(message(t, d01)))
	c.wants("AR", "D01-0001")
	if got := l.counts(); got != "map[] 0 waiting" {
		t.Error(got)
	}
	l.set(nil, nil)
	c.send(frame(message(t, d01)))
	c.wants("AA", "D01-0001")

	// A sender that wants no answer learns of it by the end of the connection.
	l.set(errors.New("the disk is full"), nil)
	c.send(frame(message(t, d01, "|T|2.5.1|||AL|AL|", "|T|2.5.1|||NE|NE|")))
	c.ends()
}

// TestLive: a live program answers AR to test messages, keeps them and opens nothing.
func TestLive(t *testing.T) {
	l := listen(t, intake.Settings{Live: true}, nil)
	c := l.dial()
	c.send(frame(message(t, d01)))
	c.wants("AR", "D01-0001")
	if got := l.counts(); got != "map[refused:1] 0 waiting" {
		t.Error(got)
	}
	c.send(frame(message(t, d01, "|T|2.5.1|", "|P|2.5.1|")))
	c.wants("AA", "D01-0001")
	c.send(frame([]byte("MSH|^~\\&|A|B|C|D|20260309||ADT^A08|X-1|P|2.5.1\rPID|1||9\r")))
	c.wants("AR", "X-1")
	if got := l.counts(); got != "map[opened:1 refused:2] 0 waiting" {
		t.Error(got)
	}
}

// TestTooManyConnections: who comes when all places are taken is refused, and taken
// again when one has left.
func TestTooManyConnections(t *testing.T) {
	l := listen(t, intake.Settings{}, func(o *mllp.Options) { o.MaxConns = 2 })
	a, b := l.dial(), l.dial()
	a.send(frame(message(t, d01)))
	a.wants("AA", "D01-0001")
	b.send(frame(message(t, d01)))
	b.wants("AA", "D01-0001")
	l.dial().ends()
	a.Close()
	l.waitFor("a place", func() bool {
		c := l.dial()
		if _, err := c.Write(frame(message(t, d01))); err != nil {
			return false
		}
		_, err := c.r.ReadByte()
		return err == nil
	})
}

// TestGracefulStop: a message being stored when the server stops is answered, one
// that waits for its sender is closed at once, and nothing new is taken.
func TestGracefulStop(t *testing.T) {
	l := listen(t, intake.Settings{}, nil)
	idle, working := l.dial(), l.dial()
	hold := make(chan struct{})
	l.set(nil, hold)
	working.send(frame(message(t, d01)))
	idle.send([]byte("\r\n")) // both are known to be connected
	time.Sleep(50 * time.Millisecond)
	stopped := make(chan error, 1)
	go func() { stopped <- l.stop() }()
	idle.ends()
	if c, err := net.Dial("tcp", l.addr); err == nil {
		newLine(t, c).ends()
	}
	select {
	case <-stopped:
		t.Fatal("it stopped while a message was being stored")
	case <-time.After(50 * time.Millisecond):
	}
	close(hold)
	working.wants("AA", "D01-0001")
	if err := <-stopped; err != nil {
		t.Error(err)
	}
	if got := l.counts(); got != "map[opened:1] 0 waiting" {
		t.Error(got)
	}
}

// TestStopInTheMiddle: a message that is still coming when the grace is over is kept
// as a part.
func TestStopInTheMiddle(t *testing.T) {
	l := listen(t, intake.Settings{}, func(o *mllp.Options) { o.Grace = 60 * time.Millisecond })
	c := l.dial()
	c.send(frame(message(t, d01))[:900])
	time.Sleep(50 * time.Millisecond)
	if err := l.stop(); err != nil {
		t.Error(err)
	}
	c.ends()
	if got := l.counts(); got != "map[review:1] 1 waiting" {
		t.Error(got)
	}
}

// TestDiskFull: when the store can hold no more, senders are told to keep their
// messages; what was accepted is there, and with room the rest is taken.
func TestDiskFull(t *testing.T) {
	path := filepath.Join(t.TempDir(), "test.db")
	l := listenOn(t, path, 1<<20, intake.Settings{}, nil)
	all := messages(t, 300)
	c, accepted := l.dial(), 0
	for _, m := range all {
		c.send(m)
		code, _ := c.answer()
		if code == "AR" {
			break
		}
		accepted++
	}
	if accepted == 0 || accepted == len(all) {
		t.Fatalf("%d of %d were accepted", accepted, len(all))
	}
	l.close()

	l = listenOn(t, path, 0, intake.Settings{}, nil)
	c = l.dial()
	for i, m := range all {
		c.send(m)
		if code, _ := c.answer(); code != "AA" {
			t.Errorf("message %d: %s", i, code)
		}
	}
	err := l.db.View(context.Background(), func(r cases.Reader) error {
		counts, err := r.ItemCounts(0)
		if counts["opened"] != 30 || counts["no-case"] != 270 {
			t.Errorf("%v after %d had been accepted", counts, accepted)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
