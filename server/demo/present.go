package demo

import (
	"dunlin/cases"
)

// present makes the infants who are open today, so that every step occurs.
func (w *world) present() {
	w.presumptive()
	w.doubtful()
	w.resultsAwaited()
	w.results()
	w.toDecide()
	w.toReach()
	w.onHold()
	w.booked()
	w.toRepeat()
	w.tooLight()
	w.toBook()
	w.twins()
	w.clinicToday()
}

// ago is the last working day on or before so many days ago.
func (w *world) ago(days int) cases.Day { return w.back(w.today - cases.Day(days)) }

// ahead is the first working day on or after so many days from now.
func (w *world) ahead(days int) cases.Day { return w.work(w.today + cases.Day(days)) }

// open starts a story of an infant who is so many days old today and was
// referred so many days ago: on a working day, unless that is today.
func (w *world) open(name string, age, referred int) *story {
	on := w.today
	if referred > 0 {
		on = w.ago(referred)
	}
	return w.story(name, w.today-cases.Day(age), on)
}

func (w *world) presumptive() {
	w.open("two variants this morning", 7, 0).found("F508del", "W1282X").at(cases.StepReferAtOnce)
	w.open("two variants, nobody reached", 11, 3).found("G551D", "F508del").at(cases.StepReferAtOnce).
		contact(w.ago(2), "family", "phone", noAnswer).contact(w.ago(2), "primary-care", "phone", message)
}

func (w *world) doubtful() {
	s := w.open("arms disagree", 29, 21).found("F508del").at(cases.StepVerify).told(w.ago(20))
	s.visit(w.ago(16), w.ago(4), 22, 41)
	s = w.open("value not plausible", 31, 24).found("N1303K").at(cases.StepVerify).told(w.ago(22))
	s.visit(w.ago(18), w.ago(5), 171, 176)
	s = w.open("does not fit two variants", 27, 20).found("F508del", "R553X").at(cases.StepVerify).toldAll(w.ago(19))
	s.visit(w.ago(17), w.ago(6), 19, 21)
}

func (w *world) resultsAwaited() {
	s := w.open("booked day passed", 26, 18).found("F508del").at(cases.StepRecordResult).told(w.ago(17))
	s.book(w.ago(14), w.ago(2))
	s = w.open("arms without a value", 24, 17).found("621+1G>T").at(cases.StepRecordResult).told(w.ago(15))
	on := w.ago(3)
	s.book(w.ago(12), on).sweat(on, cases.SweatTest{On: on, Arms: []cases.Arm{arm("left", 27, -1), arm("right", 22, -1)}})
	s = w.open("sequencing awaited", 75, 68).found("F508del").at(cases.StepRecordResult).told(w.ago(66))
	first, second := w.ago(52), w.ago(20)
	s.visit(w.ago(60), first, 42, 44).orderRepeat(first).visit(w.ago(45), second, 47, 45)
}

func (w *world) toDecide() {
	s := w.open("carrier, due today", 25, 18).found("F508del").at(cases.StepDecide).told(w.ago(16))
	s.visit(w.ago(14), w.today-7, 14, 15)
	s = w.open("not affected, in time", 22, 15).at(cases.StepDecide).told(w.ago(13))
	s.visit(w.ago(10), w.ago(3), 11, 13)
	s = w.open("CF range, late", 27, 20).found("F508del", "F508del").at(cases.StepDecide).toldAll(w.ago(20))
	s.visit(w.ago(17), w.ago(9), 88, 92)
	s = w.open("died", 21, 14).early(26, 810).at(cases.StepDecide).contact(w.ago(12), "primary-care", "phone", talked)
	s.hold("inpatient", w.ago(11), w.ahead(20)).death(w.today-3, w.today-2)
	s = w.open("declined", 23, 16).found("2789+5G>A").at(cases.StepDecide).told(w.ago(14))
	on := w.ago(2)
	s.add(on, Coordinator, "refusal", func(p *player, c cases.Case) error {
		return p.declined(c, cases.Declined{On: on, ByWhom: "both parents", ExplainedBy: clinicians[1]})
	})
	w.open("moved", 24, 17).found("F508del").at(cases.StepDecide).told(w.ago(15)).handover(w.ago(8), w.ago(1))
	s = w.open("two alleles, low chloride", 30, 22).found("F508del", "D1152H").at(cases.StepDecide).told(w.ago(21))
	s.visit(w.ago(18), w.ago(4), 26, 27)
}

func (w *world) toReach() {
	w.open("primary care not told", 12, 5).found("G542X").at(cases.StepTellPrimary)
	w.open("referred this morning", 8, 0).found("F508del").at(cases.StepTellPrimary)
	s := w.open("family not reached", 14, 7).found("R553X").at(cases.StepReachFamily).
		contact(w.ago(6), "primary-care", "phone", talked).contact(w.ago(5), "family", "phone", message).
		contact(w.ago(4), "family", "phone", noAnswer)
	w.otherMails(s)
	s = w.open("letter came back", 24, 16).found("F508del").at(cases.StepReachFamily).
		contact(w.ago(14), "primary-care", "phone", talked).contact(w.ago(14), "family", "phone", noAnswer).
		contact(w.ago(11), "family", "phone", "wrong number").contact(w.ago(10), "family", "letter", mailed)
	s.contact(w.ago(3), "family", "letter", cameBack).letterBack(w.ago(3))
	s.screen.person.language = "es"
	s = w.open("lost, waits for agreement", 56, 49).at(cases.StepReachFamily).ladder(w.today - 47)
	s.closing(cases.Closure{On: w.ago(2), As: "lost", By: Coordinator.Name, LookAgain: w.today + 130,
		Reason: "Six attempts by four routes; primary care has no other number."}, Coordinator)
}

func (w *world) onHold() {
	w.open("on oxygen", 30, 23).early(31, 1480).found("F508del").at(cases.StepClearHold).told(w.ago(21)).
		hold("oxygen", w.ago(20), w.ahead(4))
	w.open("steroids, answer late", 26, 19).found("N1303K").at(cases.StepClearHold).told(w.ago(17)).
		hold("steroids", w.ago(12), 0)
}

func (w *world) booked() {
	s := w.open("booked today", 19, 11).found("F508del").at(cases.StepAwaitTest).told(w.ago(9))
	s.book(w.ago(8), w.today)
	s = w.open("booked next", 16, 8).found("W1282X").at(cases.StepAwaitTest).told(w.ago(7))
	s.book(w.ago(5), w.ahead(1))
	s = w.open("booked next week", 14, 7).at(cases.StepAwaitTest).told(w.ago(5))
	s.book(w.ago(4), w.ahead(6))
	s = w.open("repeat booked after QNS", 27, 20).found("G551D").at(cases.StepAwaitTest).told(w.ago(18))
	s.book(w.ago(15), w.ago(3)).qns(w.ago(3)).book(w.ago(1), w.ahead(2))
}

func (w *world) toRepeat() {
	s := w.open("QNS, repeat due today", 26, 18).found("F508del").at(cases.StepRepeatTest).told(w.ago(16))
	s.book(w.ago(14), w.today-7).qns(w.today - 7)
	s = w.open("QNS twice", 38, 31).at(cases.StepRepeatTest).told(w.ago(29))
	first, second := w.ago(22), w.ago(13)
	s.book(w.ago(27), first).qns(first).book(w.ago(21), second).qns(second)
	s = w.open("intermediate, high", 56, 48).found("F508del").at(cases.StepRepeatTest).told(w.ago(46))
	s.visit(w.ago(44), w.ago(33), 53, 55).orderRepeat(w.ago(31))
	s = w.open("QNS, repeat ahead", 23, 15).found("2789+5G>A").at(cases.StepRepeatTest).told(w.ago(13))
	s.book(w.ago(12), w.ago(3)).qns(w.ago(3))
}

func (w *world) tooLight() {
	s := w.open("gaining slowly", 28, 20).early(32, 1540).found("G542X").at(cases.StepReweigh).told(w.ago(18))
	s.weigh(w.today-11, 1590).weigh(w.today-3, 1690)
	s = w.open("weight check today", 24, 17).early(33, 1610).at(cases.StepReweigh).told(w.ago(15))
	s.weigh(w.today-14, 1640).weigh(w.today-7, 1730)
	s = w.story("no weight", w.today-15, w.today-6).found("F508del").at(cases.StepReweigh).told(w.work(w.today - 6))
	s.screen.person.birthWeightG = 0
}

func (w *world) toBook() {
	w.open("to book, in time", 10, 3).found("F508del").at(cases.StepBookTest).told(w.ago(1))
	w.story("to book today", w.today-16, w.today-7).found("1717-1G>A").at(cases.StepBookTest).told(w.work(w.today - 7))
	s := w.open("past day 28", 36, 20).at(cases.StepBookTest).told(w.ago(17))
	s.screen.collected = s.screen.person.born + 2
	s = w.open("missed appointment", 25, 17).found("R553X").at(cases.StepBookTest).told(w.ago(15))
	s.book(w.ago(13), w.ago(5)).booking(w.ago(5), "missed", w.ago(5), "")
	s = w.story("cancelled appointment", w.today-14, w.today-6).found("F508del").at(cases.StepBookTest).told(w.work(w.today - 6))
	s.book(w.work(w.today-6), w.ahead(3)).booking(w.ahead(3), "cancelled", w.ago(1), "The family has no transport that day.")
	s = w.open("after conductivity", 24, 17).found("N1303K").at(cases.StepBookTest).told(w.ago(15))
	on := w.ago(3)
	s.book(w.ago(12), on).sweat(on, conductivity(on, 52))
}

// twins are open together: one booked for both on the same day.
func (w *world) twins() {
	a := w.open("open twin one", 17, 10).early(36, 2380).found("F508del").at(cases.StepAwaitTest)
	b := w.open("open twin two", 17, 10).found("F508del").at(cases.StepAwaitTest)
	a.screen.person, b.screen.person = a.screen.person.twin("Signe", true)
	a.screen.person.given, a.screen.person.girl = "Anders", false
	a.twin, b.twin, b.site = b, a, a.site
	b.second = true
	for _, s := range []*story{a, b} {
		s.told(w.ago(8)).weigh(w.ago(4), 2420).book(w.ago(5), w.ahead(5))
	}
}
