package web

import (
	"net/http"
	"strings"

	"dunlin/cases"
)

// Two more acts of routes, which stand in no line themselves.
const (
	actQuiet   cases.AccessAct = "quiet"   // no facts about infants; settings, of which the audit trail tells
	actFigures cases.AccessAct = "figures" // a report: in the log when the audit trail was told of it
)

// routeActs says what the routes do that are not of one infant; see accessAct.
var routeActs = map[string]cases.AccessAct{
	"GET /":                          actQuiet,
	"GET /sign-in":                   actQuiet,
	"POST /sign-in":                  actQuiet,
	"POST /sign-out":                 actQuiet,
	"GET /stay":                      actQuiet,
	"GET /me":                        actQuiet,
	"POST /me":                       actQuiet,
	"GET /overdue":                   cases.ActList,
	"GET /overdue/print":             cases.ActPrint,
	"GET /overdue/days/:day":         cases.ActList,
	"GET /infants":                   cases.ActList,
	"POST /infants/find":             actQuiet, // leads to the answer
	"GET /infants/found":             cases.ActSearch,
	"GET /schedule":                  cases.ActList,
	"GET /schedule/proposals":        cases.ActList,
	"POST /schedule/proposals":       cases.ActChange,
	"GET /schedule/outlook":          actQuiet, // counts
	"GET /schedule/outlook/infants":  cases.ActList,
	"GET /sessions/:site/:day":       actQuiet, // leads to the session
	"GET /sessions/:site/:day/:id":   cases.ActList,
	"GET /intake":                    cases.ActList,
	"GET /intake/upload":             actQuiet,
	"POST /intake/upload":            cases.ActCreate,
	"GET /intake/:id":                cases.ActView,
	"POST /intake/:id":               cases.ActChange,
	"POST /intake/:id/undo":          cases.ActChange,
	"GET /intake/:id/raw":            cases.ActExport,
	"GET /intake/:id/mail":           cases.ActExport,
	"GET /letters":                   cases.ActList,
	"POST /letters":                  cases.ActChange,
	"POST /letters/make":             cases.ActChange,
	"GET /letters/page":              cases.ActView,
	"POST /letters/page":             cases.ActPrint,
	"GET /letters/:id/page":          cases.ActPrint,
	"POST /letters/:id/page":         cases.ActChange,
	"GET /letters/runs/:run":         cases.ActList,
	"POST /letters/runs/:run":        cases.ActChange,
	"GET /letters/runs/:run/pdf":     cases.ActPrint,
	"GET /letters/:id/pdf":           cases.ActPrint,
	"GET /letters/:id/edit":          cases.ActView,
	"GET /reports":                   actQuiet,
	"GET /reports/faults":            cases.ActList,
	"GET /reports/ages/cases":        cases.ActList,
	"GET /reports/exports":           actQuiet,
	"POST /reports/year/keep":        actQuiet, // figures; the audit trail tells
	"GET " + accessPath:              cases.ActList,
	"GET " + accessPath + ".csv":     cases.ActExport,
	"GET " + messagesPath:            cases.ActList,
	"POST " + messagesPath + "/:id":  cases.ActChange,
	"GET " + returnedPath:            cases.ActView,
	"POST " + returnedPath:           cases.ActChange,
	"POST " + makeNowPath:            cases.ActChange,
	"POST " + exportsPath + "/cases": cases.ActExport,
}

// accessAct says what a route does, and false for one that nobody has thought of: it is
// in the log all the same, as a look or a change.
func accessAct(method, path string) (cases.AccessAct, bool) {
	if act, ok := routeActs[method+" "+path]; ok {
		return act, true
	}
	sheet := strings.HasSuffix(path, ".pdf") || strings.Contains(path, "/day-sheet")
	switch {
	case strings.HasPrefix(path, "/settings"), path == "/prove", strings.HasPrefix(path, "/me/"), isOpen(path):
		return actQuiet, true
	case strings.HasPrefix(path, "/sessions/"):
		if sheet {
			return cases.ActPrint, true
		}
		return cases.ActExport, strings.HasSuffix(path, ".ics")
	case strings.HasPrefix(path, "/reports/"):
		if strings.HasSuffix(path, ".xlsx") || strings.HasSuffix(path, ".zip") || sheet || method == http.MethodPost && path == exportsPath+"/extract" {
			return cases.ActExport, true
		}
		return actFigures, method == http.MethodGet
	case strings.HasPrefix(path, "/infants/:ref"):
		switch {
		case method == http.MethodPost && path == "/infants/:ref/export", strings.HasSuffix(path, ".ics"):
			return cases.ActExport, true
		case method == http.MethodGet:
			return cases.ActView, true
		}
		return cases.ActChange, true
	case strings.HasPrefix(path, "/letters/"):
		return cases.ActChange, method == http.MethodPost
	}
	if method == http.MethodGet {
		return cases.ActView, false
	}
	return cases.ActChange, false
}
