package web

import (
	"encoding/json"
	"fmt"
	"net/url"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/reminders/letters"
)

// LiveReader reads forms of a sweat test as the server does, for the comparison with
// the page's script.
type LiveReader struct {
	s *server
	o opened
	i int
}

// NewLiveReader is a reader for a new test of a case, or for its test i.
func NewLiveReader(p *cases.Protocol, now time.Time, c cases.Case, i int) *LiveReader {
	s := &server{Deps: Deps{Protocol: p, Now: func() time.Time { return now }}}
	s.LetterFacts = func() *letters.Program {
		return &letters.Program{Sites: map[string]letters.Site{"heron-point": {Name: "Heron Point"}}}
	}
	o := opened{c: c, today: cases.DayOf(now)}
	o.a = p.Assess(&o.c, o.today)
	return &LiveReader{s, o, i}
}

// Attributes are what the page carries for the script.
func (l *LiveReader) Attributes() (protocol, facts string) {
	protocol, err := limitsOf(l.s.Protocol).JSON()
	if err != nil {
		panic(err)
	}
	facts, err = l.s.liveFacts(&testEdit{opened: l.o, i: l.i}).JSON()
	if err != nil {
		panic(err)
	}
	return protocol, facts
}

// LiveSays is what a form says: nothing where the server asks for something else.
type LiveSays struct {
	Outcome, Deciding, Flags string
	Faults                   []string
}

// Read reads a form whose other fields are all as they should be.
func (l *LiveReader) Read(v url.Values) LiveSays {
	f := &form{values: v, today: l.o.today, errs: map[string]string{}}
	e := &testEdit{opened: l.o, f: f, i: l.i}
	for name, value := range map[string]string{"identity": "yes", "site": "heron-point", "stopped": "no", "why": "Checked", "left-before": "sound", "right-before": "sound", "left-skin": "none", "right-skin": "none"} {
		v.Set(name, value)
	}
	t := l.s.readTest(e)
	f.keepOld(&t, e.old())
	if !f.ok() {
		b, _ := json.Marshal(f.errs)
		return LiveSays{Faults: []string{string(b)}}
	}
	k := l.s.checkTest(&e.opened, t, l.i)
	if len(k.faults) > 0 {
		return LiveSays{Faults: []string{fmt.Sprint(k.faults)}}
	}
	says := LiveSays{Outcome: string(k.reading.Outcome)}
	if k.reading.Deciding != nil && says.Outcome != string(cases.VoidTest) {
		b, _ := json.Marshal(*k.reading.Deciding)
		says.Deciding = string(b)
	}
	var flags []string
	for _, x := range []struct {
		flag cases.TestFlags
		name string
	}{{cases.FlagArmsApart, "arms-apart"}, {cases.FlagCollectionLong, "collection-long"}, {cases.FlagOneArm, "one-arm"}, {cases.FlagOneArmShort, "one-arm-short"}, {cases.FlagStraddle, "straddle"}} {
		if k.reading.Flags.Has(x.flag) {
			flags = append(flags, x.name)
		}
	}
	says.Flags = strings.Join(flags, " ")
	return says
}

// Shifted tells that the clocks were changed on the day of a form, or on the next.
func (l *LiveReader) Shifted(on cases.Day) bool {
	for _, d := range shiftDays(l.s.Now().Location(), l.o.today) {
		if d == fmt.Sprint(on) || d == fmt.Sprint(on+1) {
			return true
		}
	}
	return false
}
