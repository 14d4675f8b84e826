package templates

// MessagesPage lists messages by e-mail and text, with the chosen one beside them.
type MessagesPage struct {
	Base
	Lead   string
	Parts  []Tab
	Tabs   []Tab
	Head   string
	None   string
	Cut    string
	Rows   []MessageRow
	Chosen *MessageView
}

// MessageRow is one message in the list.
type MessageRow struct {
	ID, Name, Reference string
	Kind, By, To        string
	State               Tag
	When                string
	Href                string
	Current             bool
}

// MessageView is a message as it goes or went, with what a person may decide about it.
type MessageView struct {
	MessageRow
	Address, Subject string
	Body             []string // lines
	Lang             string
	Number           string
	Note, Help       string
	Tries            int
	Letter           string // address of the letter that it tells of
	Phone            string // address to log a call instead
	Steps            []LetterStepRow
	Action           string
	As               *Choice // nil when nothing is to be decided
	Why              *Field
}

// File names the template.
func (*MessagesPage) File() string { return "messages" }
