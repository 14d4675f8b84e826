package templates

// ExportCasePage says what the file of one case holds, and asks why it leaves the
// program.
type ExportCasePage struct {
	Base
	Head, Lead string
	Warn       []string // what to mind before the file goes to anybody
	Holds      []Fact
	Reason     Field
	Action     string
	Back       string
	Button     string
}

// File names the template.
func (*ExportCasePage) File() string { return "export-case" }
