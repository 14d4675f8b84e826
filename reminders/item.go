package reminders

import (
	"dunlin/cases"
)

// Item is one infant on the overdue list.
type Item struct {
	Case       *cases.Case
	Assessment cases.Assessment
	// Twins are the references of siblings of the same birth that stand with the
	// infant on this list.
	Twins []string
}

// Late is the number of days since the oldest due day; 0 is due today.
func (i *Item) Late() int { return i.Assessment.Overdue.Days }

// AgeDays is the infant's age on the day of the list.
func (i *Item) AgeDays() int { return int(i.Assessment.On - i.Case.Infant.Born) }

// By is what is overdue: "step", or the name of a clock.
func (i *Item) By() string {
	if i.Assessment.Overdue.By == nil {
		return ""
	}
	return *i.Assessment.Overdue.By
}

// Reason is why the infant is on the list, in a few words.
func (i *Item) Reason() string { return i.Assessment.ListWord() }

// Action is what to do next, verb first.
func (i *Item) Action() string { return i.Assessment.ActionWord() }

// Class says why an infant stands before others; "" for the ordinary class.
func (i *Item) Class() string { return Class(i.Assessment.Next.Urgency) }

// LastContact is the newest contact up to the day of the list, with the family or
// whoever was tried for it; nil when nobody was tried.
func (i *Item) LastContact() *cases.Contact {
	var last *cases.Contact
	for k := range i.Case.Contacts {
		c := &i.Case.Contacts[k]
		if c.On > i.Assessment.On {
			continue
		}
		if last == nil || c.On > last.On || c.On == last.On && c.At >= last.At {
			last = c
		}
	}
	return last
}

// Tries counts the attempts at the family since it was last reached.
func (i *Item) Tries() int {
	var reached cases.Day
	for k := range i.Case.Contacts {
		if c := &i.Case.Contacts[k]; c.With == "family" && c.Reached && c.On <= i.Assessment.On {
			reached = max(reached, c.On)
		}
	}
	n := 0
	for k := range i.Case.Contacts {
		if c := &i.Case.Contacts[k]; c.With == "family" && !c.Reached && c.On <= i.Assessment.On && c.On >= reached {
			n++
		}
	}
	return n
}
