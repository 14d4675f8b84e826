package templates

// Base is what every page has. Handlers fill what belongs to the page; the
// server fills the rest just before rendering.
type Base struct {
	Name    string // page name for the title, with count or case: "Overdue list, 23 infants"
	Current string // key of the navigation entry that is current

	User *User // nil before sign-in
	Nav  []NavItem

	Flash    *Notice   // what the last act did; shown once
	Notices  []Notice  // standing notices: a job that did not run, a similar name
	Problems []Problem // problems of a form; their presence makes this an error page

	CSRF string // session's token, in each form that posts
	Once string // random, one a rendered form; a second submit is answered like the first
	Rev  uint64 // revision of the case the page's forms were made from; 0 = none

	Banner *Banner // who the page is about; on single-infant pages only

	MadeUp  bool   // all data are invented; said on every page
	Program string // name of the follow-up program
	Help    string // phone and hours of support

	Idle       int    // seconds without use after which the user is signed out; 0 unknown
	Find       string // what was typed in the find box
	NoFind     bool   // the person may look for no infant, and no box is offered
	LetterKeys bool   // letter keys act on focused rows
	ShortRows  bool   // one line an infant in lists
	Colors     string // "" as the device, "light" or "dark"
}

// Common returns the part that all pages have.
func (b *Base) Common() *Base { return b }

// Title is the text of the title element.
func (b *Base) Title() string {
	t := b.Name + " - Dunlin"
	if len(b.Problems) > 0 {
		t = "Error: " + t
	}
	return t
}

// DarkMedia is the media query of the dark style sheet, empty for none.
func (b *Base) DarkMedia() string {
	switch b.Colors {
	case "light":
		return ""
	case "dark":
		return "screen"
	}
	return "screen and (prefers-color-scheme: dark)"
}

// ErrorOf is the text of the first problem of the field with this id, or "".
func (b *Base) ErrorOf(id string) string {
	for _, p := range b.Problems {
		if p.Field == id {
			return p.Text
		}
	}
	return ""
}

// User is the signed-in person.
type User struct {
	Name string
	Role string // display word: Coordinator, Nurse, Manager, Administrator
	Home string // address of the role's first page
}

// NavItem is one entry of the main navigation.
type NavItem struct {
	Key, Href, Text string
	Count           int // waiting; 0 is not shown
}

// Problem is one fault of a form: the id of the field and what to do.
type Problem struct {
	Field string // id of the element that the summary links to; "" = the whole form
	Text  string
}

// Notice is a message above the page's content.
type Notice struct {
	Kind     string // "good", "warn", "late" or "" for information
	Head     string // one or two words: "Contact saved"
	Text     string
	LinkText string // optional link after the text
	Link     string
}

// Hidden is a value that travels in a form unseen.
type Hidden struct{ Name, Value string }

// Banner says who the page is about and stays in sight.
type Banner struct {
	Name      string // "WREN, Ada"
	Lang      string // language of the name when it is not English; may be empty
	Born      Date
	Age       string // "43 days"
	Sex       string // Girl, Boy, Other, Not known
	Reference string
	Accession string // screen specimen; may be empty
	Gestation string // "36 weeks 5 days" or "Not known"
	Twin      *Twin
	Test      bool // opened from a test message
}

// Twin says that an infant is one of several, and who the others are.
type Twin struct {
	Text     string // "Twin A of 2"
	Siblings []Sibling
}

// Sibling is a link to the case of another infant of the same birth.
type Sibling struct{ Name, Reference string }
