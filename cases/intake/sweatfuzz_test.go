package intake_test

import (
	"testing"

	"dunlin/cases/intake"
	"dunlin/cases/intake/hl7"
)

// FuzzSweat: whatever is sent about a known infant, a test goes on the case only from
// a message without faults, in a final state, and with values that stand in it.
func FuzzSweat(f *testing.F) {
	for _, file := range []string{normal, between, neither, positive, byWeight, corrected, asText, qnsText, bad + "m13-sweat-units.hl7"} {
		f.Add(sweat(f, file))
	}
	shared := referred(f, nil)
	f.Fuzz(func(t *testing.T, raw []byte) {
		b := &bench{t: t, db: shared.db, in: shared.in}
		before := b.of("AB-2026-0001")
		r := b.receive("fuzz", raw)
		now := b.of("AB-2026-0001")
		sent := (hl7.Format{}).Read(raw, intake.Settings{})
		attached := false
		for i, it := range r.Items {
			if it.Outcome != "attached" || !sent.Items[i].Referral.SweatTest {
				continue
			}
			attached = true
			if intake.Worst(sent.Items[i].Problems) == intake.Fault {
				t.Fatalf("a message with a fault was attached: %v", sent.Items[i].Problems)
			}
			if it.ToRev <= it.FromRev {
				t.Fatalf("revisions %d to %d", it.FromRev, it.ToRev)
			}
		}
		if now.Rev == before.Rev {
			return
		}
		values := map[float64]bool{}
		for _, test := range before.SweatTests {
			for _, arm := range test.Arms {
				if arm.Chloride != nil {
					values[*arm.Chloride] = true
				}
			}
		}
		for _, it := range sent.Items {
			for _, s := range it.Referral.Sites {
				if s.Chloride.Value != nil && s.Chloride.Comparator == "" {
					values[*s.Chloride.Value] = true
				}
			}
		}
		for _, test := range now.SweatTests {
			for _, arm := range test.Arms {
				if v := arm.Chloride; v != nil && (!values[*v] || *v < 0 || *v > 160 || !attached && len(now.SweatTests) != len(before.SweatTests)) {
					t.Fatalf("%g mmol/L is on the case and was not sent", *v)
				}
			}
		}
	})
}
