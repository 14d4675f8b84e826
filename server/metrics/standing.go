package metrics

import (
	"context"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// standing asks for the facts at each reading, so that nothing in them is old.
type standing struct {
	facts func(context.Context) Facts
}

func desc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("dunlin_"+name, help, labels, nil)
}

var (
	readable = desc("store_readable", "1 when the store answers.")
	size     = desc("store_bytes", "Size of the store file.")
	free     = desc("disk_free_bytes", "Space that is left beside the store.")
	whole    = desc("disk_size_bytes", "Size of the disk with the store.")
	good     = desc("job_last_good_timestamp_seconds", "When the job last ended well, as Unix time; 0 never.", "job")
	next     = desc("job_next_timestamp_seconds", "When the job runs next, as Unix time.", "job")
	trouble  = desc("job_trouble", "1 when the last run of the job failed, did not end or is missing.", "job")
	polled   = desc("mailbox_last_good_timestamp_seconds", "Last good reading of the mailbox, as Unix time; 0 never.")
	messages = desc("outgoing_messages", "Messages by e-mail and text that wait or need a person.", "state")
	verified = desc("backup_last_verified_timestamp_seconds", "Newest verified back-up, as Unix time; 0 never.")
	backups  = desc("backups", "Verified back-ups in the folder.")
)

// Describe gives the names of what is told.
func (standing) Describe(out chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{readable, size, free, whole, good, next, trouble, polled, messages, verified, backups} {
		out <- d
	}
}

// Collect asks and tells.
func (s standing) Collect(out chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), readLimit/2)
	defer cancel()
	f := s.facts(ctx)
	tell := func(d *prometheus.Desc, v float64, labels ...string) {
		out <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	tell(readable, flag(f.StoreReadable))
	tell(size, float64(f.StoreBytes))
	tell(free, float64(f.DiskFree))
	tell(whole, float64(f.DiskSize))
	for _, j := range f.Jobs {
		tell(good, unix(j.Good), j.Name)
		tell(next, unix(j.Next), j.Name)
		tell(trouble, flag(j.Trouble), j.Name)
	}
	if f.Mailbox {
		tell(polled, unix(f.MailboxGood))
	}
	if f.Outbox {
		for state, n := range f.Messages {
			tell(messages, float64(n), state)
		}
	}
	tell(verified, unix(f.BackupGood))
	tell(backups, float64(f.Backups))
}

func flag(on bool) float64 {
	if on {
		return 1
	}
	return 0
}

func unix(t time.Time) float64 {
	if t.IsZero() {
		return 0
	}
	return float64(t.Unix())
}
