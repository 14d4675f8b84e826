package templates

// BackupsPage shows the back-ups of the store and how to go back to one.
type BackupsPage struct {
	Base
	Lead    string
	Links   []Tab
	MayMake bool // a back-up can be asked for now
	State   Note
	Trouble []Note // what a person must look at besides
	Facts   []Fact
	Rows    []BackupRow
	More    int    // back-ups that are not listed
	Restore string // command lines, one a line; empty where there is none to restore
}

// BackupRow is one back-up.
type BackupRow struct {
	Made, By string
	File     string
	Size     string
	Cases    int
	Entries  int    // of the audit trail
	Head     string // the beginning of its last hash
	State    Tag
	Note     string
}

// File names the template.
func (*BackupsPage) File() string { return "backups" }
