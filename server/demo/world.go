package demo

import (
	"fmt"
	"math/rand/v2"

	"dunlin/cases"
)

// The people of the Alder Bay program, who did what the scenario records; their
// identifiers are the names they sign in with.
var (
	Coordinator = cases.Actor{ID: "coordinator@alderbay.example", Name: "Wren Castellano", Role: cases.Coordinator, Via: "demo"}
	Nurse       = cases.Actor{ID: "nurse@alderbay.example", Name: "Dagny Achterberg", Role: cases.Nurse, Via: "demo"}
	Manager     = cases.Actor{ID: "manager@alderbay.example", Name: "Ines Okafor-Lund", Role: cases.Manager, Via: "demo"}
	importer    = cases.Actor{ID: "import", Name: "Import", Role: cases.System, Via: "import"}
)

// clinicians decide at the CF center; invented.
var clinicians = []string{"Dr. Sanna Ferrante-Wells", "Dr. Obi Lindgren"}

// testedAt spreads the infants over the sites; half go to Alder Bay.
var testedAt = []string{"alder-bay", "alder-bay", "heron-point", "alder-bay", "heron-point", "marlow-creek"}

// world builds the stories of one scenario.
type world struct {
	today   cases.Day
	cal     cases.Calendar
	stories []*story
	strays  []stray
	mails   []arrival
	n       int // infants made so far
}

// work is the first working day on or after d.
func (w *world) work(d cases.Day) cases.Day {
	for !w.cal.Working(d) {
		d++
	}
	return d
}

// back is the last working day on or before d.
func (w *world) back(d cases.Day) cases.Day {
	for !w.cal.Working(d) {
		d--
	}
	return d
}

// story is one infant: the message that refers it and what was recorded since.
type story struct {
	w       *world
	name    string
	screen  screen
	twin    *story
	second  bool // the later of twins
	acts    []act
	site    string
	rng     *rand.Rand
	step    cases.Step // the step it is at today; "" when not set
	lastDay cases.Day
}

// act is one fact recorded on a day.
type act struct {
	on  cases.Day
	at  cases.Clock
	by  cases.Actor
	do  func(p *player, c cases.Case) error
	say string // for an error
}

// story starts a story: the infant's birth and the day its result arrives.
func (w *world) story(name string, born, referred cases.Day) *story {
	w.n++
	s := &story{w: w, name: name, site: testedAt[w.n%len(testedAt)], rng: rand.New(rand.NewPCG(uint64(w.n), 0x5EA7))}
	s.screen = w.screenOf(newPerson(w.n, born), w.n, referred)
	w.stories = append(w.stories, s)
	return s
}

// screenOf fills in a result that is out of range on the immunoreactive
// trypsinogen alone.
func (w *world) screenOf(p person, n int, sent cases.Day) screen {
	year, _, _ := sent.Date()
	s := screen{control: fmt.Sprintf("AB%06d", n), accession: fmt.Sprintf("%02d-%06d", year%100, 43000+n*17),
		card: fmt.Sprintf("ABC%08d", 1200000+n*23), sent: sent, person: p, answer: outOfRange,
		collected: min(p.born+1, sent), reported: max(sent-1, p.born+1), irt: 64 + float64(n*37%700)/10}
	s.reported = min(s.reported, sent)
	s.comment = "IRT raised. No CFTR variant found on the panel. Refer for sweat chloride testing."
	s.variants = []string{"None detected"}
	return s
}

// found sets the variants that the screen found.
func (s *story) found(variants ...string) *story {
	s.screen.variants = variants
	if len(variants) == 1 {
		s.screen.comment = "IRT raised. One CFTR variant found. Refer for sweat chloride testing."
	} else if len(variants) > 1 {
		s.screen.comment = "IRT raised. Two CFTR variants found. Refer for sweat chloride testing."
		s.screen.answer = urgentReferral
	}
	return s
}

// early makes the infant preterm.
func (s *story) early(weeks, grams int) *story {
	s.screen.person = s.screen.person.early(weeks, grams)
	return s
}

// at says at which step the infant is today.
func (s *story) at(step cases.Step) *story { s.step = step; return s }

// referred is the day the message arrives.
func (s *story) referred() cases.Day { return s.screen.sent }

// add appends an act, in the order of the story on one day.
func (s *story) add(on cases.Day, by cases.Actor, say string, do func(*player, cases.Case) error) *story {
	minute := len(s.acts)*7 + s.w.n%6
	at := cases.Clock(fmt.Sprintf("%02d:%02d", min(8+minute/60, 17), minute%60))
	s.acts = append(s.acts, act{on: on, at: at, by: by, do: do, say: say})
	s.lastDay = max(s.lastDay, on)
	return s
}
