package mllp

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"sync"
	"time"

	"dunlin/cases/intake"
)

// Options are the listener's. Receive and one of Listener and Addr are required.
type Options struct {
	Listener net.Listener // already open and without TLS; closed when Serve returns
	Addr     string       // host and port to listen on when Listener is nil
	TLS      *tls.Config  // with ClientCAs; nil is allowed on loopback only
	Live     bool         // test messages are rejected; the same as intake.Settings.Live
	// Receive stores a document and decides on it. It returns without an error only
	// when the document is on the disk.
	Receive func(context.Context, intake.Document) (intake.Result, error)
	Log     *slog.Logger     // nil logs nothing
	Now     func() time.Time // in the program's zone; time.Now when nil

	Limits
}

// Limits bound what one connection, and all together, may use; zero values stand
// for the defaults.
type Limits struct {
	MaxFrame int           // bytes of a message (5 MB)
	MaxConns int           // connections at one time (64)
	Idle     time.Duration // between messages (15 min)
	Frame    time.Duration // for one message to come, and for a TLS handshake (60 s, 10 s)
	Store    time.Duration // for one message to be stored (45 s)
	Write    time.Duration // for an answer to be taken (15 s)
	Grace    time.Duration // for messages under way when the server stops (8 s)
}

func (l *Limits) settle() {
	if l.MaxFrame <= 0 {
		l.MaxFrame = 5 << 20
	}
	if l.MaxConns <= 0 {
		l.MaxConns = 64
	}
	for d, std := range map[*time.Duration]time.Duration{&l.Idle: 15 * time.Minute, &l.Frame: time.Minute,
		&l.Store: 45 * time.Second, &l.Write: 15 * time.Second, &l.Grace: 8 * time.Second} {
		if *d <= 0 {
			*d = std
		}
	}
}

// Server is a listener for HL7 messages.
type Server struct {
	opt Options
	tls *tls.Config
	ln  net.Listener

	mu       sync.Mutex
	conns    map[*conn]bool
	greeting int // connections in a TLS handshake
	stopping bool
	refused  int       // connections turned away since the last line about them
	said     time.Time // when that line was written
	all      sync.WaitGroup

	base   context.Context // of handshakes; ends when the server stops
	cancel context.CancelFunc
}

// New opens the listener, so that a wrong address or a missing certificate is known
// at once; Serve answers on it.
func New(o Options) (*Server, error) {
	if o.Receive == nil {
		return nil, errors.New("mllp: Receive is missing")
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	o.settle()
	s := &Server{opt: o, ln: o.Listener, conns: map[*conn]bool{}}
	s.base, s.cancel = context.WithCancel(context.Background())
	var err error
	if o.TLS != nil {
		if s.tls, err = strict(o.TLS); err != nil {
			return nil, err
		}
	}
	if s.ln == nil {
		if s.ln, err = net.Listen("tcp", o.Addr); err != nil {
			return nil, fmt.Errorf("HL7 messages cannot be listened for: %w", err)
		}
	}
	if s.tls == nil && !loopback(s.ln.Addr()) {
		s.ln.Close()
		return nil, fmt.Errorf("HL7 messages are taken without TLS on loopback only, and %s can be reached from outside; give certificate, key and the senders' authority", s.ln.Addr())
	}
	return s, nil
}

// Addr is the address that is listened on.
func (s *Server) Addr() net.Addr { return s.ln.Addr() }

// Serve answers until the context ends. Then it takes no more connections, closes
// those that wait, lets messages under way be stored and answered, and returns nil.
func (s *Server) Serve(ctx context.Context) error {
	stop := context.AfterFunc(ctx, func() { s.ln.Close() })
	defer stop()
	err := s.accept(ctx)
	s.ln.Close()
	s.drain()
	if ctx.Err() != nil {
		return nil
	}
	return err
}

// accept takes connections until the listener is closed. Trouble that passes, such
// as too many open files, is waited out.
func (s *Server) accept(ctx context.Context) error {
	wait := 5 * time.Millisecond
	for {
		c, err := s.ln.Accept()
		if err == nil {
			wait = 5 * time.Millisecond
			s.begin(c)
			continue
		}
		if ctx.Err() != nil || errors.Is(err, net.ErrClosed) {
			return err
		}
		s.opt.Log.Warn("a connection was not taken", "err", err)
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(wait):
			wait = min(2*wait, time.Second)
		}
	}
}

// begin starts a connection unless there are too many. Handshakes are counted apart,
// so that who has no certificate takes no place from those who have.
func (s *Server) begin(nc net.Conn) {
	s.mu.Lock()
	defer s.mu.Unlock()
	full := s.stopping || s.tls == nil && len(s.conns) >= s.opt.MaxConns || s.greeting >= s.opt.MaxConns
	if full {
		s.turnAway(host(nc), nil)
		nc.Close()
		return
	}
	s.all.Add(1)
	if s.tls != nil {
		s.greeting++
		go s.greet(nc)
		return
	}
	go s.serve(s.enter(nc, "mllp"))
}

// greet makes the TLS handshake.
func (s *Server) greet(nc net.Conn) {
	tc := tls.Server(nc, s.tls)
	ctx, cancel := context.WithTimeout(s.base, min(s.opt.Frame, 10*time.Second))
	err := tc.HandshakeContext(ctx)
	cancel()
	s.mu.Lock()
	s.greeting--
	full := s.stopping || len(s.conns) >= s.opt.MaxConns
	if err != nil || full {
		s.turnAway(host(nc), err)
		s.mu.Unlock()
		tc.Close()
		s.all.Done()
		return
	}
	c := s.enter(tc, certName(tc.ConnectionState().PeerCertificates[0]))
	s.mu.Unlock()
	s.serve(c)
}

// turnAway logs a refused connection, at most one a second, so that a flood of them
// does not fill the log. The lock is held.
func (s *Server) turnAway(from string, err error) {
	s.refused++
	if time.Since(s.said) < time.Second {
		return
	}
	if err == nil {
		err = errors.New("too many connections")
	}
	s.opt.Log.Warn("connections were refused", "number", s.refused, "last", from, "err", err)
	s.refused, s.said = 0, time.Now()
}

// enter counts a connection in; the lock is held.
func (s *Server) enter(nc net.Conn, sender string) *conn {
	c := &conn{Conn: nc, s: s, sender: sender}
	s.conns[c] = true
	return c
}

func (s *Server) leave(c *conn) {
	c.Close()
	s.mu.Lock()
	delete(s.conns, c)
	s.mu.Unlock()
	s.all.Done()
}

// drain ends the connections that wait at once and the others after their message,
// or when the grace is over.
func (s *Server) drain() {
	s.cancel()
	s.mu.Lock()
	s.stopping = true
	for c := range s.conns {
		c.hurry(s.opt.Grace)
	}
	s.mu.Unlock()
	over := time.AfterFunc(s.opt.Grace, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		for c := range s.conns {
			c.Close()
		}
	})
	defer over.Stop()
	s.all.Wait()
}

func host(c net.Conn) string {
	h, _, err := net.SplitHostPort(c.RemoteAddr().String())
	if err != nil {
		return c.RemoteAddr().String()
	}
	return h
}
