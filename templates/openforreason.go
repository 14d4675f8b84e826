package templates

// OpenForReasonPage asks why a person needs to see an infant who is not among theirs.
// It tells nothing of the infant but the case number.
type OpenForReasonPage struct {
	Base
	Reference string
	Action    string
	Minutes   int
	Reason    Field
}

// File names the template.
func (*OpenForReasonPage) File() string { return "open-for-reason" }
