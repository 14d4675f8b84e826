package web

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// bookingTime is how long lines are booked in one request; what is left over is said and
// proposed again. It is well below the time of a request.
const bookingTime = timeLimit * 6 / 10

// bid is a line that was sent to be booked.
type bid struct {
	value string
	need  string
	refs  []string
	names []string // once the cases are read
	asks  []booking.Ask
	fault string // why it cannot even be tried
}

// tickedLines are the values of the ticked lines.
func (f *form) tickedLines() map[string]bool {
	out := map[string]bool{}
	for _, v := range f.values["line"] {
		out[v] = true
	}
	return out
}

// readBids reads the lines that are to be booked: the ticked ones, or all that are
// ready. Each line is wrong or right by itself.
func (f *form) readBids() (out []bid) {
	ticked, ready := f.tickedLines(), f.typed("do") == "ready"
	seen := map[string]bool{}
	for _, v := range f.values["l"] {
		if seen[v] || len(out) == mostProposals {
			continue
		}
		seen[v] = true
		b, ok := parseBid(v)
		if ready && b.need == needsNothing || !ready && ticked[v] {
			if !ok {
				b.fault = "The line was sent damaged. Open the page again."
			}
			out = append(out, b)
		}
	}
	return out
}

// parseBid reads a line as proposed.value wrote it.
func parseBid(v string) (bid, bool) {
	parts := strings.Fields(v)
	b := bid{value: v}
	if len(parts) < 7 || (len(parts)-3)%4 != 0 || len(parts) > 3+4*8 {
		return b, false
	}
	b.need = parts[0]
	on, err := cases.ParseDay(parts[2])
	if err != nil || b.need != needsNothing && b.need != needsTalk && b.need != needsPerson {
		return b, false
	}
	for p := parts[3:]; len(p) > 0; p = p[4:] {
		rev, err := strconv.ParseUint(p[1], 10, 63)
		at, err2 := cases.ParseClock(p[2])
		if err != nil || err2 != nil || rev == 0 {
			return b, false
		}
		b.refs = append(b.refs, p[0])
		b.asks = append(b.asks, booking.Ask{Rev: cases.Rev(rev), Site: parts[1], On: on, At: at})
		if b.need == needsPerson {
			b.asks[len(b.asks)-1].Override = &booking.Override{Seen: p[3]}
		}
	}
	return b, true
}

// bookProposals answers POST /schedule/proposals. Each line is booked in a transaction
// of its own against what is recorded now.
func (s *server) bookProposals(c Ctx) error {
	f := s.readForm(c)
	bids := f.readBids()
	if len(bids) == 0 {
		f.failAt("line", "line-0", "Tick the places to book")
	}
	silent, err := s.readAsked(c, bids)
	if err != nil {
		return err
	}
	s.readWords(f, bids, silent)
	if !f.ok() {
		p, err := s.proposalsPage(c, f, nil)
		if err != nil {
			return err
		}
		if len(p.Groups) == 0 {
			f.problems[0].Field = ""
		}
		return s.invalid(c, p, f.problems)
	}
	answer := &templates.ProposalsAnswer{}
	ctx, stop := context.WithTimeout(c.Request().Context(), bookingTime)
	defer stop()
	who := actorOf(c)
	for i := range bids {
		s.bookBid(ctx, who, f, &bids[i], answer)
	}
	status := http.StatusOK
	if len(answer.Booked) == 0 {
		status = http.StatusConflict
	}
	answer.Head = plainCount(len(answer.Booked), "infant is booked", "infants are booked")
	if n := len(answer.Not); n > 0 {
		answer.Head += ", " + plainCount(n, "is not", "are not")
	}
	p, err := s.proposalsPage(c, f, answer)
	if err != nil {
		return err
	}
	p.Name = answer.Head
	return s.render(c, status, p)
}

// readAsked finds the cases of the lines, and tells the lines that have an infant
// of whose family no talk is recorded.
func (s *server) readAsked(c Ctx, bids []bid) (silent []bool, err error) {
	silent = make([]bool, len(bids))
	err = s.view(c, func(r cases.Reader) error {
		for i := range bids {
			b := &bids[i]
			for j, ref := range b.refs {
				k, err := r.ByReference(ref)
				if cases.KindOf(err) == cases.NotFound && err != nil {
					b.names, b.fault = append(b.names, "case"), "There is no case "+ref+"."
					continue
				}
				if err != nil {
					return err
				}
				b.names = append(b.names, infantName(&k.Infant))
				a := s.protocol().Assess(&k, r.Today())
				b.asks[j].Case = k.ID
				silent[i] = silent[i] || a.Clocks.FamilyReached.MetOn == 0
			}
		}
		return nil
	})
	return silent, err
}

// readWords reads the reasons that the lines need and puts them on their bookings.
func (s *server) readWords(f *form, bids []bid, silent []bool) {
	by, why, talk := f.text("override-by", "Who decided", 120), f.text("override-reason", "Why they are booked", 300), f.text("talk-why", "Why places are booked", 300)
	for i := range bids {
		b := &bids[i]
		if silent[i] && talk == "" {
			f.fail("talk-why", "Enter why places are booked before a talk with the family, or untick these infants")
		}
		if b.need == needsPerson && by == "" {
			f.fail("override-by", "Enter who decided to book infants who are not ready, or untick these infants")
		}
		if b.need == needsPerson && why == "" {
			f.fail("override-reason", "Enter why infants who are not ready are booked all the same")
		}
		for j := range b.asks {
			a := &b.asks[j]
			if silent[i] {
				a.Reason = "Booked in spite of: family not reached. " + talk
			}
			if a.Override != nil {
				a.Override.By, a.Override.Reason = by, why
			}
		}
	}
}

// bookBid books one line and adds what came of it to the answer. The form's token is
// kept for each line by itself, so that a form sent twice books each line once, also
// when the first time broke off half-way.
func (s *server) bookBid(ctx context.Context, who cases.Actor, f *form, b *bid, answer *templates.ProposalsAnswer) {
	note, text := "", b.fault
	if text == "" {
		once := pending{"", proposalsPath, s.Now().Add(onceFor)}
		if t := f.once(); t != "" {
			once.token = t + " " + b.value
		}
		list, err := s.places.Book(context.WithValue(ctx, onceKey{}, once), who, b.asks...)
		var done *doneBefore
		switch {
		case errors.As(err, &done):
			note = "It was booked before; the form was sent twice."
		case err != nil:
			text = s.whyNot(b, err)
		default:
			for i := range list {
				if k := list[i].Bookings[len(list[i].Bookings)-1]; k.OverrideBy != "" {
					note = "Not ready; decided by " + k.OverrideBy + ": " + k.OverrideReason + ". Weigh on the day."
				}
			}
		}
	}
	for i, ref := range b.refs {
		line := templates.AnswerLine{Name: b.names[i], Reference: ref, Place: s.askWords(&b.asks[i]), Note: note, Text: "Open the infant", Href: "/infants/" + ref}
		if text == "" {
			answer.Booked = append(answer.Booked, line)
			continue
		}
		line.Note, line.Text, line.Href = text, "Book another place", "/infants/"+ref+"/book?from=schedule"
		answer.Not = append(answer.Not, line)
	}
	if len(b.refs) == 0 {
		answer.Not = append(answer.Not, templates.AnswerLine{Name: "A line", Reference: "not read", Place: "no place", Note: text, Text: "Open the page again", Href: proposalsPath})
	}
}

// whyNot says why a line was not booked and what to do.
func (s *server) whyNot(b *bid, err error) string {
	var ch *cases.Changed
	var e *cases.Error
	switch {
	case errors.As(err, &ch):
		text := fmt.Sprintf("%s was changed", ch.Now.Reference)
		if n := len(ch.By); n > 0 {
			text += " by " + ch.By[n-1].Actor.Name
			if w := ch.By[n-1].Event.Text; w != "" {
				text += " (" + strings.ReplaceAll(w, "\n", " ") + ")"
			}
		}
		return text + " since the page was made. Look at the plan below, which is made anew."
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return "The time for one request ran out before this line. It is proposed again below."
	case errors.As(err, &e):
		return strings.TrimSuffix(faultText(e), ".") + "."
	}
	s.Log.Error("a proposed line was not booked", "err", err)
	return "Dunlin could not save this line. It is proposed again below; if that goes on, tell support."
}

func (s *server) askWords(a *booking.Ask) string {
	return date(a.On).Weekday() + ", " + string(a.At) + ", " + s.siteName(a.Site)
}
