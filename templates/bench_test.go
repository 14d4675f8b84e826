package templates

import (
	"io"
	"testing"
)

// BenchmarkOverduePage renders the overdue list with 200 rows, the most that a
// page holds.
func BenchmarkOverduePage(b *testing.B) {
	p := samples["overdue"]().(*OverduePage)
	for len(p.Rows) < 200 {
		p.Rows = append(p.Rows, p.Rows[0])
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := set.Render(io.Discard, p); err != nil {
			b.Fatal(err)
		}
	}
}
