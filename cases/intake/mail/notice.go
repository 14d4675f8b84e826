package mail

import (
	"strings"

	message "github.com/emersion/go-message"

	"dunlin/cases/intake"
)

// most recipients that one notice is read for.
const maxRecipients = 100

// delivery reads a message/delivery-status part: fields about the mail, then a group
// of fields for each recipient (RFC 3464, section 2.1).
func (w *walker) delivery(b []byte) {
	w.m.Kind = intake.DeliveryNotice
	for group := 0; group <= maxRecipients+50 && len(b) > 0; group++ {
		var h message.Header
		h, b, _, _ = readHeading(b, w.lim.Heading)
		if id := value(&h, "Original-Envelope-Id"); id != "" && w.m.Envelope == "" {
			w.m.Envelope = id
		}
		action := strings.ToLower(value(&h, "Action"))
		to := recipient(&h)
		if action == "" && to == "" || len(w.m.Notices) == maxRecipients {
			continue
		}
		status, _, _ := strings.Cut(value(&h, "Status"), " ")
		w.m.Notices = append(w.m.Notices, intake.Delivery{Recipient: to, Action: firstWord(action), Status: status, Diagnostic: value(&h, "Diagnostic-Code")})
	}
}

// recipient takes the address out of "rfc822; someone@example.org".
func recipient(h *message.Header) string {
	for _, name := range []string{"Final-Recipient", "Original-Recipient"} {
		if v := value(h, name); v != "" {
			if _, a, ok := strings.Cut(v, ";"); ok {
				v = a
			}
			return strings.ToLower(strings.Trim(strings.TrimSpace(v), "<>"))
		}
	}
	return ""
}

func firstWord(s string) string {
	if f := strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == ';' || r == '(' }); len(f) > 0 {
		return f[0]
	}
	return ""
}

// receipt reads a message/disposition-notification part (RFC 8098, section 3.1).
func (w *walker) receipt(b []byte) {
	w.m.Kind = intake.ReadReceipt
	h, _, _, _ := readHeading(b, w.lim.Heading)
	w.about(ids(raw(&h, "Original-Message-Id"))...)
	_, what, _ := strings.Cut(value(&h, "Disposition"), ";")
	w.m.Shown = firstWord(strings.ToLower(strings.ReplaceAll(what, "/", " ")))
}

// returned reads the headings of a mail of ours that came back with a notice.
func (w *walker) returned(b []byte) {
	h, _, _, _ := readHeading(b, w.lim.Heading)
	w.about(ids(raw(&h, "Message-Id"))...)
}

// about adds Message-IDs that the mail reports on.
func (w *walker) about(list ...string) {
	w.m.About = ids(append(w.m.About, list...)...)
}

// autoReply reports an automatic reply. Auto-Submitted says so by the standard (RFC
// 3834, section 5); "auto-generated" is a notice of its own accord and no reply,
// unless it answers a mail. The other signs are custom: two must agree.
func autoReply(h *message.Header, subject string, answers bool) bool {
	switch firstWord(strings.ToLower(raw(h, "Auto-Submitted"))) {
	case "auto-replied":
		return true
	case "auto-generated", "auto-notified":
		return answers
	}
	for _, name := range []string{"X-Autoreply", "X-Autorespond"} {
		if v := strings.ToLower(strings.TrimSpace(raw(h, name))); h.Has(name) && v != "no" {
			return true
		}
	}
	signs := 0
	add := func(yes bool) {
		if yes {
			signs++
		}
	}
	precedence := strings.ToLower(strings.TrimSpace(raw(h, "Precedence")))
	if precedence == "auto_reply" {
		return true
	}
	add(precedence == "bulk" || precedence == "junk")
	add(strings.TrimSpace(raw(h, "Return-Path")) == "<>")
	add(h.Has("X-Auto-Response-Suppress"))
	words := awaySubject(subject)
	return words && (signs > 0 || answers) || signs >= 2 && answers
}

// away holds words with which the subject of automatic replies begins, in the
// languages of the letters and some more. They are from memory.
var away = []string{"automatic reply", "auto reply", "auto-reply", "autoreply", "auto response", "autoresponse", "out of office", "out of the office", "away from",
	"respuesta automática", "respuesta automatica", "fuera de la oficina", "fuera de oficina", "réponse automatique", "absence du bureau",
	"automatische antwort", "abwesenheit", "resposta automática", "автоответ"}

func awaySubject(s string) bool {
	s = strings.TrimSpace(strings.ToLower(s))
	for _, a := range away {
		if strings.HasPrefix(s, a) {
			return true
		}
	}
	return false
}
