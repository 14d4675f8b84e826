package demo

import "dunlin/cases"

// Variants that a screening panel reports, by class; names as laboratories
// write them.
var (
	causing = []string{"F508del (c.1521_1523delCTT, p.Phe508del)", "F508del", "G551D", "N1303K", "G542X", "W1282X", "621+1G>T", "R553X", "F508del", "2789+5G>A"}
	varying = []string{"R117H; 7T", "D1152H", "5T; TG12"}
)

// past makes the cases that are closed by now, spread over the year.
func (w *world) past() {
	const n = 80
	for i := range n {
		// The oldest was born a year and a week ago, the youngest 40 days ago.
		born := w.today - cases.Day(372-(332*i)/(n-1))
		ref := w.work(born + 6 + cases.Day(i%4))
		w.pastCase(i, born, ref)
	}
}

// pastCase chooses what became of the i-th closed case. The mix follows the
// shape of published programs: few have CF, a twentieth CRMS/CFSPID, most are
// carriers or not affected, one to eight in a hundred are lost.
func (w *world) pastCase(i int, born, ref cases.Day) {
	switch i {
	case 3, 20, 37, 52, 66:
		w.cf(i, born, ref)
	case 11:
		w.cfAfterQNS(born, ref)
	case 45:
		w.cfBySequencing(born, ref)
	case 8, 30, 58:
		w.crms(i, born, ref)
	case 16:
		w.crmsBySequencing(born, ref)
	case 25:
		w.lost(born, ref, w.today-12)
	case 40:
		w.lost(born, ref, w.today+90)
	case 5, 48:
		w.declined(born, ref)
	case 14, 60:
		w.moved(born, ref)
	case 34:
		w.died(born, ref)
	case 56:
		w.duplicate(born, ref)
	case 9, 23, 41, 54, 63, 72:
		w.carrierAfterQNS(i, born, ref)
	case 28:
		w.qnsTwice(born, ref)
	case 18, 43:
		w.intermediateThenLow(i, born, ref)
	case 32:
		w.armsDisagreed(born, ref)
	case 13, 61:
		w.conductivityFirst(i, born, ref)
	case 22, 50, 68:
		w.preterm(i, born, ref)
	case 36:
		w.pastTwins(born, ref)
	default:
		w.ordinary(i, born, ref)
	}
}

// firstTest is a plausible day of a first test: soon after day 14 for most, a
// week or two later for some.
func (w *world) firstTest(i int, born, ref cases.Day) cases.Day {
	wait := []cases.Day{16, 19, 22, 18, 27, 21, 24, 33, 20, 26, 17, 30, 23, 38, 25}[i%15]
	return w.work(max(born+wait, ref+4))
}

// closeAfter is the day a result leads to a closure.
func (w *world) closeAfter(i int, test cases.Day) cases.Day {
	return w.work(test + []cases.Day{2, 5, 3, 8, 6}[i%5])
}

// low gives two arms below the intermediate band.
func (s *story) low() (left, right float64) {
	left = float64(9 + s.rng.IntN(17))
	return left, left + float64(s.rng.IntN(4))
}

// ordinary is a carrier, or an infant in whom no variant was found, with one
// test below the band.
func (w *world) ordinary(i int, born, ref cases.Day) {
	s := w.story("ordinary", born, ref)
	as := "carrier"
	if i%4 == 2 {
		as = "not-affected"
	} else {
		s.found(causing[i%len(causing)])
	}
	s.told(w.work(ref + cases.Day(i%3)))
	made, test := w.work(ref+2), w.firstTest(i, born, ref)
	if i%11 == 6 { // the first appointment was missed
		s.book(made, test).booking(test, "missed", test, "Nobody came, no word from the family").contact(w.work(test+1), "family", "phone", talked)
		made, test = w.work(test+1), w.work(test+8)
	}
	l, r := s.low()
	s.visit(made, test, l, r).close(w.closeAfter(i, test), as)
}

func (w *world) cf(i int, born, ref cases.Day) {
	s := w.story("cf", born, ref).found("F508del", causing[i%len(causing)]).toldAll(ref)
	test := w.work(born + 15 + cases.Day(i%4))
	high := 78 + float64(i%30)
	s.weigh(w.work(born+10), 3300).visit(w.work(ref+1), max(test, w.work(ref+3)), high, high+3)
	s.close(w.work(s.lastDay+2), "cf")
}

func (w *world) cfAfterQNS(born, ref cases.Day) {
	s := w.story("cf after QNS", born, ref).found("F508del", "G542X").toldAll(ref)
	first := w.work(ref + 8)
	s.book(w.work(ref+1), first).qns(first)
	again := w.work(first + 7)
	s.visit(w.work(first+1), again, 91, 95).close(w.work(again+1), "cf")
}

func (w *world) cfBySequencing(born, ref cases.Day) {
	s := w.story("cf by sequencing", born, ref).found("F508del").told(w.work(ref + 1))
	test := w.work(born + 20)
	s.visit(w.work(ref+2), test, 74, 71).contact(test, "specialist", "phone", talked)
	report := w.work(test + 12)
	s.genotype(report, "sequencing", "F508del", "3120+1G>A")
	s.contact(report, "specialist", "phone", talked).told(report).close(w.work(report+2), "cf")
}

func (w *world) crms(i int, born, ref cases.Day) {
	s := w.story("crms", born, ref).found("F508del", varying[i%len(varying)]).told(w.work(ref + 1))
	test := w.firstTest(i, born, ref)
	l := float64(24 + i%20)
	s.visit(w.work(ref+2), test, l, l+2)
	k := cases.Closure{On: w.closeAfter(i, test), As: "crms-cfspid", By: Coordinator.Name, Clinician: clinicians[0],
		Reason: "Two variants, chloride below 60; follow-up at the CF center.", LookAgain: born + 182}
	switch i {
	case 8:
		k.LookAgain = w.today + 21 // the yearly re-test
	case 30:
		k.LookAgain = w.today // the re-test falls due today
	}
	s.closing(k, Coordinator)
	if i == 30 {
		s.at(cases.StepLookAgain)
	}
}

func (w *world) crmsBySequencing(born, ref cases.Day) {
	s := w.story("crms by sequencing", born, ref).found("G551D").told(w.work(ref + 1))
	first := w.work(born + 18)
	s.visit(w.work(ref+2), first, 38, 41).orderRepeat(w.work(first + 2))
	second := w.work(first + 29)
	s.visit(w.work(first+6), second, 43, 44)
	report := w.work(second + 10)
	s.genotype(report, "sequencing", "G551D", "D1152H")
	s.closing(cases.Closure{On: w.work(report + 3), As: "crms-cfspid", By: Coordinator.Name, Clinician: clinicians[1],
		Reason: "Two intermediate tests and a second variant by sequencing.", LookAgain: w.today + 40}, Coordinator)
}

func (w *world) lost(born, ref, lookAgain cases.Day) {
	s := w.story("lost", born, ref).ladder(ref + 1)
	on := w.work(ref + 38)
	s.closing(cases.Closure{On: on, As: "lost", By: Coordinator.Name, LookAgain: lookAgain,
		Reason: "Every rung of the contact plan was tried; primary care has no other address."}, Coordinator)
	s.agree(w.work(on + 2))
	if lookAgain <= w.today {
		s.at(cases.StepLookAgain)
	}
}

func (w *world) declined(born, ref cases.Day) {
	s := w.story("declined", born, ref).found(causing[int(born)%3]).told(w.work(ref + 1))
	on := w.work(ref + 6)
	s.add(on, Coordinator, "refusal", func(p *player, c cases.Case) error {
		return p.declined(c, cases.Declined{On: on, ByWhom: "mother", ExplainedBy: clinicians[0]})
	})
	s.closing(cases.Closure{On: w.work(on + 2), As: "refused", By: Coordinator.Name,
		Reason: "The mother declined after the consequences were explained; primary care told."}, Coordinator)
}

func (w *world) moved(born, ref cases.Day) {
	s := w.story("moved", born, ref).found("F508del").told(w.work(ref + 1))
	asked := w.work(ref + 5)
	s.handover(asked, w.work(asked+4))
	s.closing(cases.Closure{On: w.work(asked + 5), As: "moved", By: Coordinator.Name,
		Reason: "The receiving program confirmed that it has taken the case."}, Coordinator)
}

// handover passes the infant to another program, which accepts later.
func (s *story) handover(asked, accepted cases.Day) *story {
	s.add(asked, Coordinator, "hand-over", func(p *player, c cases.Case) error { return p.handover(c, "North Shoal newborn follow-up") })
	return s.add(accepted, Coordinator, "hand-over accepted", func(p *player, c cases.Case) error { return p.accepted(c, "Ida Brookhurst") })
}

func (w *world) died(born, ref cases.Day) {
	s := w.story("died", born, ref).early(27, 940).contact(w.work(ref+1), "primary-care", "phone", talked)
	on := w.work(born + 19)
	s.death(on, on+1)
	s.closing(cases.Closure{On: w.work(on + 2), As: "died", By: Coordinator.Name, Reason: "Reported by the hospital."}, Coordinator)
}

// death records that the infant died, reported on a later day.
func (s *story) death(on, reported cases.Day) *story {
	return s.add(reported, Coordinator, "death", func(p *player, c cases.Case) error { return p.died(c, on) })
}

func (w *world) duplicate(born, ref cases.Day) {
	s := w.story("duplicate", born, ref).told(w.work(ref + 1))
	s.closing(cases.Closure{On: w.work(ref + 3), As: "duplicate", By: Coordinator.Name,
		Reason: "The laboratory withdrew the result: card of another infant."}, Coordinator)
	s.agree(w.work(ref + 4))
}

func (w *world) carrierAfterQNS(i int, born, ref cases.Day) {
	s := w.story("carrier after QNS", born, ref).found(causing[i%len(causing)]).told(w.work(ref + 1))
	first := w.firstTest(i, born, ref)
	s.book(w.work(ref+2), first).qns(first)
	again := w.work(first + 8 + cases.Day(i%5))
	l, r := s.low()
	s.contact(w.work(first+1), "family", "phone", talked).visit(w.work(first+1), again, l, r)
	s.close(w.closeAfter(i, again), "carrier")
}

func (w *world) qnsTwice(born, ref cases.Day) {
	s := w.story("QNS twice", born, ref).told(w.work(ref + 1))
	first := w.work(born + 17)
	s.book(w.work(ref+2), first).qns(first)
	second := w.work(first + 8)
	s.book(w.work(first+1), second).qns(second)
	third := w.work(second + 14)
	s.contact(w.work(second+1), "supervisor", "in-person", talked).visit(w.work(second+3), third, 14, 15)
	s.close(w.work(third+4), "not-affected")
}

func (w *world) intermediateThenLow(i int, born, ref cases.Day) {
	s := w.story("intermediate, then low", born, ref).found(causing[i%len(causing)]).told(w.work(ref + 1))
	first := w.work(born + 19)
	s.visit(w.work(ref+2), first, 33, 35).orderRepeat(w.work(first + 3))
	again := w.work(first + 28)
	s.visit(w.work(first+10), again, 21, 23).close(w.work(again+3), "carrier")
}

func (w *world) armsDisagreed(born, ref cases.Day) {
	s := w.story("arms disagreed", born, ref).found("N1303K").told(w.work(ref + 1))
	first := w.work(born + 21)
	s.visit(w.work(ref+2), first, 19, 37)
	again := w.work(first + 8)
	s.visit(w.work(first+1), again, 18, 20).close(w.work(again+5), "carrier")
}

func (w *world) conductivityFirst(i int, born, ref cases.Day) {
	s := w.story("conductivity, then chloride", born, ref).found("R553X").told(w.work(ref + 1))
	first := w.work(born + 17)
	s.book(w.work(ref+2), first).sweat(first, conductivity(first, 34))
	again := w.work(first + 9)
	l, r := s.low()
	s.visit(w.work(first+1), again, l, r).close(w.closeAfter(i, again), "carrier")
}

// conductivity is a screening test in mmol/L; it closes nothing.
func conductivity(on cases.Day, value float64) cases.SweatTest {
	l, r := arm("left", 24, -1), arm("right", 27, -1)
	next := value + 2
	l.Conductivity, r.Conductivity = &value, &next
	return cases.SweatTest{On: on, Analyte: "conductivity", Arms: []cases.Arm{l, r}}
}

func (w *world) preterm(i int, born, ref cases.Day) {
	s := w.story("preterm", born, ref).early(29+i%3, 1290+10*(i%20)).told(w.work(ref + 1)).found("F508del")
	s.hold("inpatient", w.work(ref+1), w.work(ref+14)).weigh(w.work(born+21), 1610).weigh(w.work(born+35), 2050)
	test := w.work(born + 46)
	s.holdOver(w.work(born + 40))
	l, r := s.low()
	s.visit(w.work(born+40), test, l, r).close(w.closeAfter(i, test), "carrier")
}

func (w *world) pastTwins(born, ref cases.Day) {
	a := w.story("twin one", born, ref).early(36, 2490).found("W1282X")
	b := w.story("twin two", born, ref)
	a.screen.person, b.screen.person = a.screen.person.twin("Ilse", true)
	b.found("W1282X")
	a.twin, b.twin = b, a
	b.second = true
	test := w.work(born + 24)
	for _, s := range []*story{a, b} {
		s.told(w.work(ref+1)).weigh(w.work(born+12), 2560)
		s.site = a.site
		l, r := s.low()
		s.visit(w.work(ref+3), test, l, r).close(w.work(test+4), "carrier")
	}
}
