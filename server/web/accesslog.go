package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"

	"dunlin/cases"

	"github.com/labstack/echo/v4"
)

// The access log has one line for each request in which somebody saw or changed facts
// about infants, or was refused them. The line is written before the first byte of the
// answer goes out: no line, no page. Which infants a page shows is read from the page
// itself, where every infant stands with the reference; what is not a page says it with
// saw. So a new page is in the log without doing anything for it.

// visit is what one request will be in the access log.
type visit struct {
	refs []string
	what string // report and filter in words
	why  string // reason as typed
	rows int
	done bool // the line was written in the transaction of what the person did

	who       cases.Account
	open      map[string]cases.Access // cases of other sites that the person has open for a reason
	elsewhere []string                // cases of other sites that a search found
}

// visitOf is the request's line of the access log so far; requests without a session
// have one that is not kept.
func visitOf(c Ctx) *visit {
	v := visitIn(c.Request().Context())
	if v == nil {
		v = &visit{}
	}
	return v
}

// saw says which infants an answer is about that is not a page, or does not show the
// reference.
func saw(c Ctx, refs ...string) {
	v := visitOf(c)
	v.refs = append(v.refs, refs...)
}

// sawCases is saw for cases known by their identifiers.
func sawCases(c Ctx, r cases.Reader, ids ...cases.ID) error {
	for _, id := range ids {
		if id == "" {
			continue // a list of the day is of no case
		}
		k, err := r.Case(id)
		if err != nil {
			return err
		}
		saw(c, k.Reference)
	}
	return nil
}

// sawNoted takes the words of an audit entry about what is handed out.
func sawNoted(c Ctx, e cases.Event, rows int) {
	v := visitOf(c)
	v.what, v.why, v.rows = e.Text, e.Reason, max(v.rows, rows)
}

// watched runs a handler, and its page of trouble, with an answer that goes out only
// once the access log has its line.
func (s *server) watched(c Ctx, next func() error) error {
	c.SetRequest(c.Request().WithContext(context.WithValue(c.Request().Context(), visitCtx{}, &visit{who: userOf(c)})))
	res := c.Response()
	w := &accessWriter{ResponseWriter: res.Writer, s: s, c: c}
	res.Writer = w
	err := next()
	if werr := w.begin(nil); werr != nil && err == nil {
		err = werr
	}
	return err
}

// accessWriter holds the heading of an answer back until its line is written.
type accessWriter struct {
	http.ResponseWriter
	s      *server
	c      Ctx
	status int
	begun  bool
	failed error
}

// WriteHeader keeps the status.
func (w *accessWriter) WriteHeader(status int) {
	if w.status == 0 {
		w.status = status
	}
}

// Write sends, after the line was written.
func (w *accessWriter) Write(b []byte) (int, error) {
	if w.status == 0 {
		w.status = http.StatusOK
	}
	if err := w.begin(b); err != nil {
		return 0, err
	}
	return w.ResponseWriter.Write(b)
}

// FlushError sends what is there, for answers that are made bit by bit.
func (w *accessWriter) FlushError() error {
	if err := w.begin(nil); err != nil {
		return err
	}
	return http.NewResponseController(w.ResponseWriter).Flush()
}

// Unwrap lets a deadline be set on the connection.
func (w *accessWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// begin writes the line of the access log and then the heading; first is the first
// part of the answer. Where the line cannot be written the answer is not given.
func (w *accessWriter) begin(first []byte) error {
	if w.begun || w.status == 0 {
		return w.failed
	}
	w.begun = true
	err := w.s.logVisit(w.c, w.status, first)
	if err == nil {
		w.ResponseWriter.WriteHeader(w.status)
		return nil
	}
	w.s.Log.Error("access log", "request", requestOf(w.c), "err", err)
	w.failed = fmt.Errorf("web: access log: %w", err)
	h := w.Header()
	for _, name := range []string{"Content-Disposition", "Content-Length", "Location", "Etag"} {
		h.Del(name)
	}
	h.Set("Content-Type", echo.MIMETextHTMLCharsetUTF8)
	h.Set("Content-Security-Policy", policy)
	w.c.Response().Status = http.StatusServiceUnavailable
	w.ResponseWriter.WriteHeader(http.StatusServiceUnavailable)
	if _, serr := w.ResponseWriter.Write(w.s.unlogged.with(requestOf(w.c))); serr != nil {
		w.s.Log.Info("the page about the access log was not sent", "err", serr)
	}
	return w.failed
}

// logVisit writes the line of a request, where it has one: its route is about infants,
// or the answer names one, or the person was refused.
func (s *server) logVisit(c Ctx, status int, first []byte) error {
	acc := userOf(c)
	if acc.ID == "" {
		return nil
	}
	v := visitOf(c)
	if v.done && status < http.StatusBadRequest {
		return nil
	}
	h := c.Response().Header()
	refs := append(v.refs, referencesIn([]byte(c.Param("ref")))...)
	if strings.HasPrefix(h.Get("Content-Type"), "text/html") {
		refs = append(refs, referencesIn(first)...)
	}
	refs = append(refs, referencesIn([]byte(h.Get("Location")))...)
	act, known := accessAct(c.Request().Method, c.Path())
	if !known && status == http.StatusNotFound {
		act = actQuiet // an address that leads nowhere
	}
	if act == actFigures {
		if act = actQuiet; v.what != "" {
			act = cases.ActView
		}
	}
	a := cases.Access{By: acc.ID, Role: acc.Role, Act: act, Route: c.Request().Method + " " + c.Path(), Status: status, Infants: refs, Rows: v.rows,
		What: clipText(v.what, 400), Why: clipText(v.why, 400), From: c.RealIP(), Session: s.sessionMark(c), Request: requestOf(c)}
	if act == actQuiet {
		if len(refs) == 0 && status != http.StatusUnauthorized && status != http.StatusForbidden {
			return nil
		}
		a.Act = cases.ActView
	}
	return s.lines.log(c.Request().Context(), a)
}

// sessionMark tells sessions of one person apart, and opens none.
func (s *server) sessionMark(c Ctx) string {
	sum := sha256.Sum256([]byte("session " + s.Auth.Token(c.Request().Context())))
	return hex.EncodeToString(sum[:4])
}

func clipText(text string, most int) string {
	if len(text) > most {
		text = strings.ToValidUTF8(text[:most], "") + "…"
	}
	return text
}

// referencesIn finds references in a text: two capital letters, a year, a running
// number of four digits or more.
func referencesIn(text []byte) (out []string) {
	const head = len("AB-2026-")
	seen := map[string]bool{}
	for i := 0; i+head+4 <= len(text); i++ {
		if text[i+2] != '-' || !upper(text[i]) || !upper(text[i+1]) || i > 0 && (upper(text[i-1]) || digit(text[i-1])) {
			continue
		}
		end := i + head
		if text[end-1] != '-' || !digits(text[i+3:end-1]) {
			continue
		}
		for end < len(text) && digit(text[end]) {
			end++
		}
		if ref := string(text[i:end]); end-i >= head+4 && !seen[ref] {
			seen[ref] = true
			out = append(out, ref)
		}
		i = end - 1
	}
	return out
}

func upper(b byte) bool { return b >= 'A' && b <= 'Z' }
func digit(b byte) bool { return b >= '0' && b <= '9' }

func digits(b []byte) bool {
	for _, d := range b {
		if !digit(d) {
			return false
		}
	}
	return true
}

// accessLines writes lines of the access log, those of requests that come together in
// one transaction, so that many people cost one disk sync.
type accessLines struct {
	store   cases.Store
	mu      sync.Mutex
	waiting []pendingLine
	busy    bool
}

type pendingLine struct {
	line cases.Access
	done chan error
}

// accessActor writes the access log; the person stands in the line.
var accessActor = cases.Actor{ID: "system", Name: "Dunlin", Role: cases.System, Via: "access log"}

// accessWait bounds how long an answer waits for its line, also when the request itself
// has run out of time.
const accessWait = 10 * time.Second

// log writes a line and comes back when it is on the disk.
func (l *accessLines) log(ctx context.Context, a cases.Access) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), accessWait)
	defer cancel()
	p := pendingLine{a, make(chan error, 1)}
	l.mu.Lock()
	l.waiting = append(l.waiting, p)
	begin := !l.busy
	l.busy = true
	l.mu.Unlock()
	if begin {
		go l.write()
	}
	select {
	case err := <-p.done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// write writes what waits, until nothing does.
func (l *accessLines) write() {
	for {
		var mine []pendingLine
		ctx, cancel := context.WithTimeout(context.Background(), accessWait)
		err := l.store.Update(ctx, accessActor, func(w cases.Writer) error {
			mine = append(mine, l.take()...) // who came while the transaction waited for its turn goes along
			for _, p := range mine {
				if err := w.LogAccess(p.line); err != nil {
					return err
				}
			}
			return nil
		})
		cancel()
		if err != nil {
			mine = append(mine, l.take()...) // the transaction may not even have begun
		}
		for _, p := range mine {
			p.done <- err
		}
		l.mu.Lock()
		if len(l.waiting) == 0 {
			l.busy = false
			l.mu.Unlock()
			return
		}
		l.mu.Unlock()
	}
}

func (l *accessLines) take() []pendingLine {
	l.mu.Lock()
	defer l.mu.Unlock()
	all := l.waiting
	l.waiting = nil
	return all
}
