package main

import (
	"fmt"

	"dunlin/reminders/jobs"
	"dunlin/server/safekeeping"
)

// backupConfig is where back-ups go, how often, and which stay. None are made while it
// has no folder.
type backupConfig struct {
	Folder      string           `json:"folder"`      // best on another disk, or one that is copied elsewhere
	Every       string           `json:"every"`       // such as @every 30m
	Keep        safekeeping.Keep `json:"keep"`        // how many hours, days, weeks and months
	Recipients  string           `json:"recipients"`  // path of a file with one public key a line
	Unencrypted bool             `json:"unencrypted"` // said on purpose: anybody who can read the folder reads every case
	Scrub       string           `json:"scrub"`       // when the store and all back-ups are read again
}

func defaultBackup() backupConfig {
	return backupConfig{Every: "@every 30m", Keep: safekeeping.UsualKeep(), Scrub: "15 5 * * *"}
}

// checkBackup finds every fault of the settings about back-ups.
func (c *config) checkBackup() (errs []error) {
	add := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	b := &c.Backup
	if _, err := jobs.CheckSpec(b.Every); err != nil {
		add("backup.every: %w", err)
	}
	if _, err := jobs.CheckSpec(b.Scrub); err != nil {
		add("backup.scrub: %w", err)
	}
	for _, n := range []int{b.Keep.Hourly, b.Keep.Daily, b.Keep.Weekly, b.Keep.Monthly} {
		if n < 0 {
			add("backup.keep: a number below 0 keeps nothing and is not taken")
			break
		}
	}
	switch {
	case b.Folder == "":
	case b.Recipients == "" && !b.Unencrypted:
		add("backup.recipients is missing: back-ups hold every name and result. Name a file of public keys (make a key with dunlin backup --new-key FILE), or set backup.unencrypted to true")
	case b.Recipients != "" && b.Unencrypted:
		add("backup.recipients and backup.unencrypted: give one of them")
	case b.Recipients != "":
		if _, err := safekeeping.ReadRecipients(b.Recipients); err != nil {
			add("backup.recipients: %w", err)
		}
	}
	return errs
}
