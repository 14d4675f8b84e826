package mailbox

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
	"time"

	"dunlin/cases"
)

// Box is one folder of one account.
type Box struct {
	o      Options
	store  cases.Store
	sink   Sink
	limits limits

	polling sync.Mutex
	// known is what the store says of the folder's messages while its numbers have
	// the validity; it is read once, and kept in step with what is written.
	known    map[uint32]cases.MailEntry
	validity uint32
	refused  refusal

	mu     sync.Mutex
	status Status
}

var actor = cases.Actor{ID: "mailbox", Name: "Mailbox", Role: cases.System, Via: "mailbox"}

// New checks the options and makes a Box. It does not connect.
func New(o Options, store cases.Store, sink Sink) (*Box, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if store == nil || sink == nil {
		return nil, errors.New("mailbox: a store and a sink are required")
	}
	return &Box{o: o, store: store, sink: sink, limits: usual}, nil
}

// Name names the mailbox as its entries in the store do: account and folder.
func (b *Box) Name() string { return b.o.User + "/" + b.o.Folder }

// Status tells how the newest polls went. It may be called at any time.
func (b *Box) Status() Status {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.status
}

// Poll connects, takes in what is new, and disconnects. What was taken in before an
// error is taken in; the rest comes with the next poll. The error says what a person
// who looks after the mailbox should know, without anything from a message.
func (b *Box) Poll(ctx context.Context) (Tally, error) {
	if !b.polling.TryLock() {
		return Tally{}, errors.New("the mailbox is being polled already")
	}
	defer b.polling.Unlock()
	now := b.o.Now()
	r := &round{b: b, outer: ctx}
	err := r.run()
	b.mu.Lock()
	defer b.mu.Unlock()
	b.status.Tried, b.status.Last, b.status.Problem = now, r.tally, ""
	if err != nil {
		b.status.Problem = err.Error()
		attrs := []any{"box", b.Name(), "err", err, "found", r.tally.Found, "left", r.tally.Left}
		if !b.status.Good.IsZero() {
			attrs = append(attrs, "last_good", now.Sub(b.status.Good).Round(time.Second).String()+" ago")
		}
		b.o.Log.Error("mailbox poll", attrs...)
		return r.tally, err
	}
	b.status.Good, b.status.Said = now, r.tally.String()
	if r.tally.Found > 0 {
		b.o.Log.Info("mailbox poll", "box", b.Name(), "tally", r.tally.String())
	}
	return r.tally, nil
}

// refusal keeps a wrong password from being tried so often that the account is
// locked: the waiting time doubles from 5 minutes to an hour. Another password is
// tried at once.
type refusal struct {
	times    int
	until    time.Time
	password [sha256.Size]byte
}

func (b *Box) password() (string, error) {
	pw, err := b.o.Password()
	if err != nil {
		return "", fmt.Errorf("the password of the mailbox cannot be read: %w", err)
	}
	pw = strings.TrimRight(pw, "\r\n")
	if pw == "" || strings.ContainsAny(pw, "\r\n\x00") {
		return "", errors.New("the password of the mailbox is empty or has line ends in it")
	}
	r := &b.refused
	if sum := sha256.Sum256([]byte(pw)); r.times > 0 && sum != r.password {
		*r = refusal{}
	}
	if now := b.o.Now(); r.times > 1 && now.Before(r.until) && r.until.Sub(now) <= time.Hour {
		return "", fmt.Errorf("the mail server refused the sign-in %d times; the next try is in %d minutes, or at once with another password",
			r.times, int(math.Ceil(r.until.Sub(now).Minutes())))
	}
	return pw, nil
}

// signIn opens a session and remembers a refused password.
func (b *Box) signIn(ctx context.Context) (*session, error) {
	pw, err := b.password()
	if err != nil {
		return nil, err
	}
	s, err := b.open(ctx, pw)
	switch {
	case err == nil:
		b.refused = refusal{}
	case errors.Is(err, errRefused):
		r := &b.refused
		r.times++
		r.password = sha256.Sum256([]byte(pw))
		r.until = b.o.Now().Add(min(5*time.Minute<<min(r.times, 4), time.Hour))
	}
	return s, err
}
