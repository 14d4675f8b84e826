package demo

import (
	"context"
	"fmt"
	"slices"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// player records the facts of the stories, one after the other in the order of
// time, through intake and the desk.
type player struct {
	ctx   context.Context
	d     Deps
	ids   map[*story]cases.ID
	actor cases.Actor
	tally Tally
}

// moment sets the clock to a time of a day in the program's zone.
func (p *player) moment(day cases.Day, at cases.Clock) {
	y, m, d := day.Date()
	var hour, minute int
	fmt.Sscanf(string(at), "%d:%d", &hour, &minute)
	p.d.Clock.Set(time.Date(y, time.Month(m), d, hour, minute, 0, 0, p.d.zone()))
}

// receive passes one file of the laboratory through intake.
func (p *player) receive(day cases.Day, part int, messages []string) error {
	p.moment(day, cases.Clock(fmt.Sprintf("00:%02d", 5+part)))
	result, err := p.d.Intake.Receive(p.ctx, importer, intake.Document{Source: "laboratory", Name: fileName(day, part),
		At: p.d.Clock.Now(), Raw: batch(day, messages)})
	if err != nil {
		return fmt.Errorf("messages of %s: %w", day, err)
	}
	for outcome, n := range result.Counts {
		p.tally.Items[string(outcome)] += n
	}
	p.tally.Files++
	p.tally.Messages += len(messages)
	return nil
}

// find links a story with the case that its message opened.
func (p *player) find(s *story) error {
	return p.d.Store.View(p.ctx, func(r cases.Reader) error {
		found, err := r.ByAccession(s.screen.accession)
		if err != nil {
			return err
		}
		if len(found) != 1 {
			return fmt.Errorf("%s (%s): the message made %d cases", s.name, s.screen.accession, len(found))
		}
		p.ids[s] = found[0].ID
		return nil
	})
}

// act records one fact of a story.
func (p *player) act(s *story, a act) error {
	p.moment(a.on, a.at)
	p.actor = a.by
	var c cases.Case
	err := p.d.Store.View(p.ctx, func(r cases.Reader) error {
		var err error
		c, err = r.Case(p.ids[s])
		return err
	})
	if err == nil {
		err = a.do(p, c)
	}
	if err != nil {
		return fmt.Errorf("%s, born %s: %s on %s: %w", s.name, s.screen.person.born, a.say, a.on, err)
	}
	p.tally.Facts++
	return nil
}

func (p *player) contact(c cases.Case, k cases.Contact) error {
	_, err := p.d.Desk.RecordContact(p.ctx, p.actor, c.ID, c.Rev, k)
	return err
}

func (p *player) weight(c cases.Case, w cases.Weight) error {
	_, err := p.d.Desk.RecordWeight(p.ctx, p.actor, c.ID, c.Rev, w)
	return err
}

func (p *player) hold(c cases.Case, h cases.Hold) error {
	_, err := p.d.Desk.PlaceHold(p.ctx, p.actor, c.ID, c.Rev, h)
	return err
}

func (p *player) holdOver(c cases.Case, until cases.Day) error {
	_, err := p.d.Desk.EndHold(p.ctx, p.actor, c.ID, c.Rev, len(c.Holds)-1, until)
	return err
}

// test records a test with the weight of the day; one in twelve infants was not weighed.
func (p *player) test(c cases.Case, t cases.SweatTest) error {
	if n := len(c.Reference); n > 0 && (int(c.Reference[n-1])+int(c.Reference[n-2]))%12 != 0 {
		t.WeightG = weightAtTest(&c.Infant, t.On)
	}
	_, err := p.d.Desk.RecordTest(p.ctx, p.actor, c.ID, c.Rev, t)
	return err
}

// weightAtTest carries the weighings on to the day, else the birth weight: back at it on
// day 10, and 28 g a day after that. Zero without a birth weight.
func weightAtTest(in *cases.Infant, on cases.Day) float64 {
	if slices.ContainsFunc(in.Weights, func(w cases.Weight) bool { return w.On == on }) {
		return 0 // weighed that day already
	}
	if e, ok := in.WeightOn(on, on); ok {
		return e.G
	}
	if in.BirthWeightG == 0 {
		return 0
	}
	return in.BirthWeightG + 28*max(0, float64(on-in.Born)-10)
}

func (p *player) genotype(c cases.Case, g cases.Genotype) error {
	_, err := p.d.Desk.SetGenotype(p.ctx, p.actor, c.ID, c.Rev, g, "Report of the laboratory")
	return err
}

func (p *player) orderRepeat(c cases.Case, by string) error {
	_, err := p.d.Desk.OrderRepeat(p.ctx, p.actor, c.ID, c.Rev, by)
	return err
}

func (p *player) close(c cases.Case, k cases.Closure) error {
	_, err := p.d.Desk.Close(p.ctx, p.actor, c.ID, c.Rev, k)
	return err
}

func (p *player) agree(c cases.Case) error {
	_, err := p.d.Desk.AgreeClosing(p.ctx, p.actor, c.ID, c.Rev)
	return err
}

func (p *player) declined(c cases.Case, x cases.Declined) error {
	_, err := p.d.Desk.Decline(p.ctx, p.actor, c.ID, c.Rev, x)
	return err
}

func (p *player) handover(c cases.Case, to string) error {
	_, err := p.d.Desk.HandOver(p.ctx, p.actor, c.ID, c.Rev, to)
	return err
}

func (p *player) accepted(c cases.Case, by string) error {
	_, err := p.d.Desk.AcceptHandover(p.ctx, p.actor, c.ID, c.Rev, by)
	return err
}

func (p *player) died(c cases.Case, on cases.Day) error {
	_, err := p.d.Desk.RecordDeath(p.ctx, p.actor, c.ID, c.Rev, on, "Call from the hospital")
	return err
}
