package demo

import (
	"context"
	"fmt"
	"slices"
	"sync/atomic"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// Clock is a clock that can be set to the past while the scenario is recorded.
// Until it is set, and after Release, it runs: the real time, moved by Shift.
type Clock struct {
	at    atomic.Pointer[time.Time]
	shift atomic.Int64
}

// Now is the set time, or the running time when none is set.
func (c *Clock) Now() time.Time {
	if t := c.at.Load(); t != nil {
		return *t
	}
	return time.Now().Add(time.Duration(c.shift.Load()))
}

// Set stops the clock at a time.
func (c *Clock) Set(t time.Time) { c.at.Store(&t) }

// Shift moves the running time, for a demo of another day.
func (c *Clock) Shift(by time.Duration) { c.shift.Store(int64(by)) }

// Release lets the clock run again.
func (c *Clock) Release() { c.at.Store(nil) }

// Receiver takes in a document; intake.Intake is one.
type Receiver interface {
	Receive(ctx context.Context, a cases.Actor, d intake.Document) (intake.Result, error)
}

// Deps is what the scenario is recorded with. The store must be empty and must
// have been opened with Clock.Now and Zone.
type Deps struct {
	Store  cases.Store
	Desk   *cases.Desk
	Intake Receiver
	Clock  *Clock
	Zone   *time.Location // the program's zone; UTC when nil
	// Daily runs the daily job of a day (the overdue list, then the letters),
	// with the clock set to 06:00 of that day; nil for none.
	Daily func(ctx context.Context, day cases.Day) error
	// Days is how many days before today Daily runs for; 0 means 30.
	Days int
}

func (d Deps) zone() *time.Location {
	if d.Zone == nil {
		return time.UTC
	}
	return d.Zone
}

// Tally counts what Fill recorded.
type Tally struct {
	Infants  int            // referred, with a case each
	Files    int            // received from the laboratory
	Messages int            // in those files
	Mails    int            // this morning
	Items    map[string]int // by what intake did with them
	Facts    int            // recorded through the desk
	Letters  int            // marked as mailed
}

// Fill records the scenario as it stands in the first minutes of today: what
// the laboratory sent overnight has come in, today's own work has not begun.
// The clock is released at the end, also after a failure.
func Fill(ctx context.Context, d Deps, today cases.Day) (Tally, error) {
	defer d.Clock.Release()
	w := newWorld(today, d.Desk.Protocol().Calendar())
	p := &player{ctx: ctx, d: d, ids: map[*story]cases.ID{}, tally: Tally{Infants: len(w.stories), Items: map[string]int{}}}
	days := w.days()
	if err := p.openClinics(w, days[0]); err != nil {
		return p.tally, fmt.Errorf("demo: sites: %w", err)
	}
	for _, day := range days {
		if err := ctx.Err(); err != nil {
			return p.tally, err
		}
		if err := p.day(w, day); err != nil {
			return p.tally, fmt.Errorf("demo: %w", err)
		}
	}
	return p.tally, nil
}

// newWorld makes all stories of the scenario.
func newWorld(today cases.Day, cal cases.Calendar) *world {
	w := &world{today: today, cal: cal}
	w.past()
	w.present()
	w.strays = w.makeStrays()
	return w
}

// days lists every day from the first message to today.
func (w *world) days() []cases.Day {
	first := w.today
	for _, s := range w.stories {
		first = min(first, s.referred())
	}
	var out []cases.Day
	for d := first; d <= w.today; d++ {
		out = append(out, d)
	}
	return out
}

// day plays one day: messages in the night, the daily job, then the work.
func (p *player) day(w *world, day cases.Day) error {
	var opened []*story
	var messages []string
	for _, s := range w.stories {
		if s.referred() == day {
			opened = append(opened, s)
			messages = append(messages, s.screen.message())
		}
	}
	for _, x := range w.strays {
		if x.on == day && !x.broken {
			messages = append(messages, x.text)
		}
	}
	part := 1
	if len(messages) > 0 {
		if err := p.receive(day, part, messages); err != nil {
			return err
		}
	}
	for _, x := range w.strays {
		if x.on == day && x.broken { // a file of its own, so that it spoils no other
			part++
			if err := p.receive(day, part, []string{x.text}); err != nil {
				return err
			}
		}
	}
	for _, s := range opened {
		if err := p.find(s); err != nil {
			return err
		}
	}
	if err := p.link(opened); err != nil {
		return err
	}
	if day == w.today {
		return p.post(w)
	}
	for _, s := range opened {
		if err := p.doctorsAddress(s, day); err != nil {
			return err
		}
	}
	if err := p.daily(w, day); err != nil {
		return err
	}
	return p.work(w, day)
}

// daily runs the daily job on the last days before today.
func (p *player) daily(w *world, day cases.Day) error {
	n := p.d.Days
	if n == 0 {
		n = 30
	}
	if p.d.Daily == nil || int(w.today-day) > n {
		return nil
	}
	p.moment(day, "06:00")
	if err := p.d.Daily(p.ctx, day); err != nil {
		return fmt.Errorf("daily job of %s: %w", day, err)
	}
	return nil
}

// work records what the program's people did on a day.
func (p *player) work(w *world, day cases.Day) error {
	type job struct {
		s *story
		a act
	}
	var jobs []job
	for _, s := range w.stories {
		for _, a := range s.acts {
			if a.on == day {
				jobs = append(jobs, job{s, a})
			}
		}
	}
	slices.SortStableFunc(jobs, func(a, b job) int {
		if a.a.at < b.a.at {
			return -1
		} else if a.a.at > b.a.at {
			return 1
		}
		return 0
	})
	for _, j := range jobs {
		if err := p.act(j.s, j.a); err != nil {
			return err
		}
	}
	if err := p.mail(w, day); err != nil {
		return err
	}
	return p.lastPost(w, day)
}
