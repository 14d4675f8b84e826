package intake

import "fmt"

// KindTest is the kind of a test message that a live program sets aside.
const KindTest = "test message"

// byItself tells whether documents of a source come without a person who looks at
// them: by mail, by an interface or by the web service.
func byItself(source string) bool {
	return source == "mailbox" || source == "interface" || source == "web service"
}

// testAside sets a test message aside that comes by itself to a live program. It is
// kept and counted and opens nothing. A mark that is neither production nor one of
// the test marks (HL7 table 0103: D, T) goes to a person.
func (p *placer) testAside(it *Item, v *Verdict) {
	r := &it.Referral
	if !p.in.settings.Live || !byItself(p.job.doc.Source) || !r.Test() || v.Outcome == Refused {
		return
	}
	if r.Processing == "D" || r.Processing == "T" {
		v.Outcome, v.Kind, v.Top = Refused, KindTest, false
		v.Reasons = []string{fmt.Sprintf("MSH-11: This is a test message (%s), and this program is live. It was kept and nothing was opened.", Shorten(r.Processing))}
		return
	}
	v.hold(KindCannot, fmt.Sprintf("MSH-11: The message is marked %q, which is neither production (P) nor a test (D, T). Ask the sender whether it is real.", Shorten(r.Processing)))
}
