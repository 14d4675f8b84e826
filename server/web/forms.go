package web

import (
	"net/http"

	"dunlin/cases/export"
	"dunlin/templates"
)

// formRoutes are the pages on which people record, decide, print and read
// figures.
func (s *server) formRoutes() []route {
	return append(s.factRoutes(), []route{
		get("/schedule", schedule, s.schedulePage),
		get(proposalsPath, schedule, s.proposals),
		post(proposalsPath, schedule, s.bookProposals),
		get("/schedule/outlook", schedule, s.outlookPage),
		get("/schedule/outlook/infants", schedule, s.outlookList),
		get(openPath, breakGlass, s.openForm),
		post(openPath, breakGlass, s.openInfant),
		get("/infants/:ref/book", schedule, s.bookForm),
		post("/infants/:ref/book", schedule, s.book),
		get("/infants/:ref/bookings/:n/move", schedule, s.moveForm),
		post("/infants/:ref/bookings/:n/move", schedule, s.move),
		post("/infants/:ref/place", schedule, s.bookPlace),
		post("/infants/:ref/bookings/:n/place", schedule, s.movePlace),
		get("/infants/:ref/bookings/:n/cancel", schedule, s.cancelForm),
		post("/infants/:ref/bookings/:n/cancel", schedule, s.cancel),
		post("/infants/:ref/bookings/:n/kept", schedule, s.kept),
		get("/infants/:ref/bookings/:n/missed", schedule, s.missedForm),
		post("/infants/:ref/bookings/:n/missed", schedule, s.missed),
		get("/infants/:ref/bookings/:n/calendar.ics", schedule, s.familyCalendar),
		get("/sessions/:site/:day", schedule, s.findClinic),
		get("/sessions/:site/:day/:id", schedule, s.clinicSession),
		get("/sessions/:site/:day/:id/day-sheet", schedule, s.daySheetPage),
		get("/sessions/:site/:day/:id/day-sheet.pdf", schedule, s.daySheetPDF),
		get("/sessions/:site/:day/:id/calendar.ics", schedule, s.clinicCalendar),

		get("/infants/:ref/tests/new", recordTests, s.testForm),
		post("/infants/:ref/tests/new", recordTests, s.recordTest),
		get("/infants/:ref/tests/not-done", recordTests, s.notDoneForm),
		post("/infants/:ref/tests/not-done", recordTests, s.notDone),
		get("/infants/:ref/next", schedule, s.afterTest),
		post("/infants/:ref/no-date", recordTests, s.noDate),
		get("/infants/:ref/tests/:n/change", recordTests, s.changeTestForm),
		post("/infants/:ref/tests/:n/change", recordTests, s.changeTest),
		get("/infants/:ref/tests/:n/verify", verifyTests, s.verifyForm),
		post("/infants/:ref/tests/:n/verify", verifyTests, s.verify),
		get("/infants/:ref/tests/:n/reaction", logContacts, s.reactionForm),
		post("/infants/:ref/tests/:n/reaction", logContacts, s.reaction),

		get("/infants/:ref/close", closeCases, s.closeForm),
		post("/infants/:ref/close", closeCases, s.closeCase),
		get("/infants/:ref/agree", seeCases|agreeClosing, s.agreeForm),
		post("/infants/:ref/agree", agreeClosing, s.agree),
		get("/infants/:ref/merge", mergeCases, s.mergeForm),
		post("/infants/:ref/merge", mergeCases, s.proving(s.mergeOrNot)),
		get("/infants/:ref/export", exportRows, s.exportCaseForm),
		post("/infants/:ref/export", exportRows, s.proving(s.exportCase)),
		get("/infants/:ref/reopen", reopenCases, s.reopenForm),
		post("/infants/:ref/reopen", reopenCases, s.reopen),

		get("/intake", takeIn, s.intakePage),
		get("/intake/upload", takeIn, s.uploadForm),
		post("/intake/upload", takeIn, s.upload),
		get("/intake/:id", takeIn, s.itemForm),
		post("/intake/:id", takeIn, s.decideItem),
		post("/intake/:id/undo", takeIn, s.undoItem),
		get("/intake/:id/raw", takeIn, s.rawItem),
		get("/intake/:id/mail", takeIn, s.mailItem),

		get("/letters", seeLetters, s.lettersPage),
		post("/letters", sendLetters, s.actOnLetters),
		post("/letters/make", sendLetters, s.makeLetters),
		post(makeNowPath, sendLetters, s.makeLetterNow),
		get("/letters/page", seeLetters, s.letterPage),
		post("/letters/page", sendLetters, s.makeForBrowser),
		get("/letters/:id/page", seeLetters, s.keptLetterPage),
		post("/letters/:id/page", sendLetters, s.printedFromBrowser),
		get(returnedPath, sendLetters, s.returnedPage),
		post(returnedPath, sendLetters, s.takeReturned),
		get("/letters/runs/:run", sendLetters, s.runPage),
		post("/letters/runs/:run", sendLetters, s.mailRun),
		get("/letters/runs/:run/pdf", sendLetters, s.runPDF),
		get("/letters/:id/pdf", seeLetters, s.letterPDF),
		get("/letters/:id/edit", sendLetters, s.letterEditForm),
		post("/letters/:id/edit", sendLetters, s.saveLetterEdit),
		post("/letters/:id/restore", sendLetters, s.restoreLetter),
		post("/letters/:id/tracking", sendLetters, s.trackLetter),
		post("/letters/:id/became", sendLetters, s.letterBecame),
		post("/letters/:id/came-back", sendLetters, s.cameBack),
		get("/infants/:ref/letters/release", sendLetters, s.releaseForm),
		post("/infants/:ref/letters/release", sendLetters, s.releaseLetter),
		get(messagesPath, seeLetters, s.messagesPage),
		post(messagesPath+"/:id", sendLetters, s.decideMessage),

		get("/reports", seeReports, s.toReports),
		get(closurePath, seeReports, s.closureTimes),
		get(closurePath+".xlsx", seeReports, s.closureTimesFile(export.XLSX)),
		get(closurePath+".zip", seeReports, s.closureTimesFile(export.ZIP)),
		get(faultsPath, seeReports, s.dataFaults),
		get(exportsPath, exportExtract, s.exportsPage),
		post(exportsPath+"/extract", exportExtract, s.exportExtract),
		post(exportsPath+"/cases", exportRows, s.proving(s.exportLines)),
		get("/reports/qns", seeReports, s.ratesPage),
		get("/reports/qns.xlsx", seeReports, s.ratesFile(export.XLSX)),
		get("/reports/qns.zip", seeReports, s.ratesFile(export.ZIP)),
		get(openAgesPath, seeReports, s.openAges),
		get(openAgesPath+".xlsx", seeReports, s.openAgesFile(export.XLSX)),
		get(openAgesPath+".zip", seeReports, s.openAgesFile(export.ZIP)),
		get(openAgesPath+"/cases", seeCases, s.openCases),
		get("/reports/year", seeReports, s.yearFigures),
		get("/reports/year.pdf", seeReports, s.yearPDF),
		post("/reports/year/keep", seeFullFigures, s.keepYear),
		get("/settings", anyone, s.toSettings),
		get("/settings/protocol", anyone, s.protocolPage),
		get("/settings/contact-plan", anyone, s.contactPlanPage),
		get(textsPath, anyone, s.letterTextsPage),
		get(textsPath+"/envelope.pdf", anyone, s.envelopeSheet),
		get(textsPath+"/:lang/:text/sample.pdf", anyone, s.letterSample),
		get(keepingPath, eraseRecords, s.keepingPage),
		post(keepingPath, eraseRecords, s.setRetention),
		post(keepingPath+"/propose", eraseRecords, s.proposeErasing),
		post(keepingPath+"/decide", eraseRecords, s.proving(s.decideErasing)),
		get("/settings/senders", takeIn|administer, s.sendersPage),
		get("/settings/senders/new", takeIn|administer, s.senderForm),
		post("/settings/senders/new", takeIn|administer, s.saveSender),
		get("/settings/senders/:n", takeIn|administer, s.senderForm),
		post("/settings/senders/:n", takeIn|administer, s.saveSender),
		post("/settings/senders/:n/confirm", takeIn, s.confirmSender),
		get("/settings/sites", schedule, s.sitesPage),
		get("/settings/sites.csv", schedule, s.sitesCSV),
		get("/settings/sites/new", keepSites, s.siteForm),
		post("/settings/sites/new", keepSites, s.saveSite),
		get(tablePath, keepSites, s.siteTableForm),
		post(tablePath, keepSites, s.takeSiteTable),
		get("/settings/sites/:key", schedule, s.siteForm),
		post("/settings/sites/:key", keepSites, s.saveSite),
		get("/settings/sites/:key/sessions", schedule, s.sessionsPage),
		get("/settings/sites/:key/sessions.csv", schedule, s.sessionsCSV),
		get("/settings/sites/:key/sessions/new", keepSites, s.sessionForm),
		post("/settings/sites/:key/sessions/new", keepSites, s.saveSession),
		get("/settings/sites/:key/sessions/:id", keepSites, s.sessionForm),
		post("/settings/sites/:key/sessions/:id", keepSites, s.saveSession),
		post("/settings/sites/:key/sessions/:id/cancel", keepSites, s.cancelSession),
		get("/settings/jobs", anyone, s.jobsPage),
		post("/settings/jobs/run", administer, s.runJob),
		get(accessPath, anyone, s.accessLogPage),
		get(accessPath+".csv", seeAccessLog, s.accessFile),
		post(accessPath+"/reviews", reviewLooks, s.reviewLook),
		get(backupsPath, administer, s.backupsPage),
		post(backupsPath, administer, s.makeBackup),
	}...)
}

// settingsTabs are the pages of the settings that the person may open.
func settingsTabs(c Ctx, current string) []templates.Tab {
	var out []templates.Tab
	for _, t := range []struct {
		right
		key, text string
	}{
		{anyone, "protocol", "Protocol"},
		{anyone, "contact-plan", "Contact plan"},
		{anyone, "letter-texts", "Letter texts"},
		{schedule, "sites", "Test sites"},
		{takeIn | administer, "senders", "Senders"},
		{anyone, "jobs", "Jobs and mailbox"},
		{administer, "back-ups", "Back-ups"},
		{administer, "users", "Users"},
		{anyone, "access", "Access log"},
		{eraseRecords, "keeping", "Keeping"},
	} {
		if t.right == anyone || can(c, t.right) {
			out = append(out, templates.Tab{Href: "/settings/" + t.key, Text: t.text, Current: t.key == current})
		}
	}
	return out
}

// toReports answers GET /reports with the first report.
func (s *server) toReports(c Ctx) error { return c.Redirect(http.StatusSeeOther, "/reports/closure") }

// toSettings answers GET /settings with the first page of settings.
func (s *server) toSettings(c Ctx) error {
	return c.Redirect(http.StatusSeeOther, "/settings/protocol")
}
