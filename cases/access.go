package cases

import (
	"slices"
	"time"
)

// AccessAct is what somebody did with facts about infants.
type AccessAct string

// The acts of the access log. They cover reading, changing, creating and handing out
// (the action codes R, U, C and E of HL7 FHIR R5 AuditEvent), and the two that the log
// itself calls for.
const (
	ActView       AccessAct = "view"        // a page about one infant, or a document
	ActList       AccessAct = "list"        // a page of several infants
	ActSearch     AccessAct = "search"      // a list that answers what somebody typed; the text is not kept
	ActChange     AccessAct = "change"      // something recorded
	ActCreate     AccessAct = "create"      // a case opened, or documents taken in
	ActPrint      AccessAct = "print"       // a sheet or letter for paper
	ActExport     AccessAct = "export"      // a file that leaves the program
	ActBreakGlass AccessAct = "break-glass" // an infant outside of one's own sites opened for a reason
	ActReview     AccessAct = "review"      // a break-glass looked at by another person
)

// AccessActs lists the acts in the order of forms.
func AccessActs() []AccessAct {
	return []AccessAct{ActView, ActList, ActSearch, ActChange, ActCreate, ActPrint, ActExport, ActBreakGlass, ActReview}
}

// Access is one line of the access log: who saw, changed, printed, exported or searched
// what, when and from where. It names infants by their reference alone. Lines are
// chained by hashes as the audit trail is; nothing changes or removes one.
type Access struct {
	Seq     uint64    `json:"seq"`
	At      time.Time `json:"at"` // UTC
	By      string    `json:"by"` // sign-in name, or the name of a key or command
	Role    Role      `json:"role"`
	Act     AccessAct `json:"act"`
	Route   string    `json:"route"`            // "GET /infants/:ref", without what stands in the address
	Status  int       `json:"status,omitempty"` // of the answer, as in HTTP; 0 where there is none
	Infants []string  `json:"infants,omitempty"`
	Set     string    `json:"set,omitempty"`  // the hash of a long list, kept once; Infants is empty then
	Rows    int       `json:"rows,omitempty"` // how many infants, or lines of a file
	What    string    `json:"what,omitempty"` // report and filter in words
	Why     string    `json:"why,omitempty"`  // reason or word of a review, as typed
	Until   time.Time `json:"until,omitzero"` // end of a break-glass
	Of      uint64    `json:"of,omitempty"`   // number of the line that a review is about
	From    string    `json:"from,omitempty"` // network address
	Session string    `json:"session,omitempty"`
	Request string    `json:"request,omitempty"` // number of the request in the program's own log
	Hash    string    `json:"-"`
}

// Refused tells whether the answer was a refusal: the person may not, or not there.
func (a *Access) Refused() bool { return a.Status == 401 || a.Status == 403 || a.Status == 404 }

// Outcome says in one or two words how it ended.
func (a *Access) Outcome() string {
	switch {
	case a.Refused():
		return "refused"
	case a.Status >= 500:
		return "failed"
	case a.Status >= 400:
		return "not saved"
	}
	return "done"
}

// AccessQuery narrows the access log; every part that is given must fit.
type AccessQuery struct {
	Infant   string // reference
	Person   string // sign-in name
	Act      AccessAct
	From, To time.Time // From <= At < To; a zero time is no limit
	Before   string    // where the page before ended, as Accesses gave it
	Limit    int       // 0 = none
}

// Fits tells whether a line answers a query; infants of long lists are not compared.
func (q *AccessQuery) Fits(a *Access) bool {
	return (q.Person == "" || q.Person == a.By) && (q.Act == "" || q.Act == a.Act) &&
		(q.From.IsZero() || !a.At.Before(q.From)) && (q.To.IsZero() || a.At.Before(q.To)) &&
		(q.Infant == "" || a.Set != "" || slices.Contains(a.Infants, q.Infant))
}
