package mllp

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strings"
	"sync"
	"time"

	"dunlin/cases/intake"
	"dunlin/cases/intake/hl7"
)

// conn is one sender's connection. Messages on it are stored and answered one after
// the other, in the order in which they came.
type conn struct {
	net.Conn
	s      *Server
	sender string

	mu    sync.Mutex
	busy  bool // a message is coming or being stored
	until time.Time
}

// rest waits for the next message; false when the server stops.
func (c *conn) rest() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.busy = false
	if !c.until.IsZero() {
		return false
	}
	return c.SetReadDeadline(time.Now().Add(c.s.opt.Idle)) == nil
}

// work marks that a message is coming and bounds its time.
func (c *conn) work() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.busy = true
	until := time.Now().Add(c.s.opt.Frame)
	if !c.until.IsZero() && c.until.Before(until) {
		until = c.until
	}
	_ = c.SetReadDeadline(until) // a closed connection says so at the next read
}

// hurry ends a connection that waits, and gives one at work until the grace is over.
func (c *conn) hurry(grace time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.until = time.Now().Add(grace)
	until := c.until
	if !c.busy {
		until = time.Unix(1, 0)
	}
	_ = c.SetReadDeadline(until)
}

// serve reads messages until the connection ends.
func (s *Server) serve(c *conn) {
	defer s.leave(c)
	log := s.opt.Log.With("from", host(c), "sender", c.sender)
	rd := newFrameReader(c, s.opt.MaxFrame, c.work)
	for c.rest() {
		fr, err := rd.next()
		if n := rd.strayed(); n > 0 {
			log.Warn("bytes outside a message were skipped", "bytes", n)
		}
		if err != nil {
			if !errors.Is(err, io.EOF) && !errors.Is(err, os.ErrDeadlineExceeded) && !errors.Is(err, net.ErrClosed) {
				log.Warn("a connection ended", "err", err)
			}
			return
		}
		c.work()
		if err := c.handle(fr); err != nil {
			log.Warn("a connection ended", "err", err)
			return
		}
	}
}

// document is what a frame becomes. A part keeps its start, by which a reader knows
// that the end is missing.
func (c *conn) document(fr frame, number string) intake.Document {
	d := intake.Document{Source: "interface", Sender: c.sender, Name: "HL7 message", At: c.s.opt.Now(), Raw: fr.body}
	if number = intake.Shorten(number); number != "" {
		d.Name += " " + number
	}
	if fr.part || fr.large {
		d.Part, d.Name = true, "part of an "+d.Name
		d.Raw = append([]byte{startBlock}, fr.body...)
	}
	return d
}

// handle stores one frame and answers it. The error ends the connection.
func (c *conn) handle(fr frame) error {
	begun := time.Now()
	o := hl7.AnswerOptions{Now: c.s.opt.Now(), ID: newID, Live: c.s.opt.Live}
	if fr.large {
		o.Instead = &hl7.Refusal{Code: hl7.Errors, Error: 207,
			Text: fmt.Sprintf("The message is larger than %s. Its beginning is kept for review; send it in smaller messages.", size(c.s.opt.MaxFrame))}
	}
	a, aerr := answer(fr.body, o)
	number := strings.Join(a.IDs[:min(1, len(a.IDs))], "")
	ctx, cancel := context.WithTimeout(context.Background(), c.s.opt.Store)
	defer cancel()
	_, err := c.s.opt.Receive(ctx, c.document(fr, number))
	log := c.s.opt.Log.With("sender", c.sender, "number", number, "bytes", len(fr.body), "ms", time.Since(begun).Milliseconds())
	if fr.part {
		if err != nil {
			log.Error("a part of a message could not be stored; the sender was not answered", "err", err)
			return nil
		}
		log.Warn("a message broke off; the part is kept and was not answered")
		return nil
	}
	if err != nil || aerr != nil {
		o.Instead = &hl7.Refusal{Code: hl7.Rejected, Error: 207, Text: "The message could not be stored now. Keep it and send it again."}
		if err == nil {
			o.Instead.Code, o.Instead.Text = hl7.Errors, "The message is kept for review; it could not be read because of a fault in this program."
		}
		log.Error("a message is answered with trouble", "err", errors.Join(err, aerr))
		a, aerr = answer(fr.body, o)
	}
	if aerr != nil {
		return aerr
	}
	log.Info("message", "codes", a.Codes, "answered", a.Raw != nil)
	if a.Raw == nil {
		if err != nil {
			return errors.New("not stored, and the sender wants no answer")
		}
		return nil
	}
	if err := c.SetWriteDeadline(time.Now().Add(c.s.opt.Write)); err != nil {
		return err
	}
	_, err = c.Write(framed(a.Raw))
	return err
}

// answer is hl7.AnswerTo; a fault in it is an error and stops no other message.
func answer(raw []byte, o hl7.AnswerOptions) (a hl7.Answer, err error) {
	defer func() {
		if x := recover(); x != nil {
			err = fmt.Errorf("mllp: panic while an answer was written: %v", x)
		}
	}()
	return hl7.AnswerTo(raw, o), nil
}

// newID numbers an answer.
func newID() string { return rand.Text()[:20] }
