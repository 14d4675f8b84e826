package mailbox

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestDovecotSecured takes mail in over TLS and over STARTTLS, and refuses a wrong
// authority, a wrong name and a certificate that has run out.
func TestDovecotSecured(t *testing.T) {
	d, b := newDovecot(t), newBench(t)
	d.create("Handled", "Trouble")
	c := d.client()
	appendTo(t, c, "INBOX", referral(1))
	appendTo(t, c, "INBOX", broken(1))
	other := newAuthority(t)
	plain := func(o *Options) { o.Addr, o.Security = fmt.Sprintf("127.0.0.1:%d", d.plainPort), StartTLS }
	for name, wrong := range map[string][]func(*Options){
		"another authority":               {func(o *Options) { o.RootCAs = other.pool }},
		"another authority with STARTTLS": {plain, func(o *Options) { o.RootCAs = other.pool }},
		"the system's authorities":        {func(o *Options) { o.RootCAs = nil }},
		"another name":                    {func(o *Options) { o.Addr = fmt.Sprintf("localhost:%d", d.port) }},
		"after it has run out":            {func(o *Options) { o.Now = func() time.Time { return today.AddDate(51, 0, 0) } }},
	} {
		box := d.box(b, wrong...)
		if _, err := box.Poll(context.Background()); err == nil || !strings.Contains(err.Error(), "no trusted connection") {
			t.Errorf("%s: error %v", name, err)
		}
	}
	if got := b.poll(d.box(b)); got != (Tally{Found: 2, Taken: 1, Trouble: 1}) {
		t.Fatal(got)
	}
	appendTo(t, c, "INBOX", referral(2))
	if got := b.poll(d.box(b, plain)); got != (Tally{Found: 1, Taken: 1}) {
		t.Fatal(got)
	}
	for folder, want := range map[string]uint32{"INBOX": 0, "Handled": 2, "Trouble": 1} {
		if all, unseen := d.count(folder); all != want || unseen != 0 {
			t.Errorf("%s has %d, %d unseen", folder, all, unseen)
		}
	}
	box := d.box(b, func(o *Options) { o.Password = func() (string, error) { return "guess", nil } })
	if _, err := box.Poll(context.Background()); !errors.Is(err, errRefused) {
		t.Errorf("a wrong password gives %v", err)
	}
}

// sent is what the test put into the mailbox.
type sent struct {
	all    int
	hashes map[string]int // of distinct messages, how often
}

// TestDovecotEverythingOnce puts 1,000 messages and more into a mailbox while it is
// polled, with all that can go wrong between, and then asks for every one of them.
func TestDovecotEverythingOnce(t *testing.T) {
	d, b := newDovecot(t), newBench(t)
	p := newProxy(t, d.addr())
	box := b.box(p.l.Addr().String(), func(o *Options) {
		o.Security, o.RootCAs, o.MaxMessage, o.Batch = TLS, d.ca.pool, 25<<20, 20
	})
	box.limits.answer = time.Second
	in := sent{hashes: map[string]int{}}
	note := func(raws ...[]byte) {
		for _, raw := range raws {
			in.all++
			sum := sha256.Sum256(raw)
			in.hashes[hex.EncodeToString(sum[:])]++
		}
	}
	put := func(raws ...[]byte) { d.deliver(raws...); note(raws...) }
	many := func(from, to int) (out [][]byte) {
		for n := from; n < to; n++ {
			switch {
			case n%50 == 7:
				out = append(out, broken(n))
			case n%20 == 3:
				out = append(out, referral(n-1)) // the one before once more
			default:
				out = append(out, referral(n))
			}
		}
		return out
	}
	taken := 0
	count := func(got Tally) {
		t.Helper()
		if got.Found != got.Taken+got.Again+got.TooLarge+got.Trouble+got.Left {
			t.Fatalf("the counts do not add up: %+v", got)
		}
		taken += got.Found - got.Left
	}
	// settled polls until nothing is left.
	settled := func() {
		t.Helper()
		for range 10 {
			got := b.poll(box)
			if count(got); got.Left == 0 && taken == in.all {
				return
			}
		}
		t.Fatalf("%d messages dealt with of %d", taken, in.all)
	}

	put(many(0, 400)...)
	polled := make(chan Tally, 1)
	go func() {
		got, err := box.Poll(context.Background())
		if err != nil {
			t.Errorf("poll while mail arrives: %v", err)
		}
		polled <- got
	}()
	for c := d.client(); len(polled) == 0; { // mail arrives all the while
		raw := message(in.all)
		appendTo(t, c, "INBOX", raw)
		note(raw)
	}
	put(many(400, 600)...)
	count(<-polled)
	settled()

	put(many(600, 700)...)
	p.do(60<<10, true, cut)
	settled()

	put(many(700, 800)...)
	p.do(60<<10, true, fallSilent)
	settled()
	if !strings.Contains(b.log.String(), "did not answer within") {
		t.Error("the silence did not happen")
	}

	put(many(800, 900)...)
	p.do(60<<10, true, func(client, server net.Conn) { d.kill(); cut(client, server) })
	got, err := box.Poll(context.Background())
	if count(got); err == nil || got.Left == 0 {
		t.Errorf("the server was killed and the poll says %s, %v", got, err)
	}
	if got, err := box.Poll(context.Background()); err == nil {
		t.Errorf("no server, and the poll says %s", got)
	}
	d.restart()
	settled()

	put(many(900, 1000)...)
	huge := append([]byte("From: Imaging <imaging@hospital.example>\r\nSubject: Scan\r\nMessage-ID: <huge@hospital.example>\r\nDate: Mon, 30 Mar 2026 07:00:00 +0000\r\n\r\n"),
		bytes.Repeat([]byte("c2NhbiBvZiBhIGNoYXJ0IHRoYXQgbm9ib2R5IGFza2VkIGZvciwgYXQgZnVsbCBzaXplIGFu\r\n"), 40<<20/74)...)
	put(huge, broken(5000), referral(5001))
	settled()

	before := b.received()
	d.renumber()
	renewed := b.poll(box)
	if renewed.Found != in.all || renewed.Taken != 0 || renewed.Left != 0 || renewed.TooLarge != 1 || renewed.Again+renewed.TooLarge+renewed.Trouble != in.all {
		t.Errorf("numbered anew: %+v for %d messages", renewed, in.all)
	}
	if after := b.received(); len(after) != len(before) {
		t.Errorf("numbered anew: %d documents, before %d", len(after), len(before))
	}
	if all, unseen := d.count("INBOX"); all != uint32(in.all) || unseen != 1 {
		t.Errorf("%d messages left in the folder, %d unseen", all, unseen)
	}
	d.create("Handled", "Trouble")
	if got := b.poll(box); got.Found != 0 {
		t.Errorf("poll after the folders were made: %s", got)
	}
	check(t, d, b, box, in, huge)
}

// check asks for every message: in the store once, with its entry, and still on the
// server.
func check(t *testing.T, d *dovecot, b *bench, box *Box, in sent, huge []byte) {
	t.Helper()
	docs, entries := b.received(), b.entries(box.Name(), box.validity)
	sum := sha256.Sum256(huge)
	for hash, n := range in.hashes {
		if _, ok := docs[hash]; ok == (hash == hex.EncodeToString(sum[:])) {
			t.Errorf("message %s (sent %d times): stored %v", hash[:8], n, ok)
		}
	}
	// The document that tells of the huge one takes its place.
	if len(docs) != len(in.hashes) || len(entries) != in.all {
		t.Errorf("%d documents for %d distinct messages, %d entries for %d messages", len(docs), len(in.hashes), len(entries), in.all)
	}
	large := 0
	for uid, e := range entries {
		if e.Outcome == TooLarge {
			large++
		}
		if e.Moved == "" || e.Seen != (e.Outcome != TooLarge) || docs[e.Hash].Hash == "" {
			t.Errorf("entry %d: %+v", uid, e)
		}
	}
	handled, _ := d.count("Handled")
	trouble, unseen := d.count("Trouble")
	if left, _ := d.count("INBOX"); left != 0 || handled+trouble != uint32(in.all) || unseen != 1 || large != 1 {
		t.Errorf("on the server %d + %d + %d of %d, %d unseen", left, handled, trouble, in.all, unseen)
	}
	// Each distinct referral opens a case or waits beside one that may be the same.
	opened, waits := 0, 0
	for _, it := range b.items() {
		switch {
		case it.Outcome == "opened":
			opened++
		case it.Kind == "possible same infant":
			waits++
		}
	}
	want := 1
	for n := range 1000 {
		if n%50 != 7 && n%20 != 3 {
			want++
		}
	}
	if opened+waits != want || opened < want*9/10 {
		t.Errorf("%d cases opened and %d wait, of %d referrals", opened, waits, want)
	}
}

// renumber makes the server give all messages new numbers, as after a restored
// backup.
func (d *dovecot) renumber() {
	d.Helper()
	d.kill()
	files, err := filepath.Glob(filepath.Join(d.dir, "home", "Maildir", "dovecot*"))
	if err != nil || len(files) == 0 {
		d.Fatalf("%d index files, %v", len(files), err)
	}
	for _, f := range files {
		if err := os.Remove(f); err != nil {
			d.Fatal(err)
		}
	}
	d.restart()
}
