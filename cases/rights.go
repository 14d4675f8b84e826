package cases

// Right is one thing an account may be allowed to do.
type Right string

// The rights; which role has which is the table in roleRights.
const (
	SeeCases     Right = "see cases"
	LogContacts  Right = "log contacts"
	EditIdentity Right = "change names, family and primary care"
	Weigh        Right = "record a weight"
	BookTests    Right = "book tests"
	RecordTests  Right = "record tests"
	VerifyTests  Right = "record a verification"
	PlaceHolds   Right = "place and end holds"
	EnterReports Right = "enter a genotype report"
	CloseCases   Right = "close a case"
	ProposeClose Right = "propose closing"
	AgreeClose   Right = "agree to closing"
	ReopenCases  Right = "reopen a case"
	SendLetters  Right = "print and mail letters"
	WorkIntake   Right = "take in referrals"
	SeeReports   Right = "see reports"
	RecordDeath  Right = "record a death"
	SetFlags     Right = "set contact flags"
	RunProgram   Right = "run the program"
	KeepSites    Right = "change test sites and sessions"

	SeeFullFigures Right = "see figures without small numbers hidden"
	ExportExtract  Right = "export a de-identified extract"
	ExportRows     Right = "export data that name infants"

	MergeCases   Right = "merge two cases of one infant, or keep two apart"
	SeeAccessLog Right = "read the access log of everybody"
	ReviewLooks  Right = "review looks outside of a person's sites"
	BreakGlass   Right = "open an infant for a typed reason"

	HoldLegally  Right = "place and end a legal hold"
	EraseRecords Right = "propose or confirm erasing records"
)

// roleRights gives each role the least it needs (program's access table; the
// manager sees names only where a closure waits for agreement).
var roleRights = map[Role][]Right{
	Coordinator: {SeeCases, LogContacts, EditIdentity, Weigh, BookTests, VerifyTests, PlaceHolds, EnterReports,
		CloseCases, ProposeClose, ReopenCases, SendLetters, WorkIntake, SeeReports, RecordDeath, SetFlags,
		SeeFullFigures, ExportExtract, ExportRows, MergeCases, HoldLegally, EraseRecords, ReviewLooks},
	Nurse:         {SeeCases, LogContacts, Weigh, BookTests, RecordTests, VerifyTests, PlaceHolds, ProposeClose, SeeReports, RecordDeath, KeepSites, BreakGlass},
	Manager:       {AgreeClose, ReopenCases, SeeReports, SeeFullFigures, ExportExtract, EraseRecords, SeeAccessLog, ReviewLooks, BreakGlass},
	Administrator: {RunProgram},
}

// May tells whether the actor has a right. The program itself has all.
func (a Actor) May(r Right) bool {
	if a.Role == System {
		return true
	}
	for _, x := range roleRights[a.Role] {
		if x == r {
			return true
		}
	}
	return false
}

// Need refuses an actor without the right, for use cases outside of this package.
func (a Actor) Need(r Right) error { return a.need(r) }

// need refuses an actor without the right, naming who has it.
func (a Actor) need(r Right) error {
	if a.May(r) {
		return nil
	}
	has := ""
	for _, role := range []Role{Coordinator, Nurse, Manager, Administrator} {
		if (Actor{Role: role}).May(r) {
			if has != "" {
				has += " or "
			}
			has += string(role)
		}
	}
	return Errorf(Forbidden, "Only a %s may %s.", has, r)
}
