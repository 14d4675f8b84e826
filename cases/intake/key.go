package intake

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
)

// textKey is the key of an item that could not be read: its text, or its place in its
// document where no text was kept.
func (k *keys) textKey(it *Item, document string) string {
	if strings.TrimSpace(it.Text) == "" {
		return "document:" + document + " " + it.Label
	}
	_, infant, _ := strings.Cut(it.Label, ", infant ") // infants of one message share its text
	if k.text != it.Text {
		k.text, k.words = it.Text, strings.Join(strings.Fields(it.Text), " ")
		k.sum = sha256.Sum256([]byte(k.words))
	}
	said := k.words
	if infant != "" {
		said = hex.EncodeToString(k.sum[:])
	}
	sum := sha256.Sum256([]byte(infant + "\n" + said))
	return "text:" + hex.EncodeToString(sum[:])
}

// keys makes the keys of items, and remembers the last text: all infants of a message
// have the same.
type keys struct {
	text, words string
	sum         [sha256.Size]byte
}

// silent reports a message in which nothing was read of a result: only its text tells
// it from another one.
func (r *Referral) silent() bool {
	return len(r.Interpretation)+len(r.Positive)+len(r.Equivocal)+len(r.IRT)+len(r.Variants)+len(r.Unknown)+len(r.Sites) == 0
}

// clinicalKey is the same for the same result by another way: who sent it, its
// numbers, who it is about, what it says, its state, and what it asks to change.
// The message number and the line ends are left out. An item that names no number
// and no birth date has the key of its text. document is the hash of what brought it.
func (k *keys) clinicalKey(it *Item, document string) string {
	r := &it.Referral
	if it.Kind != Readable || (r.Accession.Number == "" && r.Card == "" && len(r.Infant.Records) == 0) || r.Infant.Born.Text == "" || len(r.Files) > 0 || r.silent() {
		return k.textKey(it, document)
	}
	var b strings.Builder
	put := func(name string, parts ...string) {
		b.WriteString(name)
		for _, p := range parts {
			b.WriteString("\x1f" + fold(p))
		}
		b.WriteByte('\n')
	}
	in := &r.Infant
	put("from", r.Sender, r.Accession.Number, r.Card)
	put("who", in.Family, in.Given, in.Born.Text, in.Sex, fmt.Sprint(in.Order))
	for _, id := range in.Records {
		put("record", id.Number)
	}
	for _, as := range [][]Answer{r.Interpretation, r.Positive, r.Equivocal, r.Quality, r.Overall, r.Factors} {
		put("answers")
		for _, a := range as {
			put("a", a.Code, a.Text, a.Status, a.Other, a.Flag)
		}
	}
	for _, m := range r.IRT {
		b.WriteString("irt\x1f" + m.Comparator + m.Text + "\x1f" + m.Unit + "\n") // as written: a point counts
	}
	var vs []string
	for _, v := range r.Variants {
		vs = append(vs, v.Text)
	}
	slices.Sort(vs)
	b.WriteString(strings.Join(vs, "\x1f"))
	for _, u := range r.Unknown {
		put("unknown", u.Code, u.Text)
	}
	for _, m := range r.Mentions {
		put("said", m.Text)
	}
	put("comments", r.Comments...)
	sweatKey(r, &b)
	put("state", fmt.Sprint(r.Corrected, r.Deleted, r.Preliminary, r.WrongPatient, in.Deceased), in.Died.Text)
	put("collected", r.Collected.Text)
	people := append([]Person{r.Mother}, r.Guardians...)
	for _, p := range people {
		put("person", p.Given, p.Family, p.Relation, fmt.Sprint(p.NullAddr, p.NullPhone))
	}
	sum := sha256.Sum256([]byte(b.String()))
	return "result:" + hex.EncodeToString(sum[:])
}
