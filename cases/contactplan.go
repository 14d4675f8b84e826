package cases

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// ContactPlan is what the program does, in order, to reach a family: which means, on
// which working days after contact is needed, by whom, and which letters go. It is a
// protocol value. The default is proposed, not published: its pieces are practice in
// Maryland (telephone, certified mail, nurse's visit), Bavaria and Ohio, its spacing a
// choice of this project.
type ContactPlan []Rung

// Rung is one step of the contact plan: one or several attempts by one means.
type Rung struct {
	Name string `json:"name" req:"yes" note:"short key in lower case, such as calls"`
	With string `json:"with" req:"yes" enum:"family primary-care public-health-nurse supervisor" note:"who is contacted"`
	By   string `json:"by,omitempty" enum:"phone letter certified-letter email text visit in-person fax" note:"absent: by any means"`
	// Days has the working day of each attempt, counted from the day on which contact
	// is needed (0 is that day); Presumptive the same for presumptive CF.
	Days        []int  `json:"days" req:"yes"`
	Presumptive []int  `json:"presumptive_days" req:"yes"`
	Who         string `json:"who" req:"yes" note:"whose task it is"`
	What        string `json:"what" req:"yes" note:"what to do, one or two sentences"`
	// Letter goes to the family and DoctorLetter to primary care when the first day of
	// the rung has come.
	Letter       string `json:"letter,omitempty"`
	DoctorLetter string `json:"doctor_letter,omitempty"`
}

func defaultContactPlan() ContactPlan {
	return ContactPlan{
		{Name: "calls", With: "family", By: "phone", Days: []int{0, 1, 3}, Presumptive: []int{0, 0, 1}, Who: "coordinator",
			What: "Call on three different days, at least once before 9:00 or after 17:00. On a voicemail leave a name and a number only."},
		{Name: "nudge", With: "family", By: "text", Days: []int{1, 3}, Presumptive: []int{0, 1}, Who: "program",
			What: "A text or e-mail that asks for a call back, only with recorded consent."},
		{Name: "letter", With: "family", By: "letter", Days: []int{3}, Presumptive: []int{1}, Who: "coordinator", Letter: LetterFirstNotice,
			What: "Send the letter. Ask primary care, the birth hospital, the insurer and public programs for a newer number or address; with a new number, call again."},
		{Name: "certified letter", With: "family", By: "certified-letter", Days: []int{8}, Presumptive: []int{2}, Who: "coordinator",
			Letter: LetterNoContact, DoctorLetter: LetterCannotReach,
			What: "Send the letter by certified mail with return receipt, and record what became of it."},
		{Name: "visit", With: "family", By: "visit", Days: []int{12}, Presumptive: []int{3}, Who: "public-health nurse",
			What: "Ask a public-health nurse or the local health department for a visit, and record the report."},
		{Name: "review", With: "supervisor", Days: []int{20}, Presumptive: []int{5}, Who: "medical director",
			What: "Review with the medical director. A welfare check or a report to child protection rests on a licensed or legal decision only."},
	}
}

// byConsent tells attempts that need the family's recorded consent.
func (r *Rung) byConsent() bool { return r.With == ToFamily && (r.By == ByText || r.By == ByEmail) }

// days are the working days of the rung's attempts.
func (r *Rung) days(presumptive bool) []int {
	if presumptive {
		return r.Presumptive
	}
	return r.Days
}

// RungFor finds the rung that sends a letter, to the family or to primary care.
func (p ContactPlan) RungFor(letter string) *Rung {
	for i := range p {
		if letter != "" && (p[i].Letter == letter || p[i].DoctorLetter == letter) {
			return &p[i]
		}
	}
	return nil
}

// String says the plan in one line: each step with its working days.
func (p ContactPlan) String() string {
	var parts []string
	for i := range p {
		s := p[i].Name + " on working day " + sayDays(p[i].Days)
		if !slices.Equal(p[i].Days, p[i].Presumptive) {
			s += " (presumptive CF: " + sayDays(p[i].Presumptive) + ")"
		}
		parts = append(parts, s)
	}
	return strings.Join(parts, "; ")
}

func sayDays(days []int) string {
	var parts []string
	for _, d := range days {
		parts = append(parts, strconv.Itoa(d))
	}
	return strings.Join(parts, ", ")
}

var rungName = regexp.MustCompile(`^[a-z][a-z0-9 -]{1,39}$`)

// Faults lists what makes no sense in a plan; each path begins with contact_plan.
func (p ContactPlan) Faults() []Fault {
	var fs []Fault
	bad := func(i int, field, format string, args ...any) {
		fs = append(fs, Fault{fmt.Sprintf("contact_plan[%d]%s", i, field), fmt.Sprintf(format, args...)})
	}
	if len(p) == 0 || len(p) > 20 {
		return []Fault{{"contact_plan", "must have 1 to 20 steps"}}
	}
	for i := range p {
		r := &p[i]
		if !rungName.MatchString(r.Name) || slices.ContainsFunc(p[:i], func(o Rung) bool { return o.Name == r.Name }) {
			bad(i, ".name", "must be a name of its own in small letters, such as calls")
		}
		if r.Who == "" || r.What == "" {
			bad(i, ".what", "must say who does it and what to do")
		}
		faultsOfDays(r, func(field, format string, args ...any) { bad(i, field, format, args...) })
		if i > 0 && begins(r.Days) < begins(p[i-1].Days) {
			bad(i, ".days", "must not begin before the step above (%d)", begins(p[i-1].Days))
		}
		if i > 0 && begins(r.Presumptive) < begins(p[i-1].Presumptive) {
			bad(i, ".presumptive_days", "must not begin before the step above (%d)", begins(p[i-1].Presumptive))
		}
		faultsOfLetters(r, func(field, format string, args ...any) { bad(i, field, format, args...) })
	}
	return fs
}

// begins is the first working day of a step; 0 where none is given.
func begins(days []int) int {
	if len(days) == 0 {
		return 0
	}
	return days[0]
}

// faultsOfDays: as many days for both, rising, and presumptive CF never slower.
func faultsOfDays(r *Rung, bad func(field, format string, args ...any)) {
	if len(r.Days) == 0 || len(r.Days) > 12 {
		bad(".days", "must name 1 to 12 working days")
		return
	}
	if len(r.Presumptive) != len(r.Days) {
		bad(".presumptive_days", "must name as many days as days (%d)", len(r.Days))
		return
	}
	for j := range r.Days {
		switch {
		case r.Days[j] < 0 || r.Days[j] > 250 || j > 0 && r.Days[j] < r.Days[j-1]:
			bad(".days", "working days must rise and lie between 0 and 250")
			return
		case r.Presumptive[j] < 0 || r.Presumptive[j] > r.Days[j] || j > 0 && r.Presumptive[j] < r.Presumptive[j-1]:
			bad(".presumptive_days", "working days must rise, and none may be later than in days")
			return
		}
	}
}

func faultsOfLetters(r *Rung, bad func(field, format string, args ...any)) {
	switch k := LetterKindOf(r.Letter); {
	case r.Letter == "":
	case r.Letter != LetterFirstNotice && r.Letter != LetterNoContact:
		bad(".letter", "must be %s or %s", LetterFirstNotice, LetterNoContact)
	case k.Certified != (r.By == "certified-letter"):
		bad(".letter", "a letter by certified mail belongs to a step by certified-letter, and no other does")
	}
	if r.DoctorLetter != "" && r.DoctorLetter != LetterCannotReach {
		bad(".doctor_letter", "must be %s", LetterCannotReach)
	}
}
