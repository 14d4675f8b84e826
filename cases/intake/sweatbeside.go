package intake

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
)

// besides writes what goes with the result: the laboratory's own reading, the kept
// booking, the infant's number there, a death that the message reports. The weight
// is never touched.
func (a *sweatAdder) besides(it *Item) {
	t := &a.c.SweatTests[a.test]
	if a.laboratory(t) && len(a.done) == 0 {
		a.done = append(a.done, "the laboratory's own reading")
	}
	if len(a.done) == 0 {
		return
	}
	for i := range a.c.Bookings {
		b := &a.c.Bookings[i]
		switch {
		case b.On == t.On && b.State == "booked":
			b.Become("kept", a.p.today)
			a.says = append(a.says, "The booking of "+b.On.String()+" counts as kept.")
		case b.On > t.On && b.State == "booked":
			a.says = append(a.says, "The booking of "+b.On.String()+" stays.")
		}
	}
	for _, n := range a.r.Infant.Records {
		if n.Number == "" || n.Authority == "" || slices.ContainsFunc(a.c.Infant.Records, func(o cases.RecordNo) bool {
			return fold(o.Number) == fold(n.Number) && fold(o.Authority) == fold(n.Authority)
		}) {
			continue
		}
		a.c.Infant.Records = append(a.c.Infant.Records, cases.RecordNo{Number: n.Number, Authority: n.Authority})
		a.says = append(a.says, "Number "+n.Number+" of "+n.Authority+" was added to the infant's.")
	}
	if a.r.Infant.Deceased && a.c.Infant.Died == 0 {
		on, _ := referralDay(a.r, max(a.p.mail, dayOf(a.p.job.doc.Sent)), a.p.today)
		death(a.c, a.r, on)
	}
	for _, p := range it.Problems {
		if p.Severity == Check {
			a.says = append(a.says, p.String())
		}
	}
}

// refused lists what the case document would not take.
func (a *sweatAdder) refused() {
	if len(a.done) == 0 {
		return
	}
	for _, f := range append(a.c.Faults(a.p.today, a.p.protocol), a.c.FutureFaults(a.p.today)...) {
		a.ask(f.Path, "the case refuses it: %s %s", f.Path, f.Reason)
	}
}

// read reads the test with the result in it, and compares with the laboratory.
func (a *sweatAdder) read(before *cases.Case) {
	t := &a.c.SweatTests[a.test]
	now := a.reading(a.c, t)
	a.says = append(a.says, "By the program's protocol the test reads: "+outcomeText(&now)+".")
	if len(a.fixed) > 0 && !a.fresh {
		if was := a.reading(before, &before.SweatTests[a.test]); was.Outcome != now.Outcome {
			a.moved = fmt.Sprintf("The reading of the test moved from %q to %q.", was.Outcome.Word(), now.Outcome.Word())
			a.says = append(a.says, a.moved)
		}
	}
	t.Laboratory.Differs = a.p.protocol.LabDiffers(a.c, t, a.p.today)
	if d := t.Laboratory.Differs; d != "" {
		a.says = append(a.says, "The laboratory reads it otherwise. "+d)
	}
}

func outcomeText(r *cases.TestReading) string {
	s := r.Outcome.Word()
	if r.Deciding != nil {
		s += ", " + number(*r.Deciding) + " mmol/L decides"
	}
	return s
}

// laboratory keeps the laboratory's own word on the test, and tells whether any of
// it is new.
func (a *sweatAdder) laboratory(t *cases.SweatTest) bool {
	l := cases.LabReading{}
	if t.Laboratory != nil {
		l = *t.Laboratory
	}
	was := l
	if a.r.Sender != "" {
		l.Name = a.r.Sender
	}
	reported := a.r.Reported.Day
	if reported == 0 {
		reported = a.r.Sent.Day
	}
	l.Reported = max(l.Reported, reported)
	one := len(t.Arms) == 1
	for _, i := range a.bySide() {
		s := &a.r.Sites[i]
		l.Reads = sideWords(l.Reads, s.Side, s.Reads)
		l.Range = commonWord(l.Range, s.Side, s.Chloride.Range, one)
		l.Flag = commonWord(l.Flag, s.Side, s.Chloride.Flag, one)
	}
	if w := a.r.LabReads; w != "" && !strings.Contains(l.Reads, oneLine(w)) {
		l.Reads = strings.TrimPrefix(l.Reads+"; "+oneLine(w), "; ")
	}
	for _, c := range a.r.Comments {
		if !strings.Contains(l.Comment, c) {
			l.Comment = strings.TrimPrefix(l.Comment+"\n"+c, "\n")
		}
	}
	t.Laboratory = &l
	was.Reported, was.Name = l.Reported, l.Name // a later report of the same is nothing new
	return was != l
}
