package templates

// CodePage asks for a code of the second factor.
type CodePage struct {
	Base
	Code Field
	Next string // address to go to afterwards
}

// File names the template.
func (*CodePage) File() string { return "code" }

// FactorPage sets up a second factor.
type FactorPage struct {
	Base
	Lead   string
	Action string // where the form is sent
	Back   string // where to go without; "" when it must be set up
	Next   string // address to go to afterwards, in the form
	QR     QR
	Secret string // the same as text, in groups
	Code   Field
}

// File names the template.
func (*FactorPage) File() string { return "factor" }

// QR is a two-dimensional code: the side in modules, with four of margin around, and the
// dark ones as the path of an
// SVG image.
type QR struct {
	Side int
	Path string
}

// CodesPage shows recovery codes, the only time that they can be seen.
type CodesPage struct {
	Base
	Codes []string
	Next  string
}

// File names the template.
func (*CodesPage) File() string { return "codes" }

// PasswordPage is the form on which a person chooses a password: by a link, as the first
// administrator, or anew.
type PasswordPage struct {
	Base
	Head, Lead string
	Action     string
	ID         string // work email, for password managers; "" when it is asked for
	Email      *Field // asked of the first administrator
	FullName   *Field
	Password   Field
	Least      int // fewest characters
	Submit     string
}

// File names the template.
func (*PasswordPage) File() string { return "password" }

// ProvePage asks a signed-in person for the password again, with what they were about
// to send.
type ProvePage struct {
	Base
	Action   string
	Method   string // "post" sends Fields again; "get" leads to a page
	Fields   []Hidden
	Password Field
	What     string // what the answer is: Password, or Code
	Service  *ServiceLink
}

// File names the template.
func (*ProvePage) File() string { return "prove" }

// UsersPage lists the accounts.
type UsersPage struct {
	Base
	Lead  string
	Links []Tab
	Rows  []UserRow
	Roles Choice // that must have a second factor
}

// UserRow is one account.
type UserRow struct {
	Href, Name, Email, Role string
	Sites                   string // of a nurse
	State                   Tag
	Factor                  string
	Last                    string // last sign-in
}

// File names the template.
func (*UsersPage) File() string { return "users" }

// UserPage invites a person, or shows one account with what can be done about it.
type UserPage struct {
	Base
	Head   string
	Links  []Tab
	Action string
	New    bool
	State  Tag
	Facts  []Fact
	Link   *LinkShown
	Email  Field
	Person Field
	Role   Choice
	Sites  Choice

	Acts     []UserAct
	Reason   *Field // of taking the second factor away
	Sessions []SignedInRow
	// EndAction is where the forms that end sessions are sent.
	EndAction string
}

// LinkShown is a link that is shown once.
type LinkShown struct{ Address, Until, For string }

// UserAct is one thing that an administrator can do about an account.
type UserAct struct {
	Do, Text string
	Sub      string // what it does
	Reason   bool   // with the field for the reason
}

// File names the template.
func (*UserPage) File() string { return "user" }

// SignedInRow is one signed-in browser.
type SignedInRow struct {
	ID, Browser, From, Since, Used string
	Second                         bool
	Own                            bool
}
