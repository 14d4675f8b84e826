package templates

// ReleasePage shows a letter that waits for a named person's release, with the facts.
type ReleasePage struct {
	Base
	Head, Lead string
	Action     string
	Back       string
	Letter     LetterPreview
	Stopped    string // why it could not be made
	Tests      []Fact
	Evidence   []string
	By         Field
	Licence    *Field // of a letter that says a result
	Read       Choice
	Cautions   []string
}

// File names the template.
func (*ReleasePage) File() string { return "letter-release" }
