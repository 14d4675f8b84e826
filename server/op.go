package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"time"

	"dunlin/cases/measures"
	"dunlin/cases/store"
)

// op is one job on a store, run on a file this process opens or, while a serving
// program holds the file, by that program over its socket. Everything the job reads
// travels in it.
type op struct {
	Command string   `json:"command"`
	JSON    bool     `json:"json,omitempty"`
	On      string   `json:"on,omitempty"`
	From    string   `json:"from,omitempty"`
	To      string   `json:"to,omitempty"`
	Path    string   `json:"path,omitempty"`
	Files   []opFile `json:"files,omitempty"`
	DryRun  bool     `json:"dry_run,omitempty"`
	Rates   bool     `json:"rates,omitempty"`
	Faults  bool     `json:"faults,omitempty"`
	// Interval is what report is asked about; its window is From and To.
	Interval *measures.Question `json:"interval,omitempty"`
	// Reference and Reason are of one case that leaves the program.
	Reference string      `json:"reference,omitempty"`
	Reason    string      `json:"reason,omitempty"`
	Year      *yearReport `json:"year,omitempty"`
	Heads     string      `json:"heads,omitempty"` // lines noted outside the store, for check
	Who       string      `json:"who"`
	Account   account     `json:"account,omitzero"`
	Backup    backupAsk   `json:"backup,omitzero"`
	Export    exportJob   `json:"export,omitzero"`
}

// opFile is a file as read by the caller.
type opFile struct {
	Name string `json:"name"`
	Data []byte `json:"data"`
}

// run does the job on an open site.
func (o *op) run(ctx context.Context, s *site, out io.Writer) (code int, err error) {
	work, ok := map[string]func(context.Context, *site, io.Writer) (int, error){
		"import": o.importFiles, "overdue": o.overdue, "report": o.report,
		"check": o.check, "read-mail": o.readMail, "backup": o.backup, "account": o.account,
		"export": o.export, "export-case": o.exportCase,
	}[o.Command]
	if !ok {
		return exitUsage, fmt.Errorf("there is no job %q", o.Command)
	}
	return work(ctx, s, out)
}

// How long to wait for the store: briefly before asking whoever serves it, longer
// when nobody does and another command has it.
const (
	shortWait = 150 * time.Millisecond
	longWait  = 2 * time.Second
)

// doOp runs a job on the store of the settings, wherever it is open.
func doOp(ctx context.Context, std stdio, cfg *config, o *op, mustExist bool) int {
	o.Who = osUser()
	s, err := openSite(cfg, mustExist, shortWait, nil)
	if errors.Is(err, store.ErrLocked) {
		code, asked, rerr := askServer(ctx, cfg.socket(), o, std.out)
		switch {
		case asked && rerr != nil:
			return fail(std, o.Command, rerr)
		case asked:
			return code
		}
		s, err = openSite(cfg, mustExist, longWait, nil)
	}
	if err != nil {
		return fail(std, o.Command, err)
	}
	code, err := o.run(ctx, s, std.out)
	if cerr := s.close(); err == nil {
		err = cerr
	}
	if err != nil {
		fail(std, o.Command, err)
		return max(code, exitFailed)
	}
	return code
}

func osUser() string {
	for _, name := range []string{"USER", "LOGNAME"} {
		if u := os.Getenv(name); u != "" {
			return u
		}
	}
	return "command line"
}

// opAnswer ends the output of a job run by the serving program.
type opAnswer struct {
	Out  []byte `json:"out"`
	Code int    `json:"code"`
	Err  string `json:"err,omitempty"`
}

// askServer sends a job to the program that serves the store. asked is false when
// nobody listens.
func askServer(ctx context.Context, socket string, o *op, out io.Writer) (code int, asked bool, err error) {
	body, err := json.Marshal(o)
	if err != nil {
		return exitFailed, true, err
	}
	var d net.Dialer
	client := http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return d.DialContext(ctx, "unix", socket)
	}}}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://dunlin/job", bytes.NewReader(body))
	if err != nil {
		return exitFailed, true, err
	}
	req.Header.Set("Content-Type", "application/json")
	resp, err := client.Do(req)
	if err != nil {
		var op *net.OpError
		nobody := errors.As(err, &op) && op.Op == "dial"
		return exitFailed, !nobody, err
	}
	defer resp.Body.Close()
	var a opAnswer
	if err := json.NewDecoder(resp.Body).Decode(&a); err != nil {
		return exitFailed, true, fmt.Errorf("the serving program did not answer: %w", err)
	}
	if _, err := out.Write(a.Out); err != nil {
		return exitFailed, true, err
	}
	if a.Err != "" {
		return a.Code, true, errors.New(a.Err)
	}
	return a.Code, true, nil
}

// listenForOps serves jobs on a Unix socket that only this user can open. It stops
// with the context.
func listenForOps(ctx context.Context, s *site, socket string) (stop func(), err error) {
	if err := removeStale(socket); err != nil {
		return nil, err
	}
	old := umask(0o177)
	ln, err := net.Listen("unix", socket)
	umask(old)
	if err != nil {
		return nil, fmt.Errorf("the command socket: %w", err)
	}
	srv := &http.Server{
		Handler:           http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { answerOp(w, r, s) }),
		ReadHeaderTimeout: 5 * time.Second, BaseContext: func(net.Listener) context.Context { return ctx },
	}
	go srv.Serve(ln)
	return func() {
		end, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		srv.Shutdown(end)
	}, nil
}

// removeStale clears a socket left by a program that was killed. The store's lock
// says that nobody serves it now.
func removeStale(socket string) error {
	info, err := os.Lstat(socket)
	if err != nil {
		return nil
	}
	if info.Mode()&os.ModeSocket == 0 {
		return fmt.Errorf("%s is in the way and is not a socket; move it", socket)
	}
	return os.Remove(socket)
}

const maxOp = 64 << 20

func answerOp(w http.ResponseWriter, r *http.Request, s *site) {
	var o op
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxOp)).Decode(&o); err != nil {
		http.Error(w, "the job cannot be read", http.StatusBadRequest)
		return
	}
	var out bytes.Buffer
	code, err := o.run(r.Context(), s, &out)
	a := opAnswer{Out: out.Bytes(), Code: code}
	if err != nil {
		a.Err, a.Code = people(err), max(code, exitFailed)
	}
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(a)
}
