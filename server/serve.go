package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
	"dunlin/reminders/jobs"
	"dunlin/reminders/letters"
	"dunlin/server/auth"
	"dunlin/server/metrics"
	"dunlin/server/web"
	"dunlin/templates"
)

func serveCommand() command {
	return command{name: "serve", args: "[flags]", short: "serve the pages and run the daily job",
		long: `Serves the pages, runs the daily job (overdue list, then letters) and listens on a
socket beside the store for the other commands. Settings: --config FILE, DUNLIN_*
variables, flags; dunlin config names lists them all. While there is no account it
prints a link, good once and for 15 minutes, with which the first administrator is made.`,
		run: func(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
			get := configAllFlags(fs, usualFlags...)
			clockRight := fs.Bool("clock-is-right", false, "serve though the store has entries of a later time: the clock was wrong then")
			if code, done := parse(std, fs, args); done {
				return code
			}
			if fs.NArg() > 0 {
				return wrongUse(std, fs, "it takes no arguments")
			}
			cfg, err := get()
			if err == nil {
				err = cfg.Letters.Envelope.Check()
			}
			if err != nil {
				fmt.Fprintf(std.err, "dunlin serve: %s\n", people(err))
				return exitUsage
			}
			log := slog.New(slog.NewJSONHandler(std.err, &slog.HandlerOptions{Level: cfg.logLevel()}))
			s, err := openSite(cfg, false, longWait, log)
			if err != nil {
				return fail(std, "serve", err)
			}
			err = serve(ctx, s, serving{log: log, clockRight: *clockRight, ready: func(url string) {
				fmt.Fprintf(std.out, "Dunlin %s serves %s\n", release, url)
				warnSetUp(ctx, std, s, url)
			}})
			if cerr := s.close(); err == nil {
				err = cerr
			}
			if err != nil {
				return fail(std, "serve", err)
			}
			return exitOK
		}}
}

// warnSetUp says what a new program still lacks.
func warnSetUp(ctx context.Context, std stdio, s *site, url string) {
	err := s.db.View(ctx, func(r cases.Reader) error {
		if list, err := r.Accounts(); err == nil && len(list) == 0 {
			fmt.Fprintf(std.out, "There is no account yet. Open this link within 15 minutes to make the first administrator; it works once:\n  %s%s\n", s.cfg.address(url), web.FirstPath(s.guard.First()))
		}
		return nil
	})
	if s.cfg.Backup.Folder == "" {
		fmt.Fprintln(std.out, "No back-ups are made: set backup.folder and backup.recipients in the settings.")
	}
	if err == nil {
		err = s.cfg.Letters.Check()
	}
	if err != nil {
		fmt.Fprintf(std.out, "Letters cannot be made yet: %v\n", err)
	}
}

// serving is how a site is served.
type serving struct {
	log    *slog.Logger
	ready  func(url string)
	now    func() time.Time // time.Now when nil
	madeUp bool
	ids    []templates.DemoID
	listen string // the settings' address when empty

	clockRight bool             // a person says that the clock is right, though entries lie ahead of it
	counts     *metrics.Metrics // nil while nobody may ask
}

// serve serves pages, jobs, interfaces and the command socket until the context ends.
func serve(ctx context.Context, s *site, o serving) (err error) {
	if o.now == nil {
		o.now = time.Now
	}
	ctx, end := context.WithCancel(ctx)
	defer end() // what listens ends with it
	var cert *pagesCert
	if !o.madeUp {
		if err := s.checkClock(ctx, o.clockRight); err != nil {
			return err
		}
		if cert, err = s.cfg.pagesTLS(o.now()); err != nil {
			return err
		}
	}
	if err := s.beginSafely(ctx, o.log); err != nil {
		return err
	}
	work, err := s.works(o)
	if err != nil {
		return err
	}
	work.cert = cert
	if s.cfg.AdminListen != "" {
		o.counts = metrics.New(release, revision(), work.facts)
	}
	defer func() { err = errors.Join(err, work.stop(end)) }()
	handler, err := pages(s, o, work)
	if err != nil {
		return err
	}
	address := o.listen
	if address == "" {
		address = s.cfg.Listen
	}
	ln, err := listen("the pages", "listen", address)
	if err != nil {
		return err
	}
	defer ln.Close()
	admin, err := listenForAdmin(s.cfg, work, o.counts, o.log)
	if err != nil {
		return err
	}
	defer admin.stop()
	stopOps, err := listenForOps(ctx, s, s.cfg.socket())
	if err != nil {
		return err
	}
	defer stopOps()
	if err := takeUp(ctx, s, o.log); err != nil {
		return err
	}
	if err := work.start(ctx); err != nil {
		return err
	}
	admin.serve(o.log)
	return servePages(ctx, s, o, ln, handler, cert)
}

// pageLimits bound what one client may take; a test shortens them.
var pageLimits = struct {
	header, read, write, idle time.Duration
	headerBytes               int
}{5 * time.Second, 15 * time.Second, 30 * time.Second, time.Minute, 64 << 10}

// servePages serves until the context ends, then lets requests under way end.
func servePages(ctx context.Context, s *site, o serving, ln net.Listener, handler http.Handler, cert *pagesCert) error {
	srv := &http.Server{
		Handler: handler, ReadHeaderTimeout: pageLimits.header, ReadTimeout: pageLimits.read,
		WriteTimeout: pageLimits.write, IdleTimeout: pageLimits.idle, MaxHeaderBytes: pageLimits.headerBytes - 4096, // the library adds that much
		ErrorLog: slog.NewLogLogger(o.log.Handler(), slog.LevelWarn),
	}
	failed := make(chan error, 1)
	secure := cert != nil
	if secure {
		srv.TLSConfig = cert.config()
	}
	go func() {
		if secure {
			failed <- srv.ServeTLS(ln, "", "")
			return
		}
		failed <- srv.Serve(ln)
	}()
	scheme := "http"
	if secure {
		scheme = "https"
	}
	o.ready(scheme + "://" + ln.Addr().String())
	var served error
	select {
	case <-ctx.Done():
	case served = <-failed:
	}
	late, cancel := context.WithTimeout(context.Background(), stopLimit)
	defer cancel()
	err := srv.Shutdown(late)
	if errors.Is(err, context.DeadlineExceeded) {
		o.log.Warn("requests that did not end in time were cut off", "seconds", stopLimit.Seconds())
		err = srv.Close()
	}
	return errors.Join(served, err)
}

// stopLimit is how long what is under way may take to end; a test shortens it.
var stopLimit = 10 * time.Second

// pages makes the handler of all pages.
func pages(s *site, o serving, work *working) (http.Handler, error) {
	set, err := templates.Parse()
	if err != nil {
		return nil, err
	}
	press, err := s.press(o.log)
	if err != nil {
		return nil, err
	}
	s.cfg.logLetterTexts(press.Texts, o.log)
	guard, err := auth.New(s.db, auth.Options{Now: o.now, Secure: s.cfg.secure() && !o.madeUp, Sessions: s.db.Sessions(time.Now), Program: s.cfg.Letters.Name,
		Idle: s.cfg.SignIn.idle(), Absolute: s.cfg.SignIn.absolute()})
	if err != nil {
		return nil, err
	}
	s.guard = guard
	ways, err := s.areas(o.log)
	if err != nil {
		return nil, err
	}
	var observe func(string, string, int, time.Duration)
	if o.counts != nil {
		observe = o.counts.Request
	}
	signIn, err := s.cfg.signInService(o.now, o.log)
	if err != nil {
		return nil, err
	}
	return web.New(web.Deps{
		Observe: observe,
		Pages:   set, Store: s.db, Protocol: s.cfg.protocol, Auth: guard,
		Now: func() time.Time { return o.now().In(s.cfg.zone) }, Log: o.log,
		Program: s.cfg.Letters.Name, Help: s.cfg.Help, MadeUp: o.madeUp, Demo: o.ids, Secure: s.cfg.secure() && !o.madeUp, Proxies: s.cfg.proxies,
		Services: web.Services{LetterFacts: func() *letters.Program { return &s.cfg.Letters }, LetterTexts: press.Texts, Press: press, Intake: s.intake,
			Jobs: work, Mail: work, Out: work, Safe: work, SignIn: signIn, Keys: auth.Keys{Store: s.db}, Documents: work.queue, Centroids: ways, Areas: s.cfg.PostalAreas, CodesLeftOut: s.cfg.CodesLeftOut,
			// Without a name: calendars are shared, and the program's says what it is for.
			Organizer: schedule.Mailbox{Address: s.cfg.Outgoing.Mail.From}},
	})
}

// press makes the letters that are due.
func (s *site) press(log *slog.Logger) (*letters.Press, error) {
	texts, err := s.texts()
	if err != nil {
		return nil, err
	}
	p := &letters.Press{
		Store: s.db, Protocol: func() *cases.Protocol { return s.cfg.protocol },
		Program: func() *letters.Program { return s.letterFacts(log) }, Texts: texts, Log: log, Nowhere: s.nowhere,
	}
	return p, s.wordMessages(p)
}

// nowhere says why nobody can come to a booking: what is told to press and outbox.
func (s *site) nowhere(r cases.Reader, b *cases.Booking) (string, error) {
	return schedule.NoPlaceToCome(r, s.cfg.protocol.Calendar(), b)
}

// letterFacts are the program's facts with the test sites of the store as they are now.
// It reads the store, so it is not for use inside a transaction.
func (s *site) letterFacts(log *slog.Logger) *letters.Program {
	var list []schedule.Site
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		list, err = schedule.Sites(r)
		return err
	})
	if err != nil && log != nil { // letters that need a site of the store wait for the next run
		log.Error("test sites cannot be read for letters", "error", err)
	}
	return web.WithSites(&s.cfg.Letters, list)
}

// dailyJob keeps the day's overdue list, then makes the letters due.
func dailyJob(s *site, log *slog.Logger) jobs.Job {
	return jobs.Job{Name: "daily", Spec: s.cfg.Daily, Run: func(ctx context.Context, slot time.Time) (string, error) {
		p, err := s.press(log)
		if err != nil {
			return "", err
		}
		return letters.Daily(s.book, p)(ctx, slot)
	}}
}
