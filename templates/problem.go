package templates

// ProblemPage says that something did not work: what happened to what was
// typed, what to do now, and whom to call. It serves for not found, no access,
// too large, refused and server trouble.
type ProblemPage struct {
	Base
	Head    string   // heading, without codes
	Text    []string // paragraphs
	Actions []Link   // the first is the main one
	Ref     string   // request number to tell support; shown on server trouble
	At      string   // "5 Mar 2026, 08:47"
}

// Link is a link with its words.
type Link struct{ Href, Text string }

// File names the template.
func (*ProblemPage) File() string { return "problem" }

// UnsentPage keeps what was typed into a form that could not be taken because
// the session had ended or changed, and sends it again.
type UnsentPage struct {
	Base
	SignedOut bool
	Action    string
	Typed     []Fact
	Fields    []Hidden
}

// File names the template.
func (*UnsentPage) File() string { return "unsent" }
