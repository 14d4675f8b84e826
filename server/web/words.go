package web

import (
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// reasonKey is a reason as it stands in an address.
func reasonKey(reason string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(reason) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	return strings.TrimSuffix(b.String(), "-")
}

// stepLink is where the next action is done by somebody with these rights.
func stepLink(c Ctx, k *cases.Case, a *cases.Assessment) templates.Link {
	at := "/infants/" + k.Reference
	link := func(r right, path, text string) templates.Link {
		if !can(c, r) {
			return templates.Link{}
		}
		return templates.Link{Href: at + path, Text: text}
	}
	switch a.Next.Step {
	case cases.StepClearHold:
		if i := openHold(k, a.On); i >= 0 && actorOf(c).May(cases.PlaceHolds) {
			return templates.Link{Href: fmt.Sprintf("%s/holds/%d/end", at, i), Text: "End the hold"}
		}
		return link(logContacts, "/contacts/new", "Log contact")
	case cases.StepLookAgain:
		if l := link(schedule, "/book", "Book the re-test"); l.Href != "" && a.Next.Cause == "crms-cfspid" && placesOf(k, a.On).ahead < 0 {
			return l
		}
		return link(logContacts, "/contacts/new", "Log contact")
	case cases.StepReferAtOnce, cases.StepTellPrimary, cases.StepReachFamily:
		return link(logContacts, "/contacts/new", "Log contact")
	case cases.StepRecordResult:
		if l := link(recordTests, "/tests/new", "Record test"); l.Href != "" && a.Next.Cause != "genotype" {
			return l
		}
		return link(logContacts, "/contacts/new", "Log contact")
	case cases.StepVerify:
		if n := len(a.Tests); n > 0 && a.Next.Cause != "poly-t" {
			return link(verifyTests, fmt.Sprintf("/tests/%d/verify", a.Tests[n-1].Index), "Check the value")
		}
	case cases.StepDecide:
		return link(closeCases, "/close", "Decide and close")
	case cases.StepRepeatTest:
		return link(schedule, "/book", "Book a repeat test")
	case cases.StepBookTest:
		return link(schedule, "/book", "Book a test")
	case cases.StepReweigh:
		return link(logContacts, "/weights/new", "Add a weight")
	}
	return templates.Link{}
}

// lateTag says how late a due day is on another.
func lateTag(due, on cases.Day) templates.Tag {
	switch n := int(on - due); {
	case due == 0:
		return templates.Tag{}
	case n > 0:
		return templates.Tag{Kind: "late", Text: templates.Days(n) + " late"}
	case n == 0:
		return templates.Tag{Kind: "soon", Text: "due today"}
	}
	return templates.Tag{Kind: "", Text: "on time"}
}

// caseTag is the state of a case in its list reason.
func caseTag(a *cases.Assessment) templates.Tag {
	t := templates.Tag{Text: a.ListWord()}
	switch {
	case a.Closed && !a.OnList():
		t.Kind = "done"
	case a.OnList() && a.Overdue.Days > 0:
		t.Kind = "late"
	case a.OnList():
		t.Kind = "soon"
	case a.Next.Step == cases.StepAwaitTest:
		t.Kind = "book"
	}
	return t
}

// clockWord names a clock of the assessment.
func clockWord(name string) string {
	switch name {
	case "primary-care-told":
		return "Telling primary care"
	case "family-reached":
		return "Reaching the family"
	case "first-test":
		return "First test"
	case "repeat-test":
		return "Repeat test"
	case "determination":
		return "Determination"
	}
	return "Next step"
}

// dueSentence says what was or is due when, for the oldest due day of a case.
func dueSentence(a *cases.Assessment) string {
	if !a.OnList() || a.Overdue.By == nil {
		return ""
	}
	name := "This step"
	if *a.Overdue.By != "step" {
		name = clockWord(*a.Overdue.By)
	}
	if a.Overdue.Days == 0 {
		return name + " is due today"
	}
	return name + " was due " + shortDay(a.Overdue.Since)
}

// shortDay is a day in running text: 5 Mar 2026, with spaces that do not break.
func shortDay(d cases.Day) string { return strings.ReplaceAll(date(d).String(), " ", "\u00a0") }

// infantName is the family name in capitals, then the given one.
func infantName(i *cases.Infant) string {
	family, given := strings.ToUpper(i.Family), i.Given
	switch {
	case family == "" && given == "":
		return "NAME NOT KNOWN"
	case family == "":
		return given
	case given == "":
		return family
	}
	return family + ", " + given
}

// shortName is how the page speaks of the infant.
func shortName(i *cases.Infant) string { return or(i.Given, "this infant") }

// twinWords is the birth order among several: "Twin A of 2".
func twinWords(i *cases.Infant) string {
	if i.Plurality < 2 {
		return ""
	}
	kind := "Multiple"
	switch i.Plurality {
	case 2:
		kind = "Twin"
	case 3:
		kind = "Triplet"
	}
	if i.BirthOrder < 1 || i.BirthOrder > 26 {
		return fmt.Sprintf("%s, order not known, of %d", kind, i.Plurality)
	}
	return fmt.Sprintf("%s %c of %d", kind, 'A'+rune(i.BirthOrder-1), i.Plurality)
}

// ageOn is an age in days, at least 0.
func ageOn(i *cases.Infant, on cases.Day) int { return max(0, int(on-i.Born)) }

// gestationWords is a gestation in words.
func gestationWords(g cases.Gestation) string {
	if g == 0 {
		return "Not known"
	}
	w, d := int(g)/7, int(g)%7
	if d == 0 {
		return templates.Count(w, "week", "weeks")
	}
	return templates.Count(w, "week", "weeks") + " " + templates.Days(d)
}

func sexWord(sex string) string {
	switch sex {
	case "female":
		return "Girl"
	case "male":
		return "Boy"
	case "other":
		return "Other"
	}
	return "Not known"
}

// flagWords lists the contact flags in force on a day.
func flagWords(k *cases.Case, on cases.Day) string {
	words := map[string]string{"no-voicemail": "No voicemail", "no-mail": "No mail", "custody": "Custody: ask before you call", "safety": "Safety: ask before you call"}
	var out []string
	for _, f := range k.Flags {
		if (f.From == 0 || f.From <= on) && (f.Until == 0 || on < f.Until) {
			out = append(out, or(words[f.Kind], f.Kind))
		}
	}
	return strings.Join(out, ". ")
}
