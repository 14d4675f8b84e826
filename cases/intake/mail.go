package intake

import "time"

// MailReader takes mails apart (RFC 5322 and MIME). Neither method panics or keeps
// more than a few times the size of the mail in memory, whatever the bytes.
type MailReader interface {
	Sniff(raw []byte) bool // the bytes begin with the headings of a mail
	Open(raw []byte) Mail
}

// MailKind says what sort of mail it is.
type MailKind uint8

// The kinds of mail.
const (
	PlainMail      MailKind = iota
	DeliveryNotice          // RFC 3464: what became of a mail of ours
	ReadReceipt             // RFC 8098: a mail of ours was shown, or deleted
	AutoReply               // RFC 3834, or the signs that were in use before it
)

// Mail is a mail taken apart. All texts are UTF-8 without control and direction
// signs; none is trusted.
type Mail struct {
	From      string // address, lower case; "" when none can be read
	FromName  string
	To        []string // addresses it came to, lower case
	Subject   string
	Date      time.Time // zero when missing or not a date
	MessageID string    // with its angle brackets
	About     []string  // Message-IDs it answers or reports on, with angle brackets
	Envelope  string    // Original-Envelope-Id of a delivery notice
	Kind      MailKind
	Notices   []Delivery
	Shown     string // disposition of a read receipt: displayed, deleted ...
	Signed    bool   // it carries a signature, which is not checked
	Text      string // the text of its body; HTML only where there is no plain text
	Parts     []MailPart
	Problems  []Problem // about the mail as a whole
}

// Delivery is what a delivery notice says of one recipient (RFC 3464, section 2.3).
type Delivery struct {
	Recipient  string // address, lower case
	Action     string // failed delayed delivered relayed expanded, lower case
	Status     string // "5.1.1"
	Diagnostic string
}

// MailPart is one part of a mail with its bytes as they were sent: the transfer
// encoding is undone, the character set is not.
type MailPart struct {
	Label   string // "attachment 2, F0001.hl7", "text"
	Name    string // for showing only, never a path
	Type    string // media type, lower case
	Charset string // as declared
	Raw     []byte
	Body    bool   // it stands in the text of the mail
	Flowed  bool   // its lines may have been wrapped (RFC 3676)
	Picture bool   // an image that the text shows, such as a logo
	Broken  string // why its bytes are not what was sent, as sentences; "" when they are
}
