package demo

import (
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// arrival is a mail of this morning. make writes it when it comes, for by then the
// case that it is about has its reference.
type arrival struct {
	name string
	at   cases.Clock
	make func(c cases.Case) string
	of   *story
}

// results are the infants whose sweat results come by mail this morning.
func (w *world) results() {
	// The nurse tested two days ago; the laboratory's values come now. It reads by a
	// band of its own, so that its word and the program's differ.
	on := w.ago(2)
	s := w.open("result by mail, read otherwise", 26, 18).found("F508del").at(cases.StepRepeatTest).told(w.ago(16))
	s.book(w.ago(12), on).sweat(on, cases.SweatTest{On: on, Arms: []cases.Arm{arm("left", 31, -1), arm("right", 26, -1)}})
	w.mails = append(w.mails, arrival{name: "result.eml", at: "00:20", of: s, make: func(cases.Case) string {
		return mailOf(w.today, "00:18", "Laboratory <results@marlowcreek.example>", "Sweat test result", "SW-1", "The result is attached.",
			"SW2231.hl7", s.screen.sweatMessage(on, w.today, 31, 34))
	}})
}

// otherMails are a reply of a practice, and a list that was packed.
func (w *world) otherMails(s *story) {
	w.mails = append(w.mails, arrival{name: "reply.eml", at: "00:31", of: s, make: func(c cases.Case) string {
		return mailOf(w.today, "00:30", "Sandpiper Family Practice <office@sandpiper.example>", "Re: "+c.Reference, "RE-1",
			"The family has a new number, 555-0188. The best time is after four.\r\n", "", "")
	}})
	w.mails = append(w.mails, arrival{name: "list.eml", at: "00:42", make: func(cases.Case) string {
		return mailOf(w.today, "00:40", "Tern Valley Hospital <nursery@ternvalley.example>", "List of the week", "LI-1", "The list is attached.",
			"list.zip", "PK\x03\x04 only the beginning of a packed file")
	}})
}

// sender confirms the hospital's laboratory: a sweat result goes on its case by itself
// only from a sender that somebody has confirmed.
func (p *player) sender(w *world) error {
	return p.d.Store.Update(p.ctx, Coordinator, func(tx cases.Writer) error {
		return intake.PutSenders(tx, []intake.Sender{{Name: "Marlow Creek Laboratory", Signs: []string{"@marlowcreek.example"},
			Contact: "The bench, 555-0170", Email: "results@marlowcreek.example", ConfirmedBy: Coordinator.Name, ConfirmedOn: w.today - 90}})
	})
}

// post passes the mails of this morning through intake.
func (p *player) post(w *world) error {
	if err := p.sender(w); err != nil {
		return err
	}
	for _, m := range w.mails {
		var c cases.Case
		if m.of != nil {
			err := p.d.Store.View(p.ctx, func(r cases.Reader) (err error) {
				c, err = r.Case(p.ids[m.of])
				return err
			})
			if err != nil {
				return err
			}
		}
		p.moment(w.today, m.at)
		text := m.make(c)
		from, _, _ := strings.Cut(text[strings.Index(text, "<")+1:], ">")
		result, err := p.d.Intake.Receive(p.ctx, mailbox, intake.Document{Source: "mailbox", Name: m.name, Sender: from,
			At: p.d.Clock.Now(), Raw: []byte(text)})
		if err != nil {
			return fmt.Errorf("mail %s: %w", m.name, err)
		}
		for outcome, n := range result.Counts {
			p.tally.Items[string(outcome)] += n
		}
		p.tally.Mails++
	}
	return nil
}

var mailbox = cases.Actor{ID: "mailbox", Name: "Mailbox", Role: cases.System, Via: "mailbox"}

// mailOf writes a mail, with a file when it has a name.
func mailOf(day cases.Day, at cases.Clock, from, subject, id, text, file, data string) string {
	when, err := time.Parse("2006-01-02 15:04", day.String()+" "+string(at))
	if err != nil {
		panic(err) // the days and times here are our own
	}
	var b strings.Builder
	fmt.Fprintf(&b, "From: %s\r\nTo: Referrals <referrals@alderbay.example>\r\nSubject: %s\r\nDate: %s\r\nMessage-ID: <%s.%s@alderbay.example>\r\nMIME-Version: 1.0\r\n",
		from, subject, when.Format(time.RFC1123Z), id, stamp(day, ""))
	if file == "" {
		fmt.Fprintf(&b, "Content-Type: text/plain; charset=utf-8\r\n\r\n%s", text)
		return b.String()
	}
	fmt.Fprintf(&b, "Content-Type: multipart/mixed; boundary=\"part\"\r\n\r\n--part\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n%s\r\n", text)
	fmt.Fprintf(&b, "--part\r\nContent-Type: application/octet-stream\r\nContent-Disposition: attachment; filename=\"%s\"\r\nContent-Transfer-Encoding: base64\r\n\r\n", file)
	for enc := base64.StdEncoding.EncodeToString([]byte(data)); enc != ""; {
		n := min(76, len(enc))
		b.WriteString(enc[:n] + "\r\n")
		enc = enc[n:]
	}
	b.WriteString("--part--\r\n")
	return b.String()
}

// sweatMessage writes the values of a sweat test as the hospital's laboratory sends
// them: by the infant's own numbers, one order for each arm, and with its own band.
func (s screen) sweatMessage(on, reported cases.Day, left, right float64) string {
	p := s.person
	m := &segments{s: s}
	m.line(`MSH|^~\&|LIS^2.16.840.1.113883.19.58.1^ISO|Marlow Creek Laboratory^2.16.840.1.113883.19.58^ISO|%s|%s||ORU^R01^ORU_R01|MC%s|P|2.5.1|||AL|AL||UNICODE UTF-8`,
		programID, stamp(reported, "0015"), s.control)
	hospital := escape.Replace(p.hospital.name)
	m.line("PID|1||%s^^^%s&%s&ISO^MR||%s^%s^^^^^L||%s|%s||||||||||||||||N|", p.record, hospital, p.hospital.oid,
		escape.Replace(p.family), escape.Replace(p.given), stamp(p.born, p.bornAt), p.sexCode())
	m.line("NK1|1|%s^%s^^^^^L|MTH^Mother^HL70063||^PRN^PH^^1^555^%s", escape.Replace(p.mother.family), escape.Replace(p.mother.given), p.phone)
	for i, arm := range []struct {
		code, words string
		value       float64
		amount      int
	}{{"LLFA", "Left Lower Forearm", left, 31}, {"RLFA", "Right Lower Forearm", right, 26}} {
		m.obx = 0
		filler := fmt.Sprintf("SW%s%d^LIS^2.16.840.1.113883.19.58.1^ISO", stamp(on, ""), i+1)
		m.line("ORC|RE||%s||||||%s", filler, stamp(reported, "0010"))
		m.line("OBR|%d||%s|86964003^Cystic fibrosis sweat test^SCT|||%s|%s||||||||||||||%s|||F", i+1, filler, stamp(on, "1020"), stamp(on, "1050"), stamp(reported, "0010"))
		m.line("OBX|%d|NM|2077-6^Chloride [Moles/volume] in Sweat^LN||%g|mmol/L^millimole per liter^UCUM|<40|N|||F|||%s", m.next(), arm.value, stamp(on, "1020"))
		m.line("SPM|1|^%s||122569007^Sweat specimen^SCT||||%s^%s^HL70163||||%d^uL&microliter&UCUM|||||%s^%s", strings.ReplaceAll(filler, "^", "&"),
			arm.code, arm.words, arm.amount, stamp(on, "1020"), stamp(on, "1050"))
	}
	return m.String()
}
