package export

import (
	"dunlin/cases"
)

// textColumn is a column of text that is read off the case.
func textColumn(key, name, meaning string, of func(*cases.Case) string) rowColumn {
	return rowColumn{Column{Key: key, Name: name, Meaning: meaning, Type: isText}, func(k *cases.Case, _ *cases.Assessment) Value { return Text(of(k)) }}
}

// dayColumn is a column of days.
func dayColumn(key, name, meaning string, of func(*cases.Case, *cases.Assessment) cases.Day) rowColumn {
	return rowColumn{Column{Key: key, Name: name, Meaning: meaning, Type: isDay}, func(k *cases.Case, a *cases.Assessment) Value { return Date(of(k, a)) }}
}

var rowColumns = []rowColumn{
	textColumn("reference", "Case", "Reference of the case.", func(k *cases.Case) string { return k.Reference }),
	{Column{Key: "contact_flags", Name: "Contact flags", Meaning: "What restricts contact with the family on the day of the list. Read it first.", Type: isText},
		func(k *cases.Case, a *cases.Assessment) Value { return Text(flags(k, a.On)) }},
	textColumn("infant_family", "Infant's surname", "As recorded now.", func(k *cases.Case) string { return k.Infant.Family }),
	textColumn("infant_given", "Infant's given name", "As recorded now.", func(k *cases.Case) string { return k.Infant.Given }),
	textColumn("sex", "Sex", "It changes no threshold.", func(k *cases.Case) string { return k.Infant.Sex }),
	dayColumn("born", "Born", "Day of birth.", func(k *cases.Case, _ *cases.Assessment) cases.Day { return k.Infant.Born }),
	{Column{Key: "age", Name: "Age", Meaning: "Age on the day of the list; empty for an infant who died.", Unit: "days", Type: isWhole}, func(k *cases.Case, a *cases.Assessment) Value {
		if k.Infant.Died != 0 {
			return Value{}
		}
		return Int(int(a.On - k.Infant.Born))
	}},
	{Column{Key: "plurality", Name: "Plurality", Meaning: "How many were born.", Type: isWhole}, func(k *cases.Case, _ *cases.Assessment) Value { return some(float64(k.Infant.Plurality)) }},
	{Column{Key: "birth_order", Name: "Birth order", Meaning: "Which of them.", Type: isWhole}, func(k *cases.Case, _ *cases.Assessment) Value { return some(float64(k.Infant.BirthOrder)) }},
	textColumn("gestation", "Gestation", "At birth, weeks and days: 39w2d.", func(k *cases.Case) string {
		if k.Infant.Gestation == 0 {
			return ""
		}
		return k.Infant.Gestation.String()
	}),
	{Column{Key: "birth_weight_g", Name: "Birth weight", Meaning: "As recorded.", Unit: "g", Type: isNumber}, func(k *cases.Case, _ *cases.Assessment) Value { return some(k.Infant.BirthWeightG) }},
	textColumn("mother", "Mother", "As the screen or the family gave it.", func(k *cases.Case) string { return family(k).Mother }),
	textColumn("guardian", "Guardian", "Whom letters go to, else the first.", func(k *cases.Case) string {
		g := letterGuardian(k)
		return joined(" ", g.Given, g.Family)
	}),
	textColumn("phones", "Telephones", "Of that guardian, one behind the other.", func(k *cases.Case) string { return phones(letterGuardian(k)) }),
	textColumn("address", "Address", "Of that guardian; says where mail came back.", func(k *cases.Case) string { return address(letterGuardian(k).Address) }),
	textColumn("language", "Language", "Tag of BCP 47, such as en or es.", func(k *cases.Case) string { return family(k).Language }),
	{Column{Key: "interpreter", Name: "Interpreter", Meaning: "An interpreter is needed.", Type: isYesNo}, func(k *cases.Case, _ *cases.Assessment) Value { return Yes(family(k).Interpreter) }},
	textColumn("primary_care", "Primary care", "Doctor and practice.", func(k *cases.Case) string { return joined(", ", doctor(k).Name, doctor(k).Practice) }),
	textColumn("primary_care_phone", "Primary care's telephone", "As recorded.", func(k *cases.Case) string { return doctor(k).Phone }),
	dayColumn("referred", "Referred", "Day on which the program received the referral.", func(k *cases.Case, _ *cases.Assessment) cases.Day { return k.Referral.On }),
	textColumn("route", "Referred by", "How the infant reached the program.", func(k *cases.Case) string { return k.Referral.Route }),
	textColumn("accession", "Accession", "Specimen number of the newborn screen.", func(k *cases.Case) string { return screen(k).Accession }),
	{Column{Key: "irt_ng_ml", Name: "IRT", Meaning: "Immunoreactive trypsinogen as the laboratory reported it.", Unit: "ng/mL", Type: isNumber}, func(k *cases.Case, _ *cases.Assessment) Value { return Maybe(screen(k).IRTNgML) }},
	textColumn("variants", "CFTR variants", "As the laboratory named them.", variants),
	{Column{Key: "tests", Name: "Tests", Meaning: "Chloride collections, void ones left out.", Type: isWhole}, func(_ *cases.Case, a *cases.Assessment) Value { return Int(len(collections(a))) }},
	dayColumn("last_test", "Last test", "Day of the latest of these.", func(_ *cases.Case, a *cases.Assessment) cases.Day {
		if t := collections(a); len(t) > 0 {
			return t[len(t)-1].On
		}
		return 0
	}),
	{Column{Key: "last_outcome", Name: "Last reading", Meaning: "How the protocol reads it. Not a diagnosis.", Type: isText}, func(_ *cases.Case, a *cases.Assessment) Value {
		if t := collections(a); len(t) > 0 {
			return Text(t[len(t)-1].Outcome.Word())
		}
		return Value{}
	}},
	dayColumn("booked_for", "Booked for", "Nearest appointment ahead.", func(k *cases.Case, a *cases.Assessment) cases.Day { return booked(k, a.On).On }),
	{Column{Key: "booked_at", Name: "Booked at", Meaning: "Test site of that appointment.", Type: isText},
		func(k *cases.Case, a *cases.Assessment) Value { return Text(booked(k, a.On).Site) }},
	{Column{Key: "next_step", Name: "Next step", Meaning: "What the recorded facts and the protocol imply.", Type: isText}, func(_ *cases.Case, a *cases.Assessment) Value { return Text(a.ListWord()) }},
	{Column{Key: "next_action", Name: "Next action", Meaning: "The same as an act.", Type: isText}, func(_ *cases.Case, a *cases.Assessment) Value { return Text(a.ActionWord()) }},
	dayColumn("due", "Due", "Day on which the step is due.", func(_ *cases.Case, a *cases.Assessment) cases.Day { return a.Next.Due }),
	{Column{Key: "days_late", Name: "Days late", Meaning: "Of the step or the oldest running clock.", Unit: "days", Type: isWhole}, func(_ *cases.Case, a *cases.Assessment) Value { return Int(a.Overdue.Days) }},
	textColumn("owner", "Owner", "Who works the case.", func(k *cases.Case) string { return k.Owner }),
	dayColumn("closed_on", "Closed on", "Day of the closure that stands.", func(_ *cases.Case, a *cases.Assessment) cases.Day { return a.ClosedOn }),
	{Column{Key: "closed_as", Name: "Closed as", Meaning: "As a named person decided.", Type: isText}, func(_ *cases.Case, a *cases.Assessment) Value {
		if !a.Closed {
			return Value{}
		}
		return Text(cases.DeterminationWord(a.ClosedAs))
	}},
	dayColumn("died", "Died", "Day of death. Nothing is sent to the family.", func(k *cases.Case, _ *cases.Assessment) cases.Day { return k.Infant.Died }),
}
