package intake

import (
	"fmt"
	"regexp"
	"strings"
)

// screen decides on the screen result alone.
func (v *Verdict) screen(r *Referral, s Settings) {
	if !r.Screen && len(r.Interpretation) == 0 {
		v.words(r)
		v.files(r)
		return
	}
	best, clash := v.interpret(r)
	if len(r.Interpretation) == 0 {
		v.fallback(r)
		return
	}
	pos, isPos := hasCF(r.Positive)
	eq, isEq := hasCF(r.Equivocal)
	switch {
	case clash:
		v.hold(KindLook, "The message gives more than one cystic fibrosis interpretation, and they disagree.")
	case best == refer || best == referNow:
		v.Outcome, v.Kind, v.Urgent = Opened, KindNew, best == referNow
		v.flags(r, "N", "The flag beside the answer says normal; the answer counts.")
	case best == repeat && s.OpenOnRepeatCard:
		v.Outcome, v.Kind = Opened, KindNew
	case best == repeat:
		v.hold(KindWaits, "Another dried blood spot card is wanted. Ask for it; it is awaited.")
	case best == waits:
		v.hold(KindWaits, "A second tier or another test is pending; a further message is awaited.")
	case best == unsuited:
		v.hold(KindWaits, "The specimen was not usable: a new card is needed.")
	case best == notTested:
		v.hold(KindLook, "Cystic fibrosis was not tested. Ask the laboratory whether a new card is needed.")
	case best == inRange && isPos:
		v.hold(KindLook, pos.where()+"Cystic fibrosis is among the positive conditions, although its interpretation is in range.")
	case best == inRange && isEq:
		v.hold(KindLook, eq.where()+"Cystic fibrosis is among the equivocal conditions, although its interpretation is in range.")
	case best == inRange:
		v.inRange(r)
	default:
		v.hold(KindLook, "The cystic fibrosis interpretation needs a person.")
	}
	if best != inRange {
		v.unknown(r, false)
	}
}

// interpret reads every interpretation. clash is true when they do not agree on
// what to do; best is the most pressing of those that do.
func (v *Verdict) interpret(r *Referral) (best reading, clash bool) {
	seen := map[reading]bool{}
	for i, a := range r.Interpretation {
		m, why := read(a, r.ListNoCodes)
		if a.Status == "X" || a.Status == "N" || a.Status == "I" {
			m, why = notTested, "The laboratory gives no result (result state "+a.Status+")."
			if a.Status == "I" {
				m = waits
			}
		}
		if m == inRange && (a.Status == "O" || a.Status == "" && a.Last && !r.ListNoCodes) {
			m, why = unclear, "The result has no final state; the message may be cut off."
		}
		if why != "" {
			v.add(a.where() + why)
		} else if m != inRange && m != refer && m != referNow {
			v.add(a.where() + "Interpretation: " + strings.TrimSpace(a.Code+" "+Shorten(a.Text)) + ".")
		}
		group := m
		if m == referNow {
			group = refer
		}
		seen[group] = true
		if i == 0 || m == referNow {
			best = m
		}
	}
	return best, len(seen) > 1
}

// fallback decides when no interpretation was sent.
func (v *Verdict) fallback(r *Referral) {
	pos, isPos := hasCF(r.Positive)
	eq, isEq := hasCF(r.Equivocal)
	switch {
	case len(r.Unknown) > 0:
		v.unknown(r, true)
	case isPos:
		v.Outcome, v.Kind = Opened, KindNew
		v.add(pos.where() + "No cystic fibrosis interpretation was sent; cystic fibrosis is among the positive conditions.")
	case isEq:
		v.hold(KindLook, eq.where()+"No cystic fibrosis interpretation was sent; cystic fibrosis is among the equivocal conditions.")
	default:
		text := "The screen has no cystic fibrosis interpretation (46769-6). The overall result alone does not decide. Ask the laboratory."
		if r.ListNoCodes {
			text = "The row has no interpretation. Ask the laboratory."
		}
		if r.About.Value != "" {
			text = r.About.Where() + ": The newborn screen (" + r.About.Value + ") has no cystic fibrosis interpretation (46769-6). Ask the laboratory."
		}
		v.hold(KindLook, text)
		v.mentions(r.Mentions)
		v.files(r)
	}
}

// files names the reports that came as files within the message: only a person can
// read them.
func (v *Verdict) files(r *Referral) {
	for _, p := range r.Files {
		v.add(p.Where() + ": The report is a file within the message, which is not opened here. Look at it, and enter the result by hand.")
	}
}

// inRange is the only way to no case; an unusable specimen, a result that is not
// known or a variant that was found still go to a person.
func (v *Verdict) inRange(r *Referral) {
	v.Outcome, v.Kind = NoCase, KindNot
	if a, bad := poor(r.Quality); bad {
		v.hold(KindWaits, a.where()+"In range, but the specimen was not acceptable ("+strings.TrimSpace(a.Code+" "+Shorten(a.Text))+"): a new card may be needed.")
	}
	for _, a := range r.Overall {
		if m := answerReads[a.Code]; a.Code != "" && m == unsuited {
			v.hold(KindWaits, a.where()+"In range, but the overall result says that the specimen was unsatisfactory: a new card may be needed.")
		}
	}
	if len(v.Genes.Names) > 0 && v.Genes.Reported {
		v.hold(KindLook, "In range, but a CFTR variant is named ("+Shorten(strings.Join(v.Genes.Names, ", "))+").")
	}
	var loud []Unknown
	for _, u := range r.Unknown {
		if t := strings.TrimSpace(u.Text); u.Suggest != "" || t != "" && (!inWords.MatchString(t) || outWords.MatchString(t)) && !laterWords.MatchString(t) && !noneWords.MatchString(t) {
			loud = append(loud, u)
		}
	}
	if len(loud) > 0 {
		q := *r
		q.Unknown = loud
		v.Outcome, v.Kind = Review, KindLook
		v.unknown(&q, false)
	}
	if loud := r.loudMentions(); len(loud) > 0 {
		v.hold(KindLook, "In range, but a comment or note in the message says something else. Compare both, and ask the laboratory.")
		v.mentions(loud)
	}
	if name, t := variantInWords(r.Comments); name != "" && !v.Genes.Reported {
		v.hold(KindLook, "In range, but a comment names the CFTR variant "+name+" ("+t+"). Compare both, and ask the laboratory.")
	}
	for _, c := range r.Comments {
		if pendingWords.MatchString(c) && !denied.MatchString(c) {
			v.hold(KindLook, "In range, but a comment says that something is pending ("+Shorten(c)+"). Ask the laboratory whether the result is final.")
			break
		}
	}
	if t := bowel(r); t != "" {
		v.hold(KindLook, "In range, but the message speaks of meconium ileus or a blocked bowel ("+t+"): the IRT can then be falsely low. A person decides on a sweat test.")
	}
	v.flags(r, "A", "The flag beside the answer says abnormal; the answer counts.")
	v.flags(r, "H", "The flag beside the answer says high; the answer counts.")
	for _, m := range r.IRT {
		if high[m.Flag] {
			v.add(Answer{At: m.At}.where() + "The flag beside the IRT says high or abnormal; the interpretation counts.")
		}
	}
}

var (
	// pendingWords speak of cystic fibrosis testing that has not ended.
	pendingWords = regexp.MustCompile(`(?i)\b(tier|dna|cftr|irt|cf)( (testing|test|analysis|results?))?( is| are)? pending\b`)

	bowelWords = regexp.MustCompile(`(?i)meconium ileus|meconium plug|(bowel|intestinal) obstruction`)
	noBowel    = regexp.MustCompile(`(?i)\b(no|not|without|denies|ruled out|excluded)\b`)
)

// bowel finds a mention of meconium ileus. LOINC's description of 57713-0 says
// that these infants often have a falsely low IRT.
func bowel(r *Referral) string {
	texts := append([]string(nil), r.Comments...)
	for _, f := range r.Factors {
		texts = append(texts, f.Text)
	}
	for _, t := range texts {
		for s := range sentences(t) {
			if bowelWords.MatchString(s) && !noBowel.MatchString(s) {
				return Shorten(s)
			}
		}
	}
	return ""
}

// high are the abnormal flags (HL7 table 0078) of a raised value.
var high = map[string]bool{"H": true, "HH": true, "A": true, "AA": true, ">": true}

// flags notes a flag that disagrees with the answer. It never decides.
func (v *Verdict) flags(r *Referral, flag, text string) {
	for _, a := range r.Interpretation {
		if a.Flag == flag {
			v.add(a.where() + text)
		}
	}
}

// unknown names the results of the panel that are not known. When the panel has no
// interpretation they are the reason to ask a person.
func (v *Verdict) unknown(r *Referral, alone bool) {
	if len(r.Unknown) == 0 {
		return
	}
	where := " in the CF panel"
	for _, u := range r.Unknown {
		if u.Outside {
			where = " about cystic fibrosis"
		}
	}
	text := fmt.Sprintf("%d results%s are not known.", len(r.Unknown), where)
	if len(r.Unknown) == 1 {
		text = "1 result" + where + " is not known."
	}
	if alone {
		v.hold(KindCannot, text)
	} else {
		v.add(text)
	}
	for i, u := range r.Unknown {
		if i == mostMentions {
			v.add(fmt.Sprintf("There are %d more; read the whole message.", len(r.Unknown)-i))
			break
		}
		w := u.At.Where()
		if w != "" {
			w += ": "
		}
		line := w + strings.TrimSpace(Shorten(u.Code)+" "+Shorten(u.Name))
		if u.Text != "" {
			line += " = " + Shorten(u.Text)
		}
		line += "."
		if u.Suggest != "" {
			line += " Did the sender mean " + u.Suggest + "?"
		}
		v.add(line)
	}
}

// presumptive looks for two alleles that are said and not both named, in the
// variants, the comments, and results whose code is not known.
func (v *Verdict) presumptive(r *Referral) {
	implied := v.Genes.Implied
	said := len(v.Genes.Names)
	for _, u := range r.Unknown {
		if u.Suggest != "" || u.Text == "" {
			continue
		}
		g := ReadVariants([]VariantText{{Text: u.Text, At: u.At}}, nil)
		said += len(g.Names)
		if implied == "" && (g.Implied != "" || len(g.Names) > 0 && said >= 2) {
			implied = "A result with an unknown code (" + Shorten(u.Code+" "+u.Text) + ") may name a second CFTR variant."
		}
	}
	if implied == "" || v.Outcome == NoCase {
		return
	}
	v.Top = true
	v.Outcome, v.Kind = Review, KindPresumed
	v.Reasons = append([]string{"May be presumptive CF: " + implied + " Enter both alleles from the report, today."}, v.Reasons...)
}

// oldest is the age in days at which a newborn screen is no longer believed.
const oldest = 3 * 365

// identity refuses to open a case for an infant without a real birth date.
func (v *Verdict) identity(r *Referral) {
	in := r.Infant
	if in.Family == "" && in.Given == "" && in.Born.Text == "" && len(in.Records) == 0 {
		v.hold(KindCannot, "PID[1]-5: The infant is not identified: no name, no birth date, no record number. Ask the sender.")
		return
	}
	if v.Outcome != Opened {
		return
	}
	switch b := in.Born; {
	case b.Day != 0 && r.Sent.Day-b.Day > oldest:
		v.hold(KindCannot, where(b.At, "PID[1]-7")+fmt.Sprintf("The birth date %s lies years before the message of %s. Ask the sender, then enter the right one.", b.Day, r.Sent.Day))
	case b.Bad != "" && strings.Contains(strings.Join(v.Reasons, "\n"), b.Bad):
		v.Outcome, v.Kind = Review, KindCannot
	case b.Text == "":
		v.hold(KindCannot, where(b.At, "PID[1]-7")+"The birth date is missing; a case needs it. Ask the sender, then enter it.")
	case b.Bad != "":
		v.hold(KindCannot, where(b.At, "PID[1]-7")+fmt.Sprintf("The birth date %q %s; a case needs a real one. Ask the sender, then enter it.", Shorten(b.Text), b.Bad))
	}
}

func where(p Problem, otherwise string) string {
	w := p.Where()
	if w == "" {
		w = otherwise
	}
	return w + ": "
}
