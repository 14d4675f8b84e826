package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// jobTitles names the jobs that have no title of their own.
var jobTitles = map[string]string{"daily": "Overdue list and letters", "mailbox": "Reading the mailbox", "outbox": "Sending messages", "backup": "Back-up", "scrub": "Reading everything again",
	"heads": "Noting where audit trail and access log end"}

// jobsPage answers GET /settings/jobs: how each job and the mailbox stand.
func (s *server) jobsPage(c Ctx) error {
	p := &templates.JobsPage{Base: templates.Base{Name: "Jobs and mailbox", Current: "settings"}, Links: settingsTabs(c, "jobs"), MayRun: can(c, administer) && s.Jobs != nil,
		Lead: "What the program does by itself, and when it last went well. A run that was missed is made up for by itself; nothing is made twice.", Mail: s.mailLine(c)}
	if s.Jobs != nil {
		jobs, err := s.Jobs.Jobs(c.Request().Context())
		if err != nil {
			return fmt.Errorf("web: jobs: %w", err)
		}
		for i := range jobs {
			p.Rows = append(p.Rows, s.jobRow(&jobs[i]))
		}
	}
	if s.Mail != nil {
		if m, err := s.Mail.Mailbox(c.Request().Context()); err == nil && m.Name != "" {
			p.Box = s.boxFacts(&m)
		}
	}
	s.outboxPart(c, p)
	return s.render(c, http.StatusOK, p)
}

func (s *server) jobRow(j *Job) templates.JobRow {
	row := templates.JobRow{Name: j.Name, Title: jobTitle(j), Warning: j.Warning, When: specWords(j.Spec), Last: "Not yet", Good: "Never", Next: "Not set"}
	switch {
	case j.Running:
		row.State = templates.Tag{Kind: "half", Text: "Running"}
	case j.Warning != "":
		row.State = templates.Tag{Kind: "late", Text: "Look at this"}
	case j.Good.Slot.IsZero():
		row.State = templates.Tag{Kind: "blank", Text: "Not run yet"}
	default:
		row.State = templates.Tag{Kind: "done", Text: "In order"}
	}
	if !j.Last.Begun.IsZero() {
		row.Last, row.Outcome = s.stamp(j.Last.Begun), runWords(&j.Last, j.Running)
	}
	if !j.Good.Slot.IsZero() {
		at := j.Good.Ended
		if at.IsZero() {
			at = j.Good.Slot
		}
		row.Good = sentence(ago(s.Now().Sub(at)))
	}
	if !j.Next.IsZero() {
		row.Next = s.stamp(j.Next)
	}
	return row
}

func jobTitle(j *Job) string { return or(j.Title, or(jobTitles[j.Name], sentence(j.Name))) }

// runWords is how a run ended.
func runWords(r *cases.JobRun, running bool) string {
	switch {
	case running:
		return "Running"
	case r.Ended.IsZero():
		return "Begun and not ended"
	}
	text, _, _ := strings.Cut(r.Outcome, "\n")
	if rest, ok := strings.CutPrefix(text, "ok"); ok {
		return or(sentence(strings.TrimPrefix(rest, ": ")), "Went well")
	}
	return sentence(text)
}

// specWords says when a job runs: the five cron fields of one time each day and
// the intervals in words, anything else as it is set.
func specWords(spec string) string {
	if d, ok := strings.CutPrefix(spec, "@every "); ok {
		return "Every " + d
	}
	var minute, hour int
	if n, err := fmt.Sscanf(spec, "%d %d * * *", &minute, &hour); err == nil && n == 2 && strings.HasSuffix(spec, "* * *") {
		return fmt.Sprintf("Each day at %02d:%02d", hour, minute)
	}
	return spec
}

// boxFacts are the facts about the mailbox.
func (s *server) boxFacts(m *Mailbox) []templates.Fact {
	out := []templates.Fact{{Name: "Account and folder", Text: m.Name}, {Name: "Read", Text: every(m.Every)}, {Name: "Last good poll", Text: "None yet"}, {Name: "Last try", Text: "None yet"}}
	if !m.Good.IsZero() {
		out[2].Text, out[2].Note = s.stamp(m.Good)+", "+ago(s.Now().Sub(m.Good)), m.Said
	}
	if !m.Tried.IsZero() {
		out[3].Text, out[3].Note = s.stamp(m.Tried), m.Trouble
	}
	return out
}

// runJob answers POST /settings/jobs/run: a job is started by hand.
func (s *server) runJob(c Ctx) error {
	if s.Jobs == nil {
		return cases.Errorf(cases.NotFound, "No job is set up here.")
	}
	ctx := c.Request().Context()
	jobs, err := s.Jobs.Jobs(ctx)
	if err != nil {
		return fmt.Errorf("web: jobs: %w", err)
	}
	name := s.readForm(c).typed("job")
	i := slices.IndexFunc(jobs, func(j Job) bool { return j.Name == name })
	if i < 0 {
		return cases.Errorf(cases.NotFound, "There is no such job.")
	}
	started, err := s.Jobs.RunNow(context.WithoutCancel(ctx), actorOf(c), name)
	if err != nil {
		return fmt.Errorf("web: run %s: %w", name, err)
	}
	n := templates.Notice{Head: "Started:", Text: jobTitle(&jobs[i]) + ". Update this page to see how it ended."}
	if !started {
		n = templates.Notice{Kind: "info", Head: "Not started:", Text: jobTitle(&jobs[i]) + " runs already, or its last run went well and nothing is owed."}
	}
	return s.saved(c, "/settings/jobs", n)
}
