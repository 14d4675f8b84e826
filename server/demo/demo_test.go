package demo

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/intake/mail"
	"dunlin/cases/measures"
	"dunlin/cases/store"
	"dunlin/reminders"
	"dunlin/reminders/letters"
	"dunlin/templates"

	"github.com/google/go-cmp/cmp"
)

// set is a scenario in a store of its own.
type set struct {
	today cases.Day
	db    *store.DB
	p     *cases.Protocol
	w     *world
	tally Tally
	clock *Clock
}

// fill makes the scenario of a day in a temporary store.
func fill(t testing.TB, today cases.Day) *set {
	t.Helper()
	clock := &Clock{}
	s := &set{today: today, p: cases.DefaultProtocol(), clock: clock}
	var err error
	s.db, err = store.Open(filepath.Join(t.TempDir(), "demo.db"), store.Options{Now: clock.Now, Scratch: true, Protocol: s.p,
		Rand: rand.NewChaCha8([32]byte{1})})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.db.Close() })
	texts, err := templates.ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	values := func() *cases.Protocol { return s.p }
	program := &letters.Program{Name: "Alder Bay follow-up", Return: []string{"Alder Bay follow-up", "1 Harbor Road"},
		Contact: "Wren Castellano", Phone: "555-0142", Hours: "Monday to Friday, 8 to 4", Emergency: "911",
		Envelope: letters.No10(), Sites: map[string]letters.Site{}}
	for _, key := range testedAt {
		program.Sites[key] = letters.Site{Name: "The clinic at " + key, Address: "2 Harbor Road", Phone: "555-0160"}
	}
	book := &reminders.Book{Store: s.db, Protocol: values}
	press := &letters.Press{Store: s.db, Protocol: values, Program: func() *letters.Program { return program }, Texts: texts}
	daily := letters.Daily(book, press)
	s.tally, err = Fill(context.Background(), Deps{
		Store: s.db, Desk: cases.NewDesk(s.db, s.p), Clock: clock,
		Daily: func(ctx context.Context, day cases.Day) error {
			_, err := daily(ctx, day.Time().Add(6*time.Hour))
			return err
		},
		Intake: intake.New(s.db, values, intake.Settings{}, hl7.Format{}).OpenMail(mail.Reader{}),
	}, today)
	if err != nil {
		t.Fatal(err)
	}
	s.w = newWorld(today, s.p.Calendar())
	return s
}

// each gives every case with its assessment today and its story.
func (s *set) each(t testing.TB, f func(c *cases.Case, a *cases.Assessment, of *story)) {
	t.Helper()
	byAccession := map[string]*story{}
	for _, of := range s.w.stories {
		byAccession[of.screen.accession] = of
	}
	err := s.db.View(context.Background(), func(r cases.Reader) error {
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			of := byAccession[c.Referral.Screen.Accession]
			if of == nil {
				t.Errorf("%s comes from no story", c.Reference)
				continue
			}
			a := s.p.Assess(&c, s.today)
			f(&c, &a, of)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// days on which the scenario must hold: the day before a holiday, a Monday, a
// Saturday, and 1 March of a leap year.
var days = []cases.Day{cases.MakeDay(2026, 11, 25), cases.MakeDay(2026, 7, 6), cases.MakeDay(2027, 1, 2), cases.MakeDay(2028, 3, 1)}

// Every infant stands today at the step that its story means it to, and every
// step of the vocabulary occurs.
func TestEveryStepOccurs(t *testing.T) {
	all := []cases.Step{cases.StepLookAgain, cases.StepClosed, cases.StepDecide, cases.StepReferAtOnce, cases.StepVerify,
		cases.StepRecordResult, cases.StepTellPrimary, cases.StepReachFamily, cases.StepClearHold, cases.StepAwaitTest,
		cases.StepRepeatTest, cases.StepReweigh, cases.StepBookTest}
	for _, today := range days {
		t.Run(today.String(), func(t *testing.T) {
			s := fill(t, today)
			seen := map[cases.Step]int{}
			dueToday, listed, open := 0, 0, 0
			s.each(t, func(c *cases.Case, a *cases.Assessment, of *story) {
				seen[a.Next.Step]++
				want := of.step
				if want == "" {
					want = cases.StepClosed
				}
				if a.Next.Step != want {
					t.Errorf("%s (%s) is at %s, want %s", c.Reference, of.name, a.Next.Step, want)
				}
				if !a.Closed {
					open++
				}
				if a.OnList() {
					listed++
					if a.Overdue.Days == 0 {
						dueToday++
					}
				}
			})
			for _, step := range all {
				if seen[step] == 0 {
					t.Errorf("nobody is at %s", step)
				}
			}
			if dueToday < 3 || listed < 18 || listed > 34 || open < 25 || open > 50 {
				t.Errorf("%d open, %d on the list, %d due today", open, listed, dueToday)
			}
			problems, err := s.db.Check(context.Background())
			if err != nil || len(problems) > 0 {
				t.Errorf("check: %v %v", problems, err)
			}
		})
	}
}

func TestTwinsComeOneAfterTheOther(t *testing.T) {
	s := fill(t, days[0])
	at := map[string]string{} // mother and booked time -> reference
	seen := 0
	s.each(t, func(c *cases.Case, _ *cases.Assessment, _ *story) {
		if len(c.Siblings) == 0 {
			return
		}
		for i := range c.Bookings {
			seen++
			key := c.Family.Mother + " " + cases.BookingOccasion(&c.Bookings[i])
			if other, taken := at[key]; taken && other != c.Reference {
				t.Errorf("%s and %s are booked at one time: %s", other, c.Reference, key)
			}
			at[key] = c.Reference
		}
	})
	if seen < 4 {
		t.Errorf("only %d bookings of twins", seen)
	}
}

// The mix has the shape of published programs: protocol page, section 7 (Ohio
// and Alabama for CF and CRMS/CFSPID, the CF Foundation's benchmark for QNS).
func TestMix(t *testing.T) {
	s := fill(t, days[0])
	outcomes, actions, languages, preterm, twins, toCheck := map[cases.Outcome]int{}, map[string]int{}, map[string]int{}, 0, 0, 0
	var records []measures.Record
	s.each(t, func(c *cases.Case, a *cases.Assessment, of *story) {
		records = append(records, measures.FromCase(c, a))
		for _, r := range a.Tests {
			outcomes[r.Outcome]++
		}
		for _, w := range a.Actions.Words() {
			actions[w]++
		}
		if c.Family != nil {
			languages[c.Family.Language]++
		}
		if c.Infant.Gestation < 37*7 {
			preterm++
		}
		if len(c.Siblings) == 1 {
			twins++
		}
		toCheck += len(c.ToCheck)
	})
	rep := measures.ClosureTimes(records, measures.Window{AsOf: s.today})
	closed := map[string]float64{}
	for _, c := range rep.ClosedAs {
		closed[c.As] = float64(c.N) / float64(rep.Cases)
	}
	if rep.Cases != s.tally.Infants || rep.Cases < 110 || rep.Cases > 130 {
		t.Errorf("%d cases for %d infants", rep.Cases, s.tally.Infants)
	}
	if q := *rep.FirstQNS.Rate; q < 0.05 || q > 0.15 {
		t.Errorf("QNS in %.3f of first tests", q)
	}
	if m := rep.All.BirthToTest.Median.Day; m == nil || *m < 21 || *m > 35 {
		t.Errorf("median age at first test %s", measures.Days(m))
	}
	if closed["cf"] < 0.03 || closed["cf"] > 0.10 || closed["lost"] < 0.01 || closed["lost"] > 0.08 || closed["crms-cfspid"] < 0.02 {
		t.Errorf("shares closed: %v", closed)
	}
	for _, as := range []string{"cf", "crms-cfspid", "carrier", "not-affected", "lost", "refused", "died", "moved", "duplicate"} {
		if closed[as] == 0 {
			t.Errorf("nobody was closed as %s", as)
		}
	}
	for _, o := range []cases.Outcome{cases.Unlikely, cases.Intermediate, cases.ConsistentCF, cases.QNS, cases.ArmsDisagree,
		cases.Unverified, cases.NotResulted, cases.ScreeningOnly} {
		if outcomes[o] == 0 {
			t.Errorf("no test reads %s", o)
		}
	}
	for _, w := range []string{"agree-closing", "consider-elastase", "quantitative-chloride", "refer-specialist", "reweigh"} {
		if actions[w] == 0 {
			t.Errorf("no case asks for %s", w)
		}
	}
	if preterm < 6 || twins != 6 || rep.NotReady.Cases < 3 || languages["es"] < 10 || languages["en"] < 50 {
		t.Errorf("%d preterm, %d twins, %d not ready by day 28, languages %v", preterm, twins, rep.NotReady.Cases, languages)
	}
	if toCheck > 0 {
		t.Errorf("%d values could not be read", toCheck)
	}
}

// What the laboratory sent adds up, and a person has something to look at.
func TestIntakeAddsUp(t *testing.T) {
	s := fill(t, days[0])
	sum := 0
	for _, n := range s.tally.Items {
		sum += n
	}
	if sum != s.tally.Messages+s.tally.Mails || s.tally.Mails != 3 || s.tally.Items["attached"] != 1 || s.tally.Items["opened"] != s.tally.Infants || s.tally.Items["no-case"] < 20 {
		t.Errorf("%d messages, items %v", s.tally.Messages, s.tally.Items)
	}
	err := s.db.View(context.Background(), func(r cases.Reader) error {
		waiting, err := r.ItemsWaiting()
		if err != nil {
			return err
		}
		if len(waiting) < 6 || !waiting[0].Top {
			t.Errorf("%d items wait, presumptive wording first: %v", len(waiting), len(waiting) > 0 && waiting[0].Top)
		}
		mailed, waitingLetters := 0, 0
		for l, err := range r.Letters("") {
			if err != nil {
				return err
			}
			switch l.State {
			case "mailed":
				mailed++
			case "to-print":
				waitingLetters++
			}
		}
		if mailed < 15 || waitingLetters < 2 {
			t.Errorf("%d letters mailed, %d to print", mailed, waitingLetters)
		}
		kept, err := r.DayLists(40)
		if len(kept) != 30 {
			t.Errorf("%d kept lists, want one for each of the 30 days before today", len(kept))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// The scenario of a day is always the same.
func TestDeterministic(t *testing.T) {
	read := func() map[string]string {
		s := fill(t, days[0])
		out := map[string]string{}
		s.each(t, func(c *cases.Case, a *cases.Assessment, of *story) {
			doc, err := json.Marshal(struct {
				Case       *cases.Case
				Assessment *cases.Assessment
			}{c, a})
			if err != nil {
				t.Fatal(err)
			}
			out[c.Reference] = string(doc)
		})
		return out
	}
	if d := cmp.Diff(read(), read()); d != "" {
		t.Error(d)
	}
}

// Telephone numbers are 555-01xx, and names hold nothing of the rules of the
// message format.
func TestMessagesAreInvented(t *testing.T) {
	w := newWorld(days[0], cases.DefaultProtocol().Calendar())
	for _, s := range w.stories {
		text := s.screen.message()
		if strings.Count(text, "\r") < 25 || strings.Contains(text, "\n") {
			t.Errorf("%s: segments end in a carriage return alone", s.name)
		}
		for _, phone := range []string{s.screen.person.phone, s.screen.person.care.phone} {
			if !strings.HasPrefix(phone, "55501") || len(phone) != 7 {
				t.Errorf("%s: phone %s", s.name, phone)
			}
		}
		reading := hl7.Format{}.Read([]byte(text), intake.Settings{})
		if len(reading.Items) != 1 || intake.Worst(reading.Items[0].Problems) > intake.Note {
			t.Errorf("%s: %d items, problems %v", s.name, len(reading.Items), reading.Items[0].Problems)
			continue
		}
		if got := reading.Items[0].Referral.Infant; got.Family != s.screen.person.family || got.Born.Day != s.screen.person.born {
			t.Errorf("%s: read back as %s born %s", s.name, got.Family, got.Born.Day)
		}
	}
}

func BenchmarkFill(b *testing.B) {
	for b.Loop() {
		began := time.Now()
		s := fill(b, days[0])
		b.ReportMetric(float64(time.Since(began).Milliseconds()), "ms/scenario")
		b.ReportMetric(float64(s.tally.Facts+s.tally.Files+2*s.tally.Letters), "commits")
	}
}

func TestClock(t *testing.T) {
	c := &Clock{}
	past := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	c.Set(past)
	if got := c.Now(); !got.Equal(past) {
		t.Errorf("set to %s, gives %s", past, got)
	}
	c.Shift(-48 * time.Hour)
	c.Release()
	if ago := time.Since(c.Now()); ago < 47*time.Hour || ago > 49*time.Hour {
		t.Errorf("runs %s behind, want 48 h", ago)
	}
}
