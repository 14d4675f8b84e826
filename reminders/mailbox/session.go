package mailbox

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"
)

// session is one connection with the folder selected.
type session struct {
	b     *Box
	line  *line
	guard *guard
	c     *imapclient.Client
	stop  func() bool

	validity, exists uint32
	canMove          bool
	folders          map[string]bool // which of Handled and Trouble exist
}

var (
	errTooLarge = errors.New("the message is larger than allowed")
	errNumbers  = errors.New("the mail server gives impossible message numbers")
	errCutShort = errors.New("the connection was lost in the middle of a message")
	errNoBody   = errors.New("the mail server lists the message and does not give it")
)

// do waits for an answer within its limits.
func (s *session) do(limit time.Duration, bytes int64, f func() error) error {
	s.line.arm(limit, bytes)
	err := f()
	s.line.disarm()
	return s.explain(err)
}

// explain puts the reason for which the line was cut in place of what the library
// saw of it.
func (s *session) explain(err error) error {
	if err == nil {
		return nil
	}
	if why := s.line.reason(); why != nil {
		return why
	}
	if no := (*imap.Error)(nil); errors.As(err, &no) {
		return err
	}
	if s.alive() {
		return err
	}
	text, _, _ := strings.Cut(err.Error(), "\n")
	return fmt.Errorf("the connection to the mail server was lost: %s", clean(text))
}

// alive reports whether commands can still be sent.
func (s *session) alive() bool {
	if s == nil || s.c == nil || s.line.reason() != nil {
		return false
	}
	st := s.c.State()
	return st == imap.ConnStateAuthenticated || st == imap.ConnStateSelected
}

// close says good-bye if somebody listens, and waits for the library's reader.
func (s *session) close() {
	if s.alive() {
		_ = s.do(min(s.b.limits.answer, 2*time.Second), s.b.limits.line, func() error { return s.c.Logout().Wait() })
	}
	s.stop()
	s.line.disarm()
	s.line.Conn.Close()
	if s.c != nil {
		if !s.ended(time.Second) {
			s.b.o.Log.Error("mailbox: the reader of a closed connection does not end")
		}
	}
}

// ended waits for the library's reader to end.
func (s *session) ended(limit time.Duration) bool {
	select {
	case <-s.c.Closed():
		return true
	case <-time.After(limit):
		return false
	}
}

// numbers gives the numbers (UIDs) of the messages at the places from..to (from 1).
func (s *session) numbers(from, to uint32) (out []uint32, err error) {
	most := int64(to-from) + 1
	err = s.do(s.b.limits.answer, s.b.limits.line+12*most, func() error {
		found, err := s.c.UIDSearch(&imap.SearchCriteria{SeqNum: []imap.SeqSet{{{Start: from, Stop: to}}}}, nil).Wait()
		if err != nil {
			return err
		}
		set, ok := found.All.(imap.UIDSet)
		if !ok && found.All != nil {
			return errNumbers
		}
		for _, r := range set {
			if r.Start == 0 || r.Stop < r.Start || int64(r.Stop-r.Start)+1+int64(len(out)) > most {
				return errNumbers
			}
			for n := r.Start; ; n++ {
				if out = append(out, uint32(n)); n == r.Stop {
					break
				}
			}
		}
		return nil
	})
	return out, err
}

// sizes asks for the bytes of messages; one that the server does not know is left out.
func (s *session) sizes(uids []uint32) (map[uint32]int64, error) {
	out := make(map[uint32]int64, len(uids))
	err := s.do(s.b.limits.answer, s.b.limits.line+200*int64(len(uids)), func() error {
		cmd := s.c.Fetch(set(uids), &imap.FetchOptions{UID: true, RFC822Size: true})
		for msg := cmd.Next(); msg != nil; msg = cmd.Next() {
			uid, size := uint32(0), int64(-1)
			for item := msg.Next(); item != nil; item = msg.Next() {
				switch it := item.(type) {
				case imapclient.FetchItemDataUID:
					uid = uint32(it.UID)
				case imapclient.FetchItemDataRFC822Size:
					size = it.Size
				}
			}
			if uid != 0 && size >= 0 {
				out[uid] = size
			}
		}
		return cmd.Close()
	})
	return out, err
}

// fetch gives the raw bytes of a message without marking it. The line is cut when
// more than the limit comes, whatever size the server had told.
func (s *session) fetch(uid uint32, size int64) ([]byte, error) {
	most := s.b.o.MaxMessage
	raw, err := s.body(uid, &imap.FetchItemBodySection{Peek: true}, size, most)
	if err == nil && len(raw) == 0 && size > 0 {
		err = errNoBody
	}
	return raw, err
}

// headBytes is how much of a message that is too large is fetched to tell its sender.
const headBytes = 16 << 10

// head gives the beginning of a message.
func (s *session) head(uid uint32) ([]byte, error) {
	return s.body(uid, &imap.FetchItemBodySection{Peek: true, Partial: &imap.SectionPartial{Size: headBytes}}, headBytes, 2*headBytes)
}

func (s *session) body(uid uint32, what *imap.FetchItemBodySection, size, most int64) (raw []byte, err error) {
	limit := s.b.limits.answer + time.Duration(min(size, most)/s.b.limits.rate)*time.Second
	s.guard.sieve.awaits.Store(true)
	defer s.guard.sieve.awaits.Store(false)
	// TLS adds a little to every record.
	err = s.do(limit, most+most/8+s.b.limits.line, func() error {
		cmd := s.c.Fetch(set([]uint32{uid}), &imap.FetchOptions{BodySection: []*imap.FetchItemBodySection{what}})
		var err error
		if raw, err = readBody(cmd, size, most); err != nil {
			s.line.cut(err) // the rest is not worth reading
		}
		if errors.Is(err, errCutShort) {
			// The library's reader goes on once a body has failed, and must be gone
			// before Close looks at the body again.
			s.ended(time.Second)
		}
		return errors.Join(err, cmd.Close())
	})
	if err != nil {
		return nil, err
	}
	return raw, nil
}

// readBody reads the first body that is given.
func readBody(cmd *imapclient.FetchCommand, size, most int64) ([]byte, error) {
	for msg := cmd.Next(); msg != nil; msg = cmd.Next() {
		for item := msg.Next(); item != nil; item = msg.Next() {
			if part, ok := item.(imapclient.FetchItemDataBodySection); ok && part.Literal != nil {
				return readLiteral(part.Literal, size, most)
			}
		}
	}
	return nil, nil
}

// readLiteral reads a body whole. The library gives the end of a lost connection for
// the end of the body, so that the bytes must be counted.
func readLiteral(lit imap.LiteralReader, size, most int64) ([]byte, error) {
	if lit.Size() > most {
		return nil, errTooLarge
	}
	var buf bytes.Buffer
	buf.Grow(int(min(size, lit.Size(), 1<<20)) + bytes.MinRead)
	n, err := io.Copy(&buf, lit)
	if err != nil || n != lit.Size() {
		return nil, errCutShort
	}
	return buf.Bytes(), nil
}

// markSeen adds \Seen.
func (s *session) markSeen(uids []uint32) error {
	return s.do(s.b.limits.answer, s.b.limits.line+200*int64(len(uids)), func() error {
		return s.c.Store(set(uids), &imap.StoreFlags{Op: imap.StoreFlagsAdd, Silent: true, Flags: []imap.Flag{imap.FlagSeen}}, nil).Close()
	})
}

// move moves messages; only called where the server has MOVE and the folder exists.
func (s *session) move(uids []uint32, folder string) error {
	return s.do(s.b.limits.answer, s.b.limits.line+200*int64(len(uids)), func() error {
		_, err := s.c.Move(set(uids), folder).Wait()
		return err
	})
}

func set(uids []uint32) imap.UIDSet {
	var out imap.UIDSet
	for _, n := range uids {
		out.AddNum(imap.UID(n))
	}
	return out
}
