package hl7

import (
	"regexp"
	"slices"
	"strings"

	"dunlin/cases/intake"
)

// verdict decides how a stored message is answered. It rests on the message alone,
// so that the same bytes are answered in the same way however often they come.
func verdict(m *Message, label string, live bool) (code string, errs []replyError) {
	its := items(m, label, intake.Settings{})
	for _, it := range its {
		switch {
		case it.Kind == intake.Unwanted, it.Kind == intake.Readable && wrongType(it.Problems):
			return Rejected, fatal(slices.DeleteFunc(slices.Clone(it.Problems), func(p intake.Problem) bool { return p.Segment != "MSH" || p.Field != 9 }), func(p intake.Problem) int {
				if strings.EqualFold(m.Header().Field(9).Comp(1).Text(), "ORU") {
					return 201
				}
				return 200
			})
		case it.Kind == intake.Unreadable && intake.Worst(m.Problems) < intake.Fault && !readsVersion(m.Header().Field(12).Comp(1).Text()):
			return Rejected, fatal(it.Problems, codeOf)
		}
	}
	if r := its[0].Referral; live && r.Test() {
		return Rejected, []replyError{{at: intake.Problem{Segment: "MSH", Occurrence: 1, Field: 11}, code: 202, severity: 'F', short: errorWords[202],
			text: "This program is live; a message marked " + intake.Shorten(r.Processing) + " (MSH-11) opens nothing here."}}
	}
	code = Accepted
	var own, other []replyError
	for _, it := range its {
		for _, p := range it.Problems {
			wrong := it.Kind == intake.Unreadable && p.Severity == intake.Fault || p.Severity >= intake.Check && noBirthDate(&it, p)
			switch {
			case wrong:
				code = Errors
				own = append(own, problemError(p, 'E'))
			case p.Severity >= intake.Check:
				other = append(other, problemError(p, 'W'))
			}
		}
	}
	return code, distinct(append(own, other...))
}

// wrongType tells whether a message that holds a result calls itself something else. A
// person looks at it, and the sender is told that the type is not taken in.
func wrongType(ps []intake.Problem) bool {
	return slices.ContainsFunc(ps, func(p intake.Problem) bool {
		return p.Segment == "MSH" && p.Field == 9 && p.Severity == intake.Fault
	})
}

// noBirthDate tells whether a problem is a birth date that is missing or that is no
// real day: it is the one value without which no case can be opened.
func noBirthDate(it *intake.Item, p intake.Problem) bool {
	return p.Segment == "PID" && p.Field == 7 && it.Referral.Infant.Born.Day == 0
}

// fatal makes errors of the faults of a message that is not taken in.
func fatal(ps []intake.Problem, code func(intake.Problem) int) (errs []replyError) {
	for _, p := range ps {
		if p.Severity != intake.Fault {
			continue
		}
		e := problemError(p, 'F')
		e.code = code(p)
		e.short = errorWords[e.code]
		errs = append(errs, e)
	}
	return distinct(errs)
}

// problemError puts a problem into the form of an ERR segment.
func problemError(p intake.Problem, severity byte) replyError {
	e := replyError{at: p, code: codeOf(p), severity: severity, text: p.String(), short: p.Text}
	if severity == 'E' {
		e.text += " The message is kept for review."
	}
	return e
}

// codeOf gives the code of table 0357 for a problem.
func codeOf(p intake.Problem) int {
	switch {
	case p.Segment == "MSH" && p.Field == 11:
		return 202
	case p.Segment == "MSH" && p.Field == 12:
		return 203
	case p.Segment == "MSH" && p.Field == 18, p.Segment == "OBX" && p.Field == 3:
		return 103
	case p.Segment == "MSH" && p.Field > 0 && p.Field <= 2:
		return 102
	case p.Field > 0 && p.Value == "":
		return 101
	case p.Field > 0:
		return 102
	}
	return 100
}

func distinct(errs []replyError) (out []replyError) {
	for _, e := range errs {
		if !slices.ContainsFunc(out, func(o replyError) bool { return o.text == e.text }) {
			out = append(out, e)
		}
	}
	return out
}

var version2 = regexp.MustCompile(`^2(\.[0-9]{1,2}){0,2}$`)

// readsVersion tells whether a version (MSH-12) is one that is read here: 2 and its
// releases. A header that names none is taken for one of them.
func readsVersion(v string) bool { return v == "" || version2.MatchString(v) }

// badVersion is the fault of a message of another version.
func badVersion(h *Segment) (p intake.Problem, bad bool) {
	v := h.Field(12)
	if readsVersion(v.Comp(1).Text()) {
		return p, false
	}
	return v.Problem(intake.Fault, "The message says that it is of another version of HL7 (MSH-12); version 2 is read here. Ask the sender to correct it."), true
}
