package mailbox

import (
	"net"
	"sync"
	"testing"
)

// proxy stands between the program and a server, and can do harm once: after so
// many bytes from the server.
type proxy struct {
	l      net.Listener
	target string

	mu    sync.Mutex
	after int64
	harm  func(client, server net.Conn) // nil: none
	once  bool
}

func newProxy(t testing.TB, target string) *proxy {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &proxy{l: l, target: target}
	var all sync.WaitGroup
	all.Go(func() {
		for {
			client, err := l.Accept()
			if err != nil {
				return
			}
			all.Go(func() { p.pass(client) })
		}
	})
	t.Cleanup(func() { l.Close(); all.Wait() })
	return p
}

// do sets the harm that is done after so many bytes; once, or to each connection.
func (p *proxy) do(after int64, once bool, harm func(client, server net.Conn)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.after, p.once, p.harm = after, once, harm
}

func cut(client, server net.Conn) { client.Close(); server.Close() }

// fallSilent lets nothing more through until the client hangs up.
func fallSilent(client, server net.Conn) { drain(client) }

func drain(c net.Conn) {
	for buf := make([]byte, 4096); ; {
		if _, err := c.Read(buf); err != nil {
			return
		}
	}
}

func (p *proxy) pass(client net.Conn) {
	defer client.Close()
	server, err := net.Dial("tcp", p.target)
	if err != nil {
		return
	}
	defer server.Close()
	quiet := make(chan bool)
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := client.Read(buf)
			if err != nil {
				client.Close() // wakes drain
				server.Close()
				return
			}
			select {
			case <-quiet:
				continue
			default:
			}
			if _, err := server.Write(buf[:n]); err != nil {
				return
			}
		}
	}()
	seen := int64(0)
	for buf := make([]byte, 4096); ; {
		n, err := server.Read(buf)
		if err != nil {
			return
		}
		if _, err := client.Write(buf[:n]); err != nil {
			return
		}
		seen += int64(n)
		p.mu.Lock()
		harm := p.harm
		if seen < p.after {
			harm = nil
		} else if p.once {
			p.harm = nil
		}
		p.mu.Unlock()
		if harm != nil {
			close(quiet)
			harm(client, server)
			return
		}
	}
}
