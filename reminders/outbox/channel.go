package outbox

import (
	"context"
	"fmt"

	"dunlin/cases"
)

// Channel gives one message to a server. Send returns nil when the server took it, a
// *Refused when it said no, an *Unsure when nobody can know, and any other error when
// the message certainly was not handed over.
type Channel interface {
	Send(ctx context.Context, p Parcel) error
}

// Parcel is a message as it is sent: the attempt it is, and what goes with it.
type Parcel struct {
	cases.Outgoing
	Attempt int    // 1 for the first
	ID      string // Message-ID without brackets: of this attempt
	Files   []File
}

// File is an attachment.
type File struct {
	Name, Type string
	Raw        []byte
}

// Refused is a server's no. A permanent one is not asked again.
type Refused struct {
	Code      int // of the server; 0 when this program refused by itself
	Permanent bool
	Text      string
}

func (r *Refused) Error() string {
	if r.Code == 0 {
		return r.Text
	}
	return fmt.Sprintf("%d %s", r.Code, r.Text)
}

// Unsure is an attempt of which nobody knows whether the server took the message.
type Unsure struct{ Err error }

func (u *Unsure) Error() string {
	return "the answer of the server never came, so it may or may not have taken the message: " + u.Err.Error()
}

func (u *Unsure) Unwrap() error { return u.Err }
