package web_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/server/web"
)

// work is what the program does by itself, as the pages are told of it.
type work struct {
	jobs    []web.Job
	mail    web.Mailbox
	mailErr error
	ran     []string
	refuse  bool
}

func (w *work) Jobs(context.Context) ([]web.Job, error) { return w.jobs, nil }

func (w *work) RunNow(_ context.Context, a cases.Actor, name string) (bool, error) {
	w.ran = append(w.ran, a.Name+" "+name)
	return !w.refuse, nil
}

func (w *work) Mailbox(context.Context) (web.Mailbox, error) { return w.mail, w.mailErr }

// newWork is a daily job that went well and a mailbox that fails since 08:10.
func newWork(s *site) *work {
	at := func(h, m int) time.Time { return time.Date(2026, 3, 5, h, m, 0, 0, s.now.Location()) }
	good := cases.JobRun{Name: "daily", Slot: at(6, 0), Begun: at(6, 0), Ended: at(6, 1), Outcome: "ok: 23 on the list, 4 letters"}
	bad := cases.JobRun{Name: "mailbox", Slot: at(8, 35), Begun: at(8, 35), Ended: at(8, 36), Outcome: "failed: no answer\ngoroutine 7"}
	return &work{jobs: []web.Job{{Name: "daily", Spec: "0 6 * * *", Last: good, Good: good, Next: at(6, 0).AddDate(0, 0, 1)},
		{Name: "mailbox", Spec: "@every 5m", Last: bad, Next: at(8, 45), Warning: "The last run failed: no answer"}},
		mail: web.Mailbox{Name: "referrals@x.example/INBOX", Good: at(8, 10), Tried: at(8, 35), Trouble: "the server did not answer within 30 s", Every: 5 * time.Minute}}
}

//asvs:16.5.2
func TestJobsAndMailboxAreShownToEverybody(t *testing.T) {
	w := &work{}
	s := newSite(t, func(d *web.Deps) { d.Jobs, d.Mail = w, w })
	*w = *newWork(s)
	for _, who := range []string{"wren", "dagny", "ines", "theo"} {
		p := s.as(who).get("/settings/jobs").wants(200, "Overdue list and letters", "Each day at 06:00", "23 on the list, 4 letters", "2 hours ago", "6 Mar 2026, 06:00",
			"The last run failed: no answer", "No mail since 08:10.", "The server did not answer within 30 s. New referrals may be waiting there.", "Every 5 minutes")
		if strings.Contains(p.body, "goroutine") {
			t.Error("more than the first line of a failure is shown")
		}
		if got := strings.Contains(p.body, "/settings/jobs/run"); got != (who == "theo") {
			t.Errorf("%s is offered to run jobs: %v", who, got)
		}
	}
}

func TestOnlyTheAdministratorRunsAJob(t *testing.T) {
	w := &work{}
	s := newSite(t, func(d *web.Deps) { d.Jobs, d.Mail = w, w })
	*w = *newWork(s)
	theo := s.as("theo")
	f := theo.get("/settings/jobs").form("/settings/jobs/run")
	f.send().wants(200, "Started: Overdue list and letters")
	w.refuse = true
	f.set("job", "mailbox").send().wants(200, "Not started: Reading the mailbox")
	if got := strings.Join(w.ran, ", "); got != "Theo Marsh daily, Theo Marsh mailbox" {
		t.Errorf("ran %q", got)
	}
	f.set("job", "../../etc").send().wants(404)
	wren := s.as("wren")
	wren.post("/settings/jobs/run", wren.get("/intake/upload").form("/intake/upload").set("job", "daily").values).wants(403)
	if len(w.ran) != 2 {
		t.Errorf("ran %q", w.ran)
	}
}

func TestTheIntakePageSaysHowTheMailboxIs(t *testing.T) {
	w := &work{}
	s := newSite(t, func(d *web.Deps) { d.Jobs, d.Mail = w, w })
	*w = *newWork(s)
	wren := s.as("wren")
	wren.get("/intake").wants(200, "No mail since 08:10.", "The server did not answer within 30 s. New referrals may be waiting there. Phone the laboratory, or tell support.")
	w.mail.Trouble = ""
	wren.get("/intake").wants(200, "No mail since 08:10.", "It should be read every 5 minutes.")
	w.mail.Good, w.mail.Said = s.now.Add(-4*time.Minute), "2 messages taken in"
	wren.get("/intake").wants(200, "Last good poll of the mailbox 4 minutes ago. 2 messages taken in.")
	w.mailErr = errors.New("made to fail")
	wren.get("/intake").wants(200, "Nobody knows how the mailbox is.")
	w.mailErr, w.mail = nil, web.Mailbox{Name: "x@x.example/INBOX", Every: 5 * time.Minute}
	wren.get("/intake").wants(200, "The mailbox was not read yet.")
	w.mail = web.Mailbox{}
	wren.get("/intake").wants(200, "No mailbox is set up.")
}

// The morning's list says loudly when the mail was not read: who is not on it may be
// waiting there. While the mail is read it says nothing.
func TestTheOverdueListSaysWhenMailWaits(t *testing.T) {
	w := &work{}
	s := newSite(t, func(d *web.Deps) { d.Jobs, d.Mail = w, w })
	*w = *newWork(s)
	wren := s.as("wren")
	wren.get("/overdue").wants(200, "No mail since 08:10.", "New referrals may be waiting there.")
	w.mail.Trouble, w.mail.Good = "", s.now
	if p := wren.get("/overdue").wants(200, "Overdue list"); strings.Contains(p.body, `id="mailbox"`) {
		t.Error("the list speaks of the mailbox although it is read")
	}
}

// out is how what goes out stands, as the pages are told.
type out struct {
	o   web.Outbox
	err error
}

func (o *out) Outbox(context.Context) (web.Outbox, error) { return o.o, o.err }

func TestOutboxIsShown(t *testing.T) {
	o := &out{}
	s := newSite(t, func(d *web.Deps) { d.Out = o })
	at := func(h int) time.Time { return time.Date(2026, 3, 5, h, 0, 0, 0, s.now.Location()) }
	for name, x := range map[string]struct {
		o    web.Outbox
		want []string
	}{
		"not set up": {web.Outbox{}, []string{"Nothing goes out by e-mail or text."}},
		"in order": {web.Outbox{SetUp: true, Email: true, Good: at(7), Queued: 2, Oldest: at(8)},
			[]string{"All messages that were due went out.", "does not prove", "Set up", "families who agreed to them are phoned", "2 messages", "5 Mar 2026, 07:00"}},
		"a person": {web.Outbox{SetUp: true, Email: true, Failed: 1, Uncertain: 2, Trouble: []string{"email: no answer"}},
			[]string{"3 messages need a person.", "1 failed: phone or post.", "2 are uncertain: ask whether it came"}},
		"server down":  {web.Outbox{SetUp: true, Email: true, Trouble: []string{"email: no answer"}}, []string{"Messages cannot be sent now.", "Email: no answer. They are tried again."}},
		"stands still": {web.Outbox{SetUp: true, Email: true, Queued: 1, Oldest: at(8).AddDate(0, 0, -2)}, []string{"A message waits since 3 Mar 2026, 08:00."}},
		"folder":       {web.Outbox{SetUp: true, Folder: "/srv/out", Email: true, Text: true}, []string{"Nothing is sent.", "/srv/out"}},
	} {
		o.o = x.o
		t.Run(name, func(t *testing.T) { s.as("theo").get("/settings/jobs").wants(200, x.want...) })
	}
	o.err = errors.New("the store is closed")
	s.as("theo").get("/settings/jobs").wants(200, "Nobody knows how the outbox is.")
}
