package templates

// SendersPage lists the laboratories and hospitals that send referrals or results.
type SendersPage struct {
	Base
	Lead    string
	Links   []Tab
	Rows    []SenderRow
	Unknown []UnknownSender
}

// SenderRow is one sender.
type SenderRow struct {
	Href, Name string
	Signs      string // how it signs
	Choices    string // how what it sends is read, in words
	Contact    string
	State      Tag // confirmed or not
	Note       string
}

// UnknownSender signed what came in lately and is not on the list.
type UnknownSender struct {
	Name, Href string
	N          int
	Last       string // when the last item came
}

// File names the template.
func (*SendersPage) File() string { return "senders" }

// SenderPage adds or changes one sender, and confirms it.
type SenderPage struct {
	Base
	Head   string
	Links  []Tab
	Action string
	Was    string // mark of the sender as the form was made from it
	Fields []Field
	Dates  Choice
	Commas Choice
	Cards  Choice
	Codes  Field

	Confirmed string // who confirmed it and when
	Confirm   *ConfirmSender
}

// ConfirmSender says that a real message was compared with what was read.
type ConfirmSender struct {
	Action string
	Came   []IntakeItem // what came from it lately
	Tick   Choice
}

// File names the template.
func (*SenderPage) File() string { return "sender" }
