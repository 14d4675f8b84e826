package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/templates"
)

const (
	backupsPath = "/settings/back-ups"
	// listedBackups is how many rows the page shows.
	listedBackups = 50
)

// backupsPage answers GET /settings/back-ups.
func (s *server) backupsPage(c Ctx) error {
	p := &templates.BackupsPage{Base: templates.Base{Name: "Back-ups", Current: "settings"}, Links: settingsTabs(c, "back-ups"),
		Lead: "Copies of everything the program keeps. Each is checked record by record and read back before it counts as verified."}
	if s.Safe == nil {
		p.State = templates.Note{Head: "Nothing is kept here.", Text: "The program that serves these pages makes no back-ups."}
		return s.render(c, http.StatusOK, p)
	}
	b, err := s.Safe.Safe(c.Request().Context())
	if err != nil {
		return fmt.Errorf("web: back-ups: %w", err)
	}
	newest := newestVerified(b.Made)
	p.MayMake = b.SetUp && !b.Busy
	p.State = s.backupNote(&b, newest)
	p.Trouble = append(backupTrouble(&b), s.safeJobs(c)...)
	if b.SetUp {
		p.Facts = s.backupFacts(&b)
	}
	for i := range b.Made[:min(len(b.Made), listedBackups)] {
		p.Rows = append(p.Rows, s.backupRow(&b.Made[i]))
	}
	p.More = len(b.Made) - len(p.Rows)
	if newest != nil {
		p.Restore = b.Move + "\n" + newest.Command
	}
	return s.render(c, http.StatusOK, p)
}

func newestVerified(list []Backup) *Backup {
	for i := range list {
		if list[i].Trouble == "" && !list[i].Verified.IsZero() {
			return &list[i]
		}
	}
	return nil
}

// backupNote says the one thing that matters: how much would be lost now.
func (s *server) backupNote(b *Safe, newest *Backup) templates.Note {
	switch {
	case !b.SetUp:
		return templates.Note{Kind: "late", Head: "No back-ups are made.", Text: "If the disk fails, every case is lost. Set backup.folder and backup.recipients in the settings file, and start the program again."}
	case b.Busy:
		return templates.Note{Kind: "info", Head: "A back-up is being made.", Text: "Update this page to see how it ended."}
	case newest == nil:
		return templates.Note{Kind: "late", Head: "There is no verified back-up.", Text: "If the disk fails, every case is lost. Make one now, and look at the job."}
	}
	age := s.Now().Sub(newest.At)
	n := templates.Note{Kind: "good", Head: "The newest verified back-up was made " + ago(age) + ".", Text: "What was recorded since " + s.stamp(newest.At) + " would be lost with the disk."}
	if age > backupLate(b.Every) {
		n.Kind, n.Text = "late", n.Text+" It should be newer: look at the job."
	}
	return n
}

// backupLate is how old the newest back-up may be: one run may be missed.
func backupLate(every string) time.Duration {
	if d, err := time.ParseDuration(strings.TrimPrefix(every, "@every ")); err == nil {
		return 2*d + 15*time.Minute
	}
	return 26 * time.Hour // set times: once a day at least
}

func backupTrouble(b *Safe) (out []templates.Note) {
	if b.Trouble != "" {
		out = append(out, templates.Note{Kind: "late", Head: "Folder or keys cannot be read.", Text: endSentence(sentence(b.Trouble))})
	}
	if b.Failed != "" {
		out = append(out, templates.Note{Kind: "late", Head: "The last back-up asked for here failed.", Text: endSentence(sentence(b.Failed))})
	}
	bad := 0
	for i := range b.Made {
		if b.Made[i].Trouble != "" {
			bad++
		}
	}
	if bad > 0 {
		out = append(out, templates.Note{Kind: "late", Head: templates.Count(bad, "back-up", "back-ups") + " cannot be counted on.", Text: "Each is marked below with what is wrong. None of them is ever deleted by the program."})
	}
	if b.SetUp && !b.Encrypted {
		out = append(out, templates.Note{Kind: "late", Head: "Back-ups are not encrypted.", Text: "The settings say so. Anybody who can read the folder can read every case."})
	}
	return out
}

// safeJobs are the warnings of the jobs that make back-ups and read everything again.
func (s *server) safeJobs(c Ctx) (out []templates.Note) {
	if s.Jobs == nil {
		return nil
	}
	list, err := s.Jobs.Jobs(c.Request().Context())
	if err != nil {
		s.Log.Error("state of the jobs", "request", requestOf(c), "err", err)
		return []templates.Note{{Kind: "late", Head: "Nobody knows how the jobs are.", Text: "Tell support."}}
	}
	for i := range list {
		if j := &list[i]; (j.Name == "backup" || j.Name == "scrub") && j.Warning != "" {
			out = append(out, templates.Note{Kind: "late", Head: jobTitle(j) + ":", Text: endSentence(j.Warning)})
		}
	}
	return out
}

func (s *server) backupFacts(b *Safe) []templates.Fact {
	out := []templates.Fact{{Name: "Folder", Text: b.Folder}, {Name: "Made", Text: everyWords(b.Every)}, {Name: "Kept", Text: keepWords(b.Keep)}}
	if b.Encrypted {
		keys := make([]string, 0, len(b.Keys))
		for _, k := range b.Keys {
			keys = append(keys, shortKey(k))
		}
		out = append(out, templates.Fact{Name: "Encrypted to", Text: strings.Join(keys, ", "), Note: "Only who has the private key can open them."})
	}
	return out
}

// everyWords says how often, in words where it is a length of time.
func everyWords(spec string) string {
	if d, err := time.ParseDuration(strings.TrimPrefix(spec, "@every ")); err == nil {
		return every(d)
	}
	return specWords(spec)
}

// shortKey shows enough of a public key to tell it from another.
func shortKey(k string) string {
	if len(k) < 24 {
		return k
	}
	return k[:12] + "…" + k[len(k)-6:]
}

func keepWords(k [4]int) string {
	if k == [4]int{} {
		return "Every one"
	}
	var parts []string
	for i, unit := range [4][2]string{{"hour", "hours"}, {"day", "days"}, {"week", "weeks"}, {"month", "months"}} {
		if k[i] > 0 {
			parts = append(parts, templates.Count(k[i], unit[0], unit[1]))
		}
	}
	return "The newest of each of the last " + strings.Join(parts, ", ")
}

func (s *server) backupRow(b *Backup) templates.BackupRow {
	row := templates.BackupRow{Made: s.stamp(b.At), By: "By the schedule", File: b.File, Size: fmt.Sprintf("%.1f MB", float64(b.Bytes)/1e6), Cases: b.Cases, Entries: int(b.Entries), Head: b.Head[:min(len(b.Head), 12)],
		State: templates.Tag{Kind: "done", Text: "Verified"}, Note: b.Trouble}
	if b.By != "schedule" {
		row.By = "Asked for by " + or(b.By, "nobody on record")
	}
	if b.Trouble != "" || b.Verified.IsZero() {
		row.State = templates.Tag{Kind: "late", Text: "Look at this"}
	}
	return row
}

// makeBackup answers POST /settings/back-ups: a person asks for one now.
func (s *server) makeBackup(c Ctx) error {
	if s.Safe == nil {
		return cases.Errorf(cases.NotFound, "No back-ups are made here.")
	}
	if err := s.Safe.BackUp(c.Request().Context(), actorOf(c)); err != nil {
		return err
	}
	return s.saved(c, backupsPath, templates.Notice{Head: "Started:", Text: "a back-up. Update this page to see how it ended."})
}
