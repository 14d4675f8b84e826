package intake

import (
	"fmt"
	"iter"
	"regexp"
	"slices"
	"strings"
)

// Mention is a sentence about cystic fibrosis that stands in words, not in a result
// with a code: in a report as text, a note, a comment. It decides nothing; it keeps
// a message from being taken for less than it says.
type Mention struct {
	Text  string  `json:"text"`
	Out   bool    `json:"out,omitempty"`   // the whole sentence says out of range
	Panel bool    `json:"panel,omitempty"` // stands with the cystic fibrosis results
	At    Problem `json:"at,omitzero"`
}

// mostMentions bounds what is kept of one item beside the sentences that say "out of
// range".
const mostMentions = 20

var (
	// Short forms count in capitals only: "cf." is a word of its own.
	cfMention = regexp.MustCompile(`(?i:cystic fib|trypsinogen|mucoviscid|sweat[ -](chloride|test|conductivity))|\b(CF|IRT|CFTR)\b`)
)

// Conditions, negations and general statements, as laboratories print them below every
// report: single words, and pairs of words that follow each other.
var (
	denyWords = wordSet("if when whenever unless whether only may might cannot false all any reference no none never without cutoff cutoffs")
	denyPairs = map[string]map[string]bool{
		"with":  wordSet("infant infants babies newborn newborns patient patients individuals persons"), // the word before
		"are":   wordSet("result results"),
		"is":    wordSet("result results"),
		"as":    wordSet("defined"),
		"off":   wordSet("cut"),
		"offs":  wordSet("cut"),
		"refer": wordSet("not"), "abnormal": wordSet("not"), "out": wordSet("not"),
		"not": wordSet("does do"),
	}
)

func wordSet(words string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// SpeaksOfCF reports a text that is about cystic fibrosis or about what is measured
// for it.
func SpeaksOfCF(s string) bool {
	if !strings.Contains(s, "CF") && !strings.Contains(s, "IRT") {
		low := strings.ToLower(s)
		if !slices.ContainsFunc(cfHints, func(h string) bool { return strings.Contains(low, h) }) {
			return false // most texts, at little cost
		}
	}
	return cfMention.MatchString(s)
}

// cfHints are parts of which every match of cfMention in small letters has one.
var cfHints = []string{"cystic fib", "trypsinogen", "mucoviscid", "sweat"}

// SaysOut reports a sentence that says out of range, and says it of this infant.
func SaysOut(sentence string) bool {
	low := strings.ToLower(sentence)
	if strings.Contains(low, "fuera de rango") || strings.Contains(low, "fuera del rango") {
		return true // in Spanish; whatever stands beside it, a person reads it
	}
	if !slices.ContainsFunc(outHints, func(h string) bool { return strings.Contains(low, h) }) {
		return false // most sentences, at little cost
	}
	out, notIn, denied, sweat := false, false, false, 0
	var two, one string // the words before
	for w := range strings.FieldsFuncSeq(low, noLetter) {
		if denyWords[w] || denyPairs[w][one] {
			denied = true
		}
		switch {
		case w == "abnormal", w == "presumptive",
			w == "range" && one == "of" && two == "out",
			w == "positive" && (one == "screen" || one == "screening" || one == "cf" || one == "fibrosis" && two == "cystic"),
			one == "positive" && (w == "screen" || w == "screening"),
			two == "positive" && one == "for" && (strings.HasPrefix(w, "cystic") || strings.HasPrefix(w, "cf")),
			(w == "to" || w == "for") && (one == "refer" || one == "referred"),
			sweat > 0 && advised[w]:
			out = true
		case one == "not" && (w == "normal" || w == "negative"), two == "not" && (one == "in" && w == "range" || one == "within" && w == "normal"):
			out, notIn = true, true
		}
		if sweat--; w == "sweat" {
			sweat = 10 // words within which the advice belongs to the test
		}
		two, one = one, w
	}
	return out && (!denied || notIn)
}

func noLetter(c rune) bool { return (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '_' }

var advised = wordSet("recommended indicated required advised needed")

// outHints are parts of which everything that SaysOut looks for has one.
var outHints = []string{"out", "abnormal", "presumptive", "positive", "refer", "sweat", "not "}

// sentences gives the sentences of a text. One that is longer than any real one comes in
// parts that overlap: a negation far off denies nothing.
func sentences(text string) iter.Seq[string] {
	const most, over = 1000, 100
	return func(yield func(string) bool) {
		for s := range strings.FieldsFuncSeq(text, endOfSentence) {
			for len(s) > most {
				if !yield(clip(s, most)) {
					return
				}
				s = s[len(clip(s, most-over)):]
			}
			if !yield(s) {
				return
			}
		}
	}
}

func endOfSentence(c rune) bool { return c == '.' || c == ';' || c == '!' || c == '\n' || c == '\r' }

// Mention keeps the sentences of a text that speak of cystic fibrosis; all of them
// when the text stands with the results of its panel.
func (r *Referral) Mention(text string, panel bool, at Problem) {
	for s := range sentences(text) {
		if s = strings.TrimSpace(s); s == "" || !panel && !SpeaksOfCF(s) {
			continue
		}
		if out := SaysOut(s); out && len(r.Mentions) < 2*mostMentions || len(r.Mentions) < mostMentions && !panel {
			r.Mentions = append(r.Mentions, Mention{Text: Shorten(s), Out: out, Panel: panel, At: at})
		}
	}
}

// loudMentions are the sentences that say out of range.
func (r *Referral) loudMentions() (out []Mention) {
	for _, m := range r.Mentions {
		if m.Out {
			out = append(out, m)
		}
	}
	return out
}

// mentions lists sentences with their places among the reasons.
func (v *Verdict) mentions(ms []Mention) {
	const most = 6
	for i, m := range ms {
		if i == most {
			v.add(fmt.Sprintf("There are %d more such sentences; read the whole message.", len(ms)-most))
			return
		}
		at := m.At.Where()
		if at != "" {
			at += ": "
		}
		v.add(fmt.Sprintf("%sThe text says %q.", at, m.Text))
	}
}

// words decides on a message without a coded result of a screen: what it says of
// cystic fibrosis in words goes to a person with its places; else it is about
// something else, and the reason says about what.
func (v *Verdict) words(r *Referral) {
	switch {
	case len(r.Variants)+len(r.IRT) > 0:
		v.hold(KindLook, "The message holds a result about cystic fibrosis and no interpretation of a newborn screen (46769-6). A person decides what it means.")
		for _, m := range r.IRT {
			v.add(fmt.Sprintf("%sIRT %s.", Answer{At: m.At}.where(), Shorten(strings.TrimSpace(m.Text+" "+m.Unit))))
		}
		for _, t := range r.Variants {
			v.add(fmt.Sprintf("%sVariant %s.", Answer{At: t.At}.where(), Shorten(t.Text)))
		}
		v.mentions(r.Mentions)
	case len(r.Mentions) > 0:
		v.hold(KindLook, "The message speaks of cystic fibrosis only in words, which are not read here. Read it, and enter the result by hand.")
		v.mentions(r.Mentions)
	default:
		where, about := r.About.Where(), ""
		if where != "" {
			where += ": "
		}
		if r.About.Value != "" {
			about = " It is about " + r.About.Value + "."
		}
		v.hold(KindCannot, where+"There is no newborn screen and no sweat test in the message."+about+" Set it aside if it is not for this program.")
	}
}
