package main

import (
	"context"
	"errors"
	"log/slog"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/reminders/jobs"
	"dunlin/reminders/mailbox"
	"dunlin/reminders/outbox"
	"dunlin/server/mllp"
	"dunlin/server/web"
)

// mailJob is the name of the job that reads the mailbox.
const mailJob = "mailbox"

// mailBox makes the reader of the mailbox; nil when none is set up.
func (s *site) mailBox(now func() time.Time, log *slog.Logger) (*mailbox.Box, error) {
	m := s.cfg.Mailbox
	if m.Address == "" {
		return nil, nil
	}
	roots, err := certificates(m.CAFile)
	if err != nil {
		return nil, err
	}
	return mailbox.New(mailbox.Options{
		Addr: m.Address, Security: m.Security, User: m.User, Folder: m.Folder, Handled: m.Handled, Trouble: m.Trouble,
		Password: m.password, RootCAs: roots, MaxMessage: int64(m.MaxMB) << 20, Log: log, Now: now,
	}, s.db, s.intake)
}

// readMail is the job that polls the mailbox. It has a runner of its own, so that a
// mail server that hangs keeps no other job waiting.
func readMail(box *mailbox.Box, every string) jobs.Job {
	return jobs.Job{Name: mailJob, Spec: every, Stale: 10 * time.Minute, Run: func(ctx context.Context, _ time.Time) (string, error) {
		tally, err := box.Poll(ctx)
		if err != nil && tally.Found == 0 {
			return "", err // whether there is mail was not found out
		}
		return tally.String(), err
	}}
}

// working is how the jobs and the mailbox stand, for the pages.
type working struct {
	runners []*jobs.Runner
	box     *mailbox.Box   // nil when no mailbox is set up
	outbox  *outbox.Worker // nil when nothing is set up to send by
	folder  string         // that messages go to instead
	every   string
	zone    *time.Location
	queue   *intake.Queue // shares the disk's syncs between interfaces
	hl7     *mllp.Server  // nil when no interface is set up
	hl7Done chan struct{} // closed when it has ended
	site    *site
	hand    hand // back-ups that people ask for
	log     *slog.Logger
	now     func() time.Time
	cert    *pagesCert // of the pages; nil when a proxy or nobody shows one
}

// works sets up the jobs of a serving program.
func (s *site) works(o serving) (*working, error) {
	w := &working{site: s, every: s.cfg.Mailbox.Every, zone: s.cfg.zone, log: o.log, now: o.now, queue: intake.NewQueue(s.intake, intake.QueueLimits{})}
	add := func(j jobs.Job) error {
		r, err := jobs.New(jobs.Options{Ledger: s.db, Zone: s.cfg.zone, Now: o.now, Log: o.log}, j)
		w.runners = append(w.runners, r)
		return err
	}
	if err := add(dailyJob(s, o.log)); err != nil {
		return nil, err
	}
	if s.cfg.HeadsFile != "" {
		if err := add(s.noteHeads()); err != nil {
			return nil, err
		}
	}
	if err := s.addSafeJobs(add); err != nil {
		return nil, err
	}
	var err error
	if w.box, err = s.mailBox(o.now, o.log); err != nil {
		return nil, err
	}
	if s.box = w.box; w.box != nil {
		if err := add(readMail(w.box, s.cfg.Mailbox.Every)); err != nil {
			return nil, err
		}
	}
	if w.outbox, err = s.outbox(o.now, o.log); err != nil {
		return nil, err
	}
	if w.folder = s.cfg.Outgoing.Folder; w.outbox != nil {
		if err := add(s.sendOut(w.outbox)); err != nil {
			return nil, err
		}
	}
	w.hl7, err = s.listenHL7(w.queue, o)
	return w, err
}

// interfaceActor records what the HL7 listener takes in.
var interfaceActor = cases.Actor{ID: "interface", Name: "HL7 interface", Role: cases.System, Via: "interface"}

// listenHL7 opens the HL7 listener; nil when none is set up.
func (s *site) listenHL7(q *intake.Queue, o serving) (*mllp.Server, error) {
	i := s.cfg.Interface
	if i.Listen == "" {
		return nil, nil
	}
	opt := mllp.Options{Addr: i.Listen, Live: s.cfg.Live, Log: o.log, Now: func() time.Time { return o.now().In(s.cfg.zone) },
		Receive: func(ctx context.Context, d intake.Document) (intake.Result, error) {
			return q.Receive(ctx, interfaceActor, d)
		}}
	var err error
	if i.Cert != "" {
		if opt.TLS, err = mllp.LoadTLS(i.Cert, i.Key, i.ClientCA); err != nil {
			return nil, err
		}
	}
	return mllp.New(opt)
}

func (w *working) start(ctx context.Context) error {
	if w.hl7 != nil {
		w.hl7Done = make(chan struct{})
		go func() {
			defer close(w.hl7Done)
			if err := w.hl7.Serve(ctx); err != nil {
				w.log.Error("the HL7 listener ended", "err", err)
			}
		}()
	}
	for _, r := range w.runners {
		if err := r.Start(ctx); err != nil {
			return err
		}
	}
	return nil
}

// stop stops what takes messages in, then the jobs. end ends the context that they
// were started with; what was never started is only let go.
func (w *working) stop(end context.CancelFunc) error {
	ctx, cancel := context.WithTimeout(context.Background(), stopLimit)
	defer cancel()
	var errs []error
	if w.hl7 != nil && w.hl7Done == nil {
		gone, now := context.WithCancel(ctx)
		now()
		errs = append(errs, w.hl7.Serve(gone)) // closes the listener
	}
	for _, r := range w.runners {
		errs = append(errs, r.Stop(ctx))
	}
	w.hand.stop()
	end()
	if w.hl7Done != nil {
		<-w.hl7Done // bounded by its own grace
	}
	w.queue.Stop()
	return errors.Join(errs...)
}

// Jobs tells of every job.
func (w *working) Jobs(ctx context.Context) ([]web.Job, error) {
	var out []web.Job
	for _, r := range w.runners {
		list, err := r.Status(ctx)
		if err != nil {
			return nil, err
		}
		for _, s := range list {
			out = append(out, web.Job{Name: s.Name, Spec: s.Spec, Last: s.Last, Good: s.LastGood, Next: s.Next, Running: s.Running, Warning: s.Warning})
		}
	}
	if warning := w.cert.warning(w.now(), w.zone); warning != "" {
		out = append(out, web.Job{Name: "certificate", Title: "Certificate of the pages", Warning: warning})
	}
	return out, nil
}

// RunNow starts a job in the background.
func (w *working) RunNow(ctx context.Context, a cases.Actor, name string) (bool, error) {
	for _, r := range w.runners {
		list, err := r.Status(ctx)
		if err != nil {
			return false, err
		}
		for _, s := range list {
			if s.Name != name {
				continue
			}
			if s.Running {
				return false, nil
			}
			w.log.Info("job started by hand", "job", name, "by", a.ID)
			go func() {
				if _, err := r.RunNow(context.WithoutCancel(ctx), name); err != nil {
					w.log.Error("jobs", "job", name, "err", err)
				}
			}()
			return true, nil
		}
	}
	return false, cases.Errorf(cases.NotFound, "There is no job of this name.")
}

// Mailbox tells how the mailbox is: what this program saw since it started, and what
// the ledger knows from before.
func (w *working) Mailbox(ctx context.Context) (web.Mailbox, error) {
	if w.box == nil {
		return web.Mailbox{}, nil
	}
	now := w.box.Status()
	m := web.Mailbox{Name: w.box.Name(), Good: now.Good, Tried: now.Tried, Trouble: now.Problem}
	if now.Problem == "" && now.Last.Found > 0 {
		m.Said = now.Last.String()
	}
	m.Every, m.Due = pollTimes(w.every, m.Good, w.zone)
	if !m.Good.IsZero() {
		return m, nil
	}
	list, err := w.Jobs(ctx)
	if err != nil {
		return m, err
	}
	for _, j := range list {
		if j.Name != mailJob {
			continue
		}
		m.Good = j.Good.Ended
		if m.Tried.IsZero() {
			m.Tried = j.Last.Ended
			if j.Warning != "" {
				m.Trouble = j.Warning
			}
		}
	}
	m.Every, m.Due = pollTimes(w.every, m.Good, w.zone)
	return m, nil
}

// pollTimes gives how often the mailbox is polled, and the time by which another poll
// should have been good: three polls after the last good one, whatever the form of the
// setting. Both are zero where there is none.
func pollTimes(spec string, good time.Time, zone *time.Location) (every time.Duration, due time.Time) {
	sched, err := jobs.CheckSpec(spec)
	if err != nil {
		return 0, due
	}
	from := good.In(zone)
	if good.IsZero() {
		from = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC) // any will do
	}
	first := sched.Next(from)
	second := sched.Next(first)
	if good.IsZero() {
		return second.Sub(first), due
	}
	return second.Sub(first), sched.Next(second).Add(time.Minute)
}

var _ mailbox.Sink = (*intake.Intake)(nil)

// takeUp finishes what was being taken in when the program last stopped.
func takeUp(ctx context.Context, s *site, log *slog.Logger) error {
	results, err := s.intake.TakeUp(ctx, cases.Actor{ID: "system", Name: "Dunlin", Role: cases.System, Via: "start"})
	for _, r := range results {
		log.Warn("taken up after a stop", "document", r.Hash[:12], "items", r.Total())
	}
	return err
}
