package intake

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"dunlin/cases"
)

// reopen takes back each closure that rested on what is taken off: no infant stays
// closed on another infant's result. It gives what the case had been closed as.
func (u *undoing) reopen(was, now *cases.Case) string {
	var as []string
	today := u.w.Today()
	for i := range now.Closures {
		k := &now.Closures[i]
		if k.Reopened != nil || !restedOnChange(k, was, now) {
			continue
		}
		k.Reopened = &cases.Reopened{On: max(today, k.On), By: u.actor.Name, Reason: "What it rested on was taken off the case: " + u.reason}
		as = append(as, k.As)
	}
	for _, f := range slices.Backward(now.Faults(today, u.protocol)) { // the last closure first, so that the paths of others hold
		i := 0
		if _, err := fmt.Sscanf(f.Path, "closures[%d].as", &i); err == nil && strings.HasSuffix(f.Path, "].as") && now.Closures[i].Reopened != nil {
			u.unfounded(now, i)
		}
	}
	return strings.Join(as, ", ")
}

// unfounded turns a closure that the case cannot hold without its test into a note;
// the history keeps it whole.
func (u *undoing) unfounded(now *cases.Case, i int) {
	k := now.Closures[i]
	text := fmt.Sprintf("On %s %s closed the case as %s", k.On, k.By, k.As)
	if k.AgreedBy != "" {
		text += fmt.Sprintf(", and %s agreed on %s", k.AgreedBy, k.AgreedOn)
	}
	now.Notes = append(now.Notes, cases.Note{On: u.w.Today(), By: u.actor.Name,
		Text: text + ". Taken back: the test it rested on was taken off the case. " + u.reason})
	if now.Closures = slices.Delete(now.Closures, i, i+1); len(now.Closures) == 0 {
		now.Closures = nil
	}
}

// restedOnChange tells whether a closure rested on a fact that is not on the case any
// more, or is another now: a sweat test, the genotype, the death.
func restedOnChange(k *cases.Closure, was, now *cases.Case) bool {
	switch k.As {
	case "died":
		return was.Infant.Died != now.Infant.Died || was.Infant.DiedReported != now.Infant.DiedReported
	case "lost", "refused", "moved", "duplicate":
		return false
	}
	if !reflect.DeepEqual(was.Genotype, now.Genotype) {
		return true
	}
	for _, t := range was.SweatTests {
		rested := t.On <= k.On
		if k.RestsOn != nil {
			rested = slices.Contains(k.RestsOn, t.On)
		}
		if rested && !reflect.DeepEqual(measured(was, t.On), measured(now, t.On)) {
			return true
		}
	}
	return false
}

// measured is what the tests of a day measured.
func measured(c *cases.Case, on cases.Day) (out [][]cases.Arm) {
	for i := range c.SweatTests {
		if t := &c.SweatTests[i]; t.On == on {
			out = append(out, t.Arms)
		}
	}
	return out
}
