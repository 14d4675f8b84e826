package intake

import (
	"bytes"
	"strings"
)

// sealed says why a part of an encrypted or packed type is not opened; "" for other
// types.
func sealed(mediaType string) string {
	switch mediaType {
	case "application/pkcs7-mime", "application/x-pkcs7-mime", "application/pgp-encrypted":
		return "The mail is encrypted, or sealed in a form that cannot be read here. Call the sender, or ask for it by another way."
	case "application/ms-tnef", "application/vnd.ms-tnef":
		return tnef
	}
	return ""
}

const (
	tnef = "This attachment (winmail.dat) is in a form that cannot be opened here. Ask the sender for the file itself, or for the mail as plain text."
	look = " Look at it, and enter a referral by hand if it is one."
)

// marks are the first bytes of kinds of file that are not opened, with what to do.
// The values are from memory.
var marks = []struct{ mark, say string }{
	{"%PDF-", "This is a PDF, which is not read here." + look},
	{"x\x9f>\x22", tnef},
	{"7z\xbc\xaf\x27\x1c", packed}, {"Rar!", packed}, {"\x1f\x8b", packed}, {"BZh", packed}, {"\xfd7zXZ", packed},
	{"\x89PNG", picture}, {"\xff\xd8\xff", picture}, {"GIF8", picture}, {"II*\x00", picture}, {"MM\x00*", picture}, {"RIFF", picture},
	{"\xd0\xcf\x11\xe0", "This is a document of an office program, which is not read here." + look},
	{`{\rtf`, "This is a document of an office program, which is not read here." + look},
	{"BEGIN:VCALENDAR", "This is a calendar entry, which is not read here. Look at it, and book or change the appointment by hand."},
}

const (
	packed  = "This is a packed file, which is not opened here. Ask the sender for the file in it."
	picture = "This is a picture, which is not read here." + look
)

// closedUp says why a document of a known kind is not read; "" for other kinds.
// Nothing is ever unpacked.
func closedUp(raw []byte) string {
	if bytes.HasPrefix(raw, []byte("PK\x03\x04")) || bytes.HasPrefix(raw, []byte("PK\x05\x06")) {
		switch head := string(raw[:min(len(raw), 8<<10)]); {
		case strings.Contains(head, "xl/"):
			return "This is a spreadsheet, which is not read here. Ask the sender for the list as CSV, or enter it by hand."
		case strings.Contains(head, "word/"):
			return "This is a document of an office program, which is not read here." + look
		}
		return packed
	}
	for _, m := range marks {
		if bytes.HasPrefix(raw, []byte(m.mark)) {
			return m.say
		}
	}
	return ""
}
