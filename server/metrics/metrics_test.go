package metrics

import (
	"context"
	"io"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func read(t *testing.T, m *Metrics) string {
	t.Helper()
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	body, err := io.ReadAll(w.Body)
	if err != nil || w.Code != 200 {
		t.Fatalf("%d %v\n%s", w.Code, err, body)
	}
	return string(body)
}

func TestMetricsTellWhatStands(t *testing.T) {
	at := time.Date(2026, 3, 5, 6, 0, 0, 0, time.UTC)
	m := New("1.2.3", "abc", func(context.Context) Facts {
		return Facts{StoreReadable: true, StoreBytes: 4096, DiskFree: 100, DiskSize: 200, Mailbox: true, Outbox: true, Messages: map[string]int{"queued": 3},
			Jobs: []Job{{Name: "daily", Good: at, Next: at.Add(24 * time.Hour)}, {Name: "scrub", Trouble: true}}, BackupGood: at, Backups: 2}
	})
	m.Request("GET", "/infants/:ref", 200, 20*time.Millisecond)
	m.Request("GET", "/infants/:ref", 200, 20*time.Millisecond)
	m.Request("BREW", "", 405, time.Millisecond)
	body := read(t, m)
	for _, want := range []string{
		`dunlin_build_info{release="1.2.3",revision="abc"} 1`, "dunlin_store_readable 1", "dunlin_store_bytes 4096",
		"dunlin_disk_free_bytes 100", `dunlin_job_last_good_timestamp_seconds{job="daily"} 1.7726904e+09`, `dunlin_job_last_good_timestamp_seconds{job="scrub"} 0`,
		`dunlin_job_trouble{job="scrub"} 1`, `dunlin_job_trouble{job="daily"} 0`, "dunlin_mailbox_last_good_timestamp_seconds 0",
		`dunlin_outgoing_messages{state="queued"} 3`, "dunlin_backups 2",
		`dunlin_http_requests_total{method="GET",route="/infants/:ref",status="200"} 2`,
		`dunlin_http_requests_total{method="other",route="none",status="405"} 1`,
		`dunlin_http_request_duration_seconds_bucket{route="/infants/:ref",le="0.025"} 2`,
	} {
		if !strings.Contains(body, want+"\n") {
			t.Errorf("%s is missing", want)
		}
	}
	if t.Failed() {
		t.Log(body)
	}
}

// TestStrangersMakeNoLabels: whatever is asked for, the number of lines stays as it is.
func TestStrangersMakeNoLabels(t *testing.T) {
	m := New("1", "", func(context.Context) Facts { return Facts{} })
	m.Request("A", "", 404, 0)
	before := strings.Count(read(t, m), "dunlin_http")
	for _, s := range []string{"B", "C", "GET /x", "\n"} {
		m.Request(s, "", 404, 0)
		m.Request(s, "/"+s, 404, 0)
	}
	if now := strings.Count(read(t, m), "dunlin_http"); now != before {
		t.Errorf("%d lines, %d before", now, before)
	}
}
