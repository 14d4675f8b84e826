package web

import (
	"dunlin/cases"
	"dunlin/templates"
)

// right is what a page lets people do; a page may name several, any of which
// is enough. Which role has which follows from the desk's own rights, so that a
// page is offered to nobody whom the desk would refuse.
type right uint32

const anyone right = 0

const (
	seeCases       right = 1 << iota // overdue list, infants, case pages
	seeWaiting                       // cases in which a closure waits for the manager
	logContacts                      // contacts
	weigh                            // weights
	writeIdentity                    // names, family, care team
	schedule                         // bookings
	recordTests                      // sweat tests
	verifyTests                      // what a person says of a test
	closeCases                       // close, or propose to close
	agreeClosing                     // agree to a proposed closure, or send it back
	reopenCases                      // take a closure back by hand
	recordDeath                      // an infant who died
	takeIn                           // referrals
	seeLetters                       // letters and their states
	sendLetters                      // print runs
	seeReports                       // aggregates
	writeProtocol                    // change protocol values
	administer                       // users, jobs, back-ups
	keepSites                        // test sites and their sessions
	seeFullFigures                   // figures without small numbers hidden
	exportExtract                    // de-identified lines of cases
	exportRows                       // lines that name infants, and whole cases
	mergeCases                       // two cases of one infant
	eraseRecords                     // retention, and erasing what was kept long enough
	seeAccessLog                     // the access log of everybody
	reviewLooks                      // looks outside of a person's sites
	breakGlass                       // an infant opened for a typed reason
)

// deskRights says which of the desk's rights each page's right stands for.
var deskRights = map[right]cases.Right{
	seeCases: cases.SeeCases, seeWaiting: cases.AgreeClose, logContacts: cases.LogContacts, weigh: cases.Weigh,
	writeIdentity: cases.EditIdentity, schedule: cases.BookTests, recordTests: cases.RecordTests, verifyTests: cases.VerifyTests,
	closeCases: cases.ProposeClose, agreeClosing: cases.AgreeClose, reopenCases: cases.ReopenCases, recordDeath: cases.RecordDeath,
	takeIn: cases.WorkIntake, seeLetters: cases.LogContacts, sendLetters: cases.SendLetters, seeReports: cases.SeeReports,
	writeProtocol: cases.AgreeClose, administer: cases.RunProgram,
	keepSites: cases.KeepSites, seeFullFigures: cases.SeeFullFigures, exportExtract: cases.ExportExtract, exportRows: cases.ExportRows,
	mergeCases: cases.MergeCases, eraseRecords: cases.EraseRecords,
	seeAccessLog: cases.SeeAccessLog, reviewLooks: cases.ReviewLooks, breakGlass: cases.BreakGlass,
}

var rightsOf = func() map[cases.Role]right {
	of := map[cases.Role]right{}
	for _, role := range []cases.Role{cases.Coordinator, cases.Nurse, cases.Manager, cases.Administrator} {
		for page, desk := range deskRights {
			if (cases.Actor{Role: role}).May(desk) {
				of[role] |= page
			}
		}
	}
	return of
}()

// holders names the roles that have a right, for the page of no access.
func holders(r right) string {
	text := ""
	for _, role := range []cases.Role{cases.Coordinator, cases.Nurse, cases.Manager, cases.Administrator} {
		if rightsOf[role]&r == 0 {
			continue
		}
		if text != "" {
			text += " or "
		}
		text += string(role)
	}
	return text
}

var roleWords = map[cases.Role]string{
	cases.Coordinator: "Coordinator", cases.Nurse: "Nurse", cases.Manager: "Manager", cases.Administrator: "Administrator", cases.System: "Program",
}

// homes is the first page of each role.
var homes = map[cases.Role]string{
	cases.Coordinator: "/overdue", cases.Nurse: "/schedule", cases.Manager: "/reports/closure", cases.Administrator: "/settings/protocol",
}

// pages of the navigation, in the order of the vocabulary.
var navigation = []struct {
	right
	templates.NavItem
}{
	{seeCases, templates.NavItem{Key: "overdue", Href: "/overdue", Text: "Overdue"}},
	{schedule, templates.NavItem{Key: "schedule", Href: "/schedule", Text: "Schedule"}},
	{takeIn, templates.NavItem{Key: "intake", Href: "/intake", Text: "Intake"}},
	{seeLetters, templates.NavItem{Key: "letters", Href: "/letters", Text: "Letters"}},
	{seeCases, templates.NavItem{Key: "infants", Href: "/infants", Text: "Infants"}},
	{seeReports, templates.NavItem{Key: "reports", Href: "/reports/closure", Text: "Reports"}},
	{^right(0), templates.NavItem{Key: "settings", Href: "/settings/protocol", Text: "Settings"}},
}

// nav is the navigation of a role; pages it may not open are left out.
func nav(role cases.Role, counts map[string]int) []templates.NavItem {
	var items []templates.NavItem
	for _, n := range navigation {
		if rightsOf[role]&n.right == 0 {
			continue
		}
		n.Count = counts[n.Key]
		items = append(items, n.NavItem)
	}
	return items
}
