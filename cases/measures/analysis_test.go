package measures

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

func analyzed(t *testing.T, csv, group string, tau float64) (json string, text string) {
	t.Helper()
	d, err := ReadData(strings.NewReader(csv), group)
	if err != nil {
		t.Fatal(err)
	}
	a := d.Analyze(tau)
	var b strings.Builder
	if err := a.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	return marshal(t, a), b.String()
}

func marshal(t *testing.T, v any) string {
	t.Helper()
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// Each degenerate data set has a defined answer. The figures are worked by hand; the
// limit at 0.5 and the limits of that median are those of R 4.2.2, survival 3.5-3.
func TestDegenerateData(t *testing.T) {
	const none = `"median":null,"median_low":null,"median_high":null,`
	for name, c := range map[string]struct {
		csv, group, json, text string
		tau                    float64
	}{
		"no case": {csv: "time,event\n", json: `{"conf_type":"log-log","groups":[{"name":"all","n":0,"events":0,` + none +
			`"rmean":{"tau":null,"value":null,"se":null},"curve":[],"incidence":[]}],"log_rank":null}`, text: "nothing to measure"},
		"no case to group": {csv: "time,event,site\n", group: "site", json: `{"conf_type":"log-log","groups":[],"log_rank":null}`, text: "nothing to measure"},
		"one open case": {csv: "event,time\n0,7\n", json: `{"conf_type":"log-log","groups":[{"name":"all","n":1,"events":0,` + none +
			`"rmean":{"tau":7,"value":7,"se":0},"curve":[{"time":7,"n_risk":1,"n_event":0,"n_censor":1,"surv":1,"se":0,"low":null,"high":null}],` +
			`"incidence":[]}],"log_rank":null}`, text: "None has closed, so no median can be given."},
		"one closed case": {csv: "time,status\n7,2\n", json: `{"conf_type":"log-log","groups":[{"name":"all","n":1,"events":1,` +
			`"median":7,"median_low":null,"median_high":null,"rmean":{"tau":7,"value":7,"se":0},` +
			`"curve":[{"time":7,"n_risk":1,"n_event":1,"n_censor":0,"surv":0,"se":null,"low":null,"high":null}],` +
			`"incidence":[{"reason":2,"steps":[{"time":7,"value":1,"se":0}]}]}],"log_rank":null}`, text: "Half are closed by time 7 (95 % limits not reached to not reached)."},
		"a censored first row": {csv: "time,event\n0,0\n4,1\n8,0\n", json: `"median":6,"median_low":4,"median_high":null,"rmean":{"tau":8,"value":6,"se":1.4142135623730951},` +
			`"curve":[{"time":0,"n_risk":3,"n_event":0,"n_censor":1,"surv":1,"se":0,"low":null,"high":null},` +
			`{"time":4,"n_risk":2,"n_event":1,"n_censor":0,"surv":0.5,"se":0.3535533905932738,"low":0.0059830876`, text: "1 of 3 closed"},
		"a horizon before the first time": {csv: "time,event\n5,1\n9,1\n", tau: 2, json: `"rmean":{"tau":2,"value":2,"se":0}`, text: "within the first 2: 2.0000 (SE 0.0000)."},
		"a horizon past the last":         {csv: "time,event\n5,1\n9,0\n", tau: 19, json: `"rmean":{"tau":19,"value":12,`, text: "carried on level after time 9"},
		"groups that all close at once":   {csv: "time,event,g\n5,1,a\n5,1,b\n", group: "g", json: `"log_rank":null`, text: "Log-rank test: not defined"},
		"groups of open cases":            {csv: "time,event,g\n5,0,a\n6,0,b\n", group: "g", json: `"log_rank":null`, text: "Log-rank test: not defined"},
		"a group never at risk":           {csv: "time,event,g\n5,1,a\n6,0,a\n5,1,b\n6,1,b\n1,0,c\n", group: "g", json: `"df":1,`, text: "on 1 df"},
		"a group without a name":          {csv: "time,event,g\n5,1,\n6,0,a\n", group: "g", json: `"name":"","n":1`, text: "(blank): 1 of 1 closed"},
		"a group by case":                 {csv: "Time,EVENT,Site\n5,1,x\n6,0,y\n", group: "site", json: `"name":"y","n":1`, text: "y: 0 of 1 closed"},
		"fewer than half closed":          {csv: "time,event\n5,1\n6,0\n7,0\n", json: `"median":null`, text: "the median is not reached"},
	} {
		got, text := analyzed(t, c.csv, c.group, c.tau)
		if whole := strings.HasPrefix(c.json, "{"); whole && got != c.json || !strings.Contains(got, c.json) {
			t.Errorf("%s:\ngot  %s\nwant %s", name, got, c.json)
		}
		if !strings.Contains(text, c.text) {
			t.Errorf("%s: %q is not in\n%s", name, c.text, text)
		}
	}
}

// The same cases, written in other ways a CSV file may have.
func TestFormsOfADataFile(t *testing.T) {
	want, _ := analyzed(t, "time,status,site\n3,1,a\n5,0,b\n5,2,\"b\"\n", "site", 0)
	for name, csv := range map[string]string{
		"comments":              "# made up\ntime,status,site\n# between\n3,1,a\n\n5,0,b\n5,2,b\n",
		"another order":         "site,status,time\nb,2,5\nb,0,5\na,1,3\n",
		"CRLF":                  "time,status,site\r\n3,1,a\r\n5,0,b\r\n5,2,b\r\n",
		"a byte order mark":     "\ufefftime,status,site\n3,1,a\n5,0,b\n5,2,b\n",
		"a mark and a comment":  "\ufeff# made up\ntime,status,site\n3,1,a\n5,0,b\n5,2,b\n",
		"quotes and spaces":     "\"time\", status ,site\n\"3\", 1, a\n 5 ,0,\"b\"\n5.0,2,b\n",
		"further columns":       "id,time,pair,status,site\n\"x, y\",3,1,1,a\n2,5,1,0,b\n3,5e0,2,2,b\n",
		"both event and status": "time,event,status,site\n3,1,1,a\n5,0,0,b\n5,1,2,b\n",
		"no end of line":        "time,status,site\n3,1,a\n5,0,b\n5,2,b",
	} {
		if got, _ := analyzed(t, csv, "site", 0); got != want {
			t.Errorf("%s:\ngot  %s\nwant %s", name, got, want)
		}
	}
}

func TestDataFilesRefused(t *testing.T) {
	many := "time,event,g\n" + strings.Repeat("-1,0,x\n", 60)
	var groups strings.Builder
	groups.WriteString("time,event,g\n")
	for i := range MaxGroups + 1 {
		groups.WriteString("1,1,g" + strings.Repeat("x", i) + "\n")
	}
	for csv, want := range map[string]string{
		"":                                     "the file is empty",
		"# only a comment\n":                   "the file is empty",
		"days,event\n1,1\n":                    `no column "time"; it has: days, event`,
		"time,closed\n1,1\n":                   `neither a column "event" nor "status"`,
		"time;event\n1;1\n":                    "it has: time;event",
		"time,event,time\n":                    `names the column "time" twice`,
		"time,event\n1,1\n":                    `no column "g" to group by; it has: time, event`,
		"time,event,g\n-1,1,a\n":               "line 2: the time -1 is negative",
		"time,event,g\n\n,1,a\n":               "line 3: the time is missing",
		"time,event,g\nx,1,a\n":                `line 2: the time "x" is not a number`,
		"time,event,g\nNaN,1,a\n":              `the time "NaN" is not a number`,
		"time,event,g\nInf,1,a\n":              `the time "Inf" is not a number`,
		"time,event,g\n1e999,1,a":              `the time "1e999" is not a number`,
		"time,event,g\n0x1p3,1,a":              `the time "0x1p3" is not a number`,
		"t\x00i\x00m\x00,\x1b[2J\n":            "it has: t?i?m?, ?[2J",
		strings.Repeat("x", 999):               "xx ...",
		"time,event,g\n3,-1,a\n":               `the event "-1" is not a code`,
		"time,event,g\n3,1.5,a\n":              `the event "1.5" is not a code`,
		"time,event,g\n3,100,a\n":              `the event "100" is not a code from 0 (still open) to 99`,
		"time,status,g\n3,,a\n":                "line 2: the status is missing",
		"time,event,g\n3,1\n":                  "line 2: it has 2 columns, the header 3",
		"time,event,g\n3,1,a\n\"4,1,a\nb":      "line 3: the quotes do not match",
		"time,event,status,g\n3,0,1,a\n":       "line 2: event 0 and status 1 disagree",
		"time,event,g\n1,1,\"a\nb\"\n-2,1,c\n": "line 4: the time -2",
		many:                                   "and 10 more",
		groups.String():                        "301 different values; at most 300",
	} {
		_, err := ReadData(strings.NewReader(csv), "g")
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.60q: %v, want %q", csv, err, want)
		}
	}
}

var someData = rapid.Custom(func(t *rapid.T) Data {
	groups := rapid.IntRange(1, 4).Draw(t, "groups")
	times := rapid.SampledFrom([]int{3, 20, 300}).Draw(t, "times")
	return Data{Groups: []string{"a", "b", "c", "d"}[:groups], Observations: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Observation {
		return Observation{Time: float64(rapid.IntRange(0, times).Draw(t, "time")) / 2,
			Group:  uint32(rapid.IntRange(0, groups-1).Draw(t, "group")),
			Reason: uint8(rapid.SampledFrom([]int{0, 1, 2, 7}).Draw(t, "reason"))}
	}), 0, 60).Draw(t, "observations")}
})

func TestAnalysisProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someData.Draw(t, "data")
		a := d.Analyze(0)
		for _, g := range a.Groups {
			checkGroup(t, g)
		}
		if lr := a.LogRank; lr != nil {
			o, e := 0.0, 0.0
			for i := range lr.Observed {
				o, e = o+lr.Observed[i], e+lr.Expected[i]
			}
			if math.Abs(o-e) > 1e-9 || lr.ChiSquare < 0 || lr.P < 0 || lr.P > 1 || lr.DF < 1 || lr.DF >= len(a.Groups) {
				t.Fatalf("%v observed, %v expected, %+v", o, e, lr)
			}
		}
		shuffled := Data{Groups: d.Groups, Observations: append([]Observation(nil), d.Observations...)}
		rand.New(rand.NewPCG(1, 2)).Shuffle(len(shuffled.Observations), func(i, j int) {
			o := shuffled.Observations
			o[i], o[j] = o[j], o[i]
		})
		if diff := cmp.Diff(a, shuffled.Analyze(0), sameNumbers); diff != "" {
			t.Fatal(diff)
		}
		var written strings.Builder
		if err := a.WriteJSON(&written); err != nil || written.String() != string(mustJSON(t, a))+"\n" {
			t.Fatalf("%v: written %s", err, written.String())
		}
		var back Analysis
		if err := json.Unmarshal(mustJSON(t, a), &back); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(a, back, sameNumbers, cmpopts.IgnoreFields(LogRank{}, "Observed", "Expected"), cmpopts.IgnoreFields(Analysis{}, "Gray")); diff != "" {
			t.Fatal(diff)
		}
	})
}

// sameNumbers holds two figures that are not defined for the same.
var sameNumbers = cmp.Comparer(func(a, b Number) bool { return a == b || !a.Defined() && !b.Defined() })

func mustJSON(t *rapid.T, v any) []byte {
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// checkGroup checks what holds of any group: the incidences and the waiting share
// add up to 1, and every case is on the curve.
func checkGroup(t *rapid.T, g Analyzed) {
	n, step := g.N, 0
	for _, s := range g.Curve {
		if s.NRisk != n {
			t.Fatalf("%d at risk at %v, want %d", s.NRisk, s.Time, n)
		}
		n -= s.NEvent + s.NCensor
		if s.NEvent == 0 {
			continue
		}
		sum := s.Surv
		for _, f := range g.Incidence {
			at := f.Steps[step]
			if at.Time != s.Time || !(at.Value >= 0 && at.Value <= 1+1e-12) || !(at.SE >= 0 && at.SE <= 0.5+1e-9) {
				t.Fatalf("reason %d at %v: %+v", f.Reason, s.Time, at)
			}
			if _, l := f.By(float64(s.Time)); l != nil && !(0 <= l.Lower && l.Lower <= float64(at.Value) && float64(at.Value) <= l.Upper && l.Upper <= 1) {
				t.Fatalf("limits %+v of %v", l, at.Value)
			}
			sum += at.Value
		}
		step++
		if math.Abs(float64(sum-1)) > 1e-12 {
			t.Fatalf("at %v everything adds up to %v", s.Time, sum)
		}
	}
	if n != 0 {
		t.Fatalf("%d cases are not on the curve", n)
	}
}

// With one reason Aalen-Johansen is 1 minus Kaplan-Meier, and so is its error.
func TestOneReasonIsKaplanMeier(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someData.Draw(t, "data")
		for i := range d.Observations {
			d.Observations[i].Reason = min(1, d.Observations[i].Reason)
		}
		for _, g := range d.Analyze(0).Groups {
			for _, s := range g.Curve {
				if s.NEvent == 0 || s.Surv == 0 {
					continue
				}
				at, _ := g.Incidence[0].By(float64(s.Time))
				if math.Abs(float64(at.Value+s.Surv-1)) > 1e-12 || math.Abs(float64(at.SE-s.SE)) > 1e-12 {
					t.Fatalf("at %v: %+v, waiting %v (%v)", s.Time, at, s.Surv, s.SE)
				}
			}
		}
	})
}

// Every way to close a case is in one class, and open cases are in none.
func TestClosureData(t *testing.T) {
	for as, want := range map[string]string{"cf": "determined", "crms-cfspid": "determined", "other-diagnosis": "determined",
		"lost": "lost to follow-up", "moved": "died or moved", "died": "died or moved", "refused": "declined or referred in error"} {
		if got := ClosureReasons[ReasonCode(as)-1]; got != want {
			t.Errorf("%s is %s, want %s", as, got, want)
		}
	}
	records := []Record{closedAt(100, 20), closedAt(50, 0), closedAt(4, 0)}
	records[1].FirstSite = "heron-point"
	d := ClosureData(records, Window{AsOf: asOf}, func(r Record) string { return r.FirstSite })
	want := Data{Groups: []string{"", "heron-point"}, Observations: []Observation{{Time: 13, Reason: 1}, {Time: 43, Group: 1}}}
	if diff := cmp.Diff(want, d); diff != "" {
		t.Error(diff)
	}
	if d := ClosureData(records, Window{AsOf: asOf}, nil); len(d.Groups) != 1 || d.Groups[0] != "all" || len(d.Observations) != 2 {
		t.Errorf("%+v", d)
	}
}
