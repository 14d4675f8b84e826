package web

import (
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// actionsOf says what should be done besides the next step.
func actionsOf(a *cases.Assessment) []string {
	all := []struct {
		act  cases.Actions
		text string
	}{
		{cases.ActTellPrimary, "Tell primary care"}, {cases.ActReferSpecialist, "Refer to the CF center"}, {cases.ActCallToday, "Call the family today"},
		{cases.ActOrderGenotype, "Ask for the CFTR report, or for sequencing"}, {cases.ActConsiderElastase, "Ask the doctor about fecal elastase"},
		{cases.ActTellSupervisor, "Tell the supervisor"}, {cases.ActQuantitativeChloride, "Arrange a quantitative chloride test"},
		{cases.ActVerifyValue, "Have the value checked"}, {cases.ActConfirmIdentity, "Confirm whose sample it was"}, {cases.ActOrderPolyT, "Ask for the poly-T of R117H"},
		{cases.ActOfferCounselling, "Offer genetic counseling"}, {cases.ActScheduleRetests, "Plan the re-tests"},
		{cases.ActReportReaction, "Report the skin reaction"}, {cases.ActReweigh, "Weigh again"}, {cases.ActFindAddress, findAddressWords}, {cases.ActAgreeClosing, "Agree to the proposed closure, or send it back"},
	}
	var out []string
	for _, x := range all {
		if a.Actions.Has(x.act) {
			out = append(out, x.text)
		}
	}
	return out
}

// evidenceOf says what the recorded facts would support; a named clinician decides.
func (s *server) evidenceOf(a *cases.Assessment) []string {
	var out []string
	for _, w := range a.Supports.Words() {
		out = append(out, determinationWord(w))
	}
	if a.Provisional != nil {
		out = append(out, determinationWord(*a.Provisional)+", provisional")
	}
	return out
}

func screenFacts(k *cases.Case) []templates.Fact {
	routes := map[string]string{"screen": "Newborn screen", "clinical": "Symptoms", "sibling": "Family history", "prenatal": "Found before birth", "meconium-ileus": "Meconium ileus"}
	out := []templates.Fact{{Name: "Referred", On: date(k.Referral.On)}, {Name: "By way of", Text: or(routes[k.Referral.Route], k.Referral.Route)}}
	if sc := k.Referral.Screen; sc != nil {
		irt := templates.Fact{Name: "IRT", Text: sc.IRTText}
		if sc.IRTNgML != nil {
			irt.Text = plainNumber(*sc.IRTNgML) + "\u00a0ng/mL"
		}
		out = append(out, irt, templates.Fact{Name: "Result", Text: sc.Result, Note: sc.Comment}, templates.Fact{Name: "Specimen", Text: sc.Accession},
			templates.Fact{Name: "Collected", On: date(sc.Collected)}, templates.Fact{Name: "Reported", On: date(sc.Reported)}, templates.Fact{Name: "Laboratory", Text: sc.Laboratory})
		if sc.Transfused {
			out = append(out, templates.Fact{Name: "Transfused", Text: "Yes, before the specimen"})
		}
	}
	cftr := "Not reported yet"
	if k.Genotype != nil {
		cftr = genotypeWord(k.Genotype)
	}
	out = append(out, templates.Fact{Name: "CFTR", Text: cftr}, templates.Fact{Name: "Birth place", Text: k.Infant.Facility})
	for _, r := range k.Infant.Records {
		out = append(out, templates.Fact{Name: "Record number", Text: r.Number, Note: r.Authority})
	}
	if n := len(k.Infant.FormerNames); n > 0 {
		out = append(out, templates.Fact{Name: "Former names", Text: strings.Join(k.Infant.FormerNames, "; ")})
	}
	return append(out, formerFacts(&k.Infant)...)
}

func familyFacts(k *cases.Case) []templates.Fact {
	out := []templates.Fact{{Name: "Coordinator", Text: or(k.Owner, "Not assigned")}}
	if f := k.Family; f != nil {
		if f.Mother != "" {
			out = append(out, templates.Fact{Name: "Mother", Text: f.Mother})
		}
		for _, g := range f.Guardians {
			out = append(out, templates.Fact{Name: or(sentence(g.Relation), "Guardian"), Text: strings.Trim(strings.ToUpper(g.Family)+", "+g.Given, ", ")})
			for _, ph := range g.Phones {
				note := sentence(ph.Kind)
				if ph.Best != "" {
					note = sentence(strings.TrimPrefix(note+", best "+ph.Best, ", "))
				}
				out = append(out, templates.Fact{Name: "Phone", Phone: ph.Number, Note: note})
			}
			if g.Email != "" {
				out = append(out, templates.Fact{Name: "E-mail", Text: g.Email})
			}
			if a := g.Address; a != nil {
				fact := templates.Fact{Name: "Address", Text: addressLine(a)}
				if a.Bad {
					fact.Note = "Mail came back from here"
				}
				out = append(out, fact)
				if a.County != "" {
					out = append(out, templates.Fact{Name: "County", Text: a.County})
				}
			}
		}
		lang := templates.Fact{Name: "Language", Text: languageWord(f.Language)}
		if f.Interpreter {
			lang.Note = "Interpreter needed"
		}
		out = append(out, lang)
		for _, x := range consentFacts(k) {
			x.Name = "Consent, " + strings.ToLower(x.Name)
			out = append(out, x)
		}
		if w := visitsWords(f.Visits); w != "" {
			out = append(out, templates.Fact{Name: "Can come", Text: w})
		}
	}
	pc := k.PrimaryCare
	if pc == nil {
		return append(out, templates.Fact{Name: "Primary care"})
	}
	out = append(out, templates.Fact{Name: "Primary care", Text: strings.Trim(pc.Name+", "+pc.Practice, ", ")}, templates.Fact{Name: "Office", Phone: pc.Phone})
	if pc.Fax != "" {
		out = append(out, templates.Fact{Name: "Fax", Text: pc.Fax})
	}
	if pc.Email != "" {
		out = append(out, templates.Fact{Name: "Office e-mail", Text: pc.Email})
	}
	return out
}

func addressLine(a *cases.Address) string {
	parts := append([]string{}, a.Lines...)
	parts = append(parts, a.City, strings.TrimSpace(a.Region+" "+a.Postal))
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, ", ")
}

// languageWord names the language of a tag such as es or en-US.
func languageWord(tag string) string { return cases.LanguageWord(tag) }

// phonesOf are the numbers to use for a contact.
func phonesOf(k *cases.Case) []templates.Fact {
	var out []templates.Fact
	for _, f := range familyFacts(k) {
		if f.Phone != "" || f.Name == "Language" || f.Name == "Mother" || f.Name == "Primary care" {
			out = append(out, f)
		}
	}
	return out
}

func toCheckFacts(k *cases.Case) []templates.Fact {
	var out []templates.Fact
	for _, t := range k.ToCheck {
		if t.Done == 0 {
			out = append(out, templates.Fact{Name: sentence(pathWords(t.Field)), Text: t.Text, Note: t.Reason})
		}
	}
	return out
}

// contactRows lists the contacts, the newest first.
func contactRows(k *cases.Case) []templates.ContactRow {
	var out []templates.ContactRow
	for _, i := range newestFirst(len(k.Contacts), func(i int) string { return k.Contacts[i].On.String() + string(k.Contacts[i].At) }) {
		x := &k.Contacts[i]
		row := templates.ContactRow{On: date(x.On), At: string(x.At), How: wordOf(contactBy, x.By), Who: wordOf(contactWith, x.With),
			What: or(sentence(x.Outcome), "Not recorded"), Note: x.Note, By: x.Staff, Reached: x.Reached}
		if x.Used != "" {
			row.How += " " + x.Used
		}
		if x.Person != "" {
			row.Who += ", " + x.Person
		}
		if x.NextTry != 0 {
			row.NextTry = "Next try " + shortDay(x.NextTry)
		}
		out = append(out, row)
	}
	return out
}

// testRows lists the arms of all tests, the newest test first.
func (s *server) testRows(c Ctx, o *opened) []templates.TestRow {
	var out []templates.TestRow
	at := "/infants/" + o.c.Reference + "/tests/"
	for n := len(o.a.Tests) - 1; n >= 0; n-- {
		r := &o.a.Tests[n]
		t := &o.c.SweatTests[r.Index]
		lines := armTable(t, r).Rows
		for i, line := range lines {
			row := templates.TestRow{Arm: line.Side, Minutes: line.Minutes + "\u00a0minutes", Amount: line.Amount, Value: line.Chloride, Outcome: line.Reading, Skin: line.Skin}
			if i == 0 {
				row.N, row.On, row.Day, row.Site = n+1, date(t.On), ageOn(&o.c.Infant, t.On), siteOrNone(s, t.Site)
				row.Drop, row.Overall = outcomeDrop(r.Outcome), outcomeWord(r.Outcome)
				row.Flags = strings.Join(testFlagSentences(r.Flags, s.Protocol), " ")
				if v := t.Verified; v != nil {
					row.Flags = strings.TrimSpace(row.Flags + " " + fmt.Sprintf("%s says: %s, %s.", v.By, v.As, shortDay(v.On)))
				}
				if can(c, recordTests) {
					row.Acts = append(row.Acts, templates.Link{Href: fmt.Sprintf("%s%d/change", at, r.Index), Text: "Correct"})
				}
				if can(c, verifyTests) && t.Verified == nil {
					row.Acts = append(row.Acts, templates.Link{Href: fmt.Sprintf("%s%d/verify", at, r.Index), Text: "Check the value"})
				}
			}
			if i == len(lines)-1 {
				row.Lab = labWord(t.Laboratory)
			}
			out = append(out, row)
		}
	}
	return out
}

func siteOrNone(s *server, key string) string {
	if key == "" {
		return ""
	}
	return s.siteName(key)
}

// bookingRows lists the bookings, the latest day first.
func (s *server) bookingRows(c Ctx, o *opened) ([]templates.BookingRow, error) {
	kinds := map[string]string{"booked": "book", "kept": "done", "missed": "late", "cancelled": "blank"}
	var out []templates.BookingRow
	for _, i := range newestFirst(len(o.c.Bookings), func(i int) string { return o.c.Bookings[i].On.String() + string(o.c.Bookings[i].At) }) {
		b := &o.c.Bookings[i]
		row := templates.BookingRow{On: date(b.On), At: string(b.At), Site: siteOrNone(s, b.Site), State: templates.Tag{Kind: kinds[b.State], Text: sentence(b.State)}, Note: shown(b.Reason)}
		if can(c, schedule) {
			s.bookingActs(&row, o, i)
		}
		if err := s.strandedRow(c, &row, o, b); err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, nil
}
