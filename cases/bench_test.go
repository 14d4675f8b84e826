package cases_test

import (
	"encoding/json"
	"os"
	"testing"

	"dunlin/cases"
)

// contractExample is a case of ordinary length: the shape of the contract's own
// example with a repeat, five contacts and two bookings.
const contractExample = `{"document":"dunlin-case/1","reference":"AB-2026-0042",
"infant":{"given":"Ada","family":"Wren","sex":"female","born":"2026-03-01","born_at":"04:12","plurality":1,"birth_order":1,"gestation":"39w2d","birth_weight_g":3200,"weights":[{"on":"2026-03-11","g":3290}]},
"referral":{"on":"2026-03-08","route":"screen","screen":{"collected":"2026-03-02","reported":"2026-03-07","accession":"AB26-00042","irt_ng_ml":96.4,"irt_text":""}},
"genotype":{"reported":"2026-03-07","scope":"panel","variants":[{"name":"F508del","phase":"unknown"}]},
"holds":[{"reason":"oxygen","from":"2026-03-09","until":"2026-03-13"}],
"contacts":[{"on":"2026-03-09","with":"primary-care","by":"phone","reached":true,"outcome":"talked, understood"},
{"on":"2026-03-09","with":"family","by":"phone","reached":true,"outcome":"talked, understood"},
{"on":"2026-03-19","with":"family","by":"phone","reached":false,"outcome":"no answer"},
{"on":"2026-03-20","with":"family","by":"text","reached":false,"outcome":"no answer"},
{"on":"2026-03-21","with":"family","by":"phone","reached":true,"outcome":"talked, understood"}],
"bookings":[{"on":"2026-03-18","at":"09:30","site":"alder-bay","state":"kept","changed":"2026-03-18"},{"on":"2026-03-26","at":"09:30","site":"alder-bay","state":"missed","changed":"2026-03-26"}],
"sweat_tests":[{"on":"2026-03-18","at":"09:40","site":"alder-bay","collector":"tubing","analyte":"chloride","arms":[
{"side":"left","minutes":30,"amount_ul":12,"reaction":"redness"},{"side":"right","minutes":30,"amount_ul":9,"reaction":"none"}]}],
"closures":[]}`

func exampleCase(b testing.TB) (cases.Case, *cases.Protocol, cases.Day) {
	p := cases.DefaultProtocol()
	on, _ := cases.ParseDay("2026-03-30")
	c, err := cases.ParseCase([]byte(contractExample), on, p)
	if err != nil {
		b.Fatal(err)
	}
	return c, p, on
}

// BenchmarkAssess derives one ordinary case's assessment (budget: 5 µs, 10 allocations).
func BenchmarkAssess(b *testing.B) {
	c, p, on := exampleCase(b)
	b.ReportAllocs()
	for b.Loop() {
		if a := p.Assess(&c, on); a.Next.Step == "" {
			b.Fatal("no step")
		}
	}
}

// BenchmarkAssessStep derives what a list needs of it.
func BenchmarkAssessStep(b *testing.B) {
	c, p, on := exampleCase(b)
	b.ReportAllocs()
	for b.Loop() {
		if a := p.AssessStep(&c, on); a.Next.Step == "" {
			b.Fatal("no step")
		}
	}
}

// BenchmarkAssessWorked derives the worked cases one after the other.
func BenchmarkAssessWorked(b *testing.B) {
	p := cases.DefaultProtocol()
	type item struct {
		c  cases.Case
		on cases.Day
	}
	var items []item
	for _, name := range []string{"determination", "order", "safety", "evidence", "repeat"} {
		data, err := os.ReadFile("testdata/worked-cases/" + name + ".json")
		if err != nil {
			b.Fatal(err)
		}
		var f workedFile
		if err := json.Unmarshal(data, &f); err != nil {
			b.Fatal(err)
		}
		for _, w := range f.Cases {
			on, _ := cases.ParseDay(w.On)
			c, err := cases.ParseCase(w.Case, on, p)
			if err != nil {
				b.Fatal(err)
			}
			items = append(items, item{c, on})
		}
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		it := &items[i%len(items)]
		_ = p.Assess(&it.c, it.on)
		i++
	}
}

// BenchmarkOverdueFrom derives the first day on the list, as every write does.
func BenchmarkOverdueFrom(b *testing.B) {
	c, p, on := exampleCase(b)
	b.ReportAllocs()
	for b.Loop() {
		_ = p.OverdueFrom(&c, on)
	}
}

// BenchmarkProjectWeight projects from three weights (budget: 2 µs).
func BenchmarkProjectWeight(b *testing.B) {
	born := cases.MakeDay(2026, 7, 4)
	ws := []cases.Weight{{On: born, G: 1250}, {On: born + 28, G: 1540}, {On: born + 35, G: 1700}, {On: born + 42, G: 1890}}
	b.ReportAllocs()
	for b.Loop() {
		if e := cases.ProjectWeight(born, 1250, ws, 2000); e.Status != "ok" {
			b.Fatal(e.Status)
		}
	}
}

// BenchmarkReadiness derives readiness with a projection, as the nurse's page does for
// each infant.
func BenchmarkReadiness(b *testing.B) {
	born := cases.MakeDay(2026, 7, 4)
	p := cases.DefaultProtocol()
	c := cases.Case{Infant: cases.Infant{Born: born, Gestation: 30*7 + 2, BirthWeightG: 1250,
		Weights: []cases.Weight{{On: born + 28, G: 1540}, {On: born + 35, G: 1700}, {On: born + 42, G: 1890}}}}
	b.ReportAllocs()
	for b.Loop() {
		if r := p.Readiness(&c, born+42); r.Weight.Estimate == nil {
			b.Fatal("no estimate")
		}
	}
}
