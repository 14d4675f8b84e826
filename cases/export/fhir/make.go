package fhir

import (
	"crypto/sha1"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"time"

	"dunlin/cases"
)

// Source is what a bundle is made from, as the store had it at one moment.
type Source struct {
	Case     cases.Case
	Letters  []cases.Letter
	Messages []cases.Outgoing
	Changes  []cases.Entry // the audit trail of the case: tells corrected values
	Today    cases.Day
	Made     time.Time
}

// Options are what a program sets for its bundles, and who asked for one.
type Options struct {
	Program  string         // name of the follow-up program
	By       string         // who exports
	Zone     *time.Location // of the clock times of the case; UTC when nil
	Protocol *cases.Protocol
	Site     func(key string) string // name of a test site; nil or "" leaves the key
	LeaveOut []string                // code systems whose codes are left out: snomed, loinc, icd-10-cm
}

// Read gathers a case and what belongs to it.
func Read(r cases.Reader, reference string) (Source, error) {
	s := Source{Today: r.Today(), Made: r.Now()}
	var err error
	if s.Case, err = r.ByReference(reference); err != nil {
		return s, err
	}
	if s.Letters, err = r.LettersOf(s.Case.ID); err != nil {
		return s, err
	}
	if s.Messages, err = r.OutgoingOf(s.Case.ID); err != nil {
		return s, err
	}
	s.Changes, err = r.History(s.Case.ID)
	return s, err
}

// builder gathers the entries of one bundle. References are set once the resource that
// they lead to is added, so that none dangles.
type builder struct {
	Source
	o       Options
	a       cases.Assessment
	entries []Entry
	seen    map[string]int // entries of a kind and key, so that two of one day differ

	program, patient, episode *Reference
	referral                  *Reference // the reason for referral; nil without one
	determined                *Reference // what was decided; nil while nothing is
	request, repeat           *Reference // the orders of sweat tests
	family                    *Reference // who gets the letters; nil when nobody is named
	doctor                    []Reference
	named                     map[string]*Reference // organizations and locations by name
}

// Make sets a case out as a bundle. The same source gives the same bytes.
func Make(s Source, o Options) *Bundle {
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	b := &builder{Source: s, o: o, seen: map[string]int{}, named: map[string]*Reference{}}
	b.a = o.Protocol.Assess(&s.Case, s.Today)
	b.program = b.organization(or(o.Program, "Newborn screening follow-up"))
	b.people()
	b.conditions()
	b.addEpisode()
	b.requests()
	b.infantFacts()
	b.screen()
	b.genotype()
	b.sweatTests()
	b.appointments()
	b.task()
	b.communications()
	b.provenance()
	return &Bundle{ResourceType: "Bundle", ID: bundleID(s.Case.Reference), Type: "collection", Timestamp: b.moment(s.Made), Entry: b.entries}
}

// Write writes the bundle as indented JSON.
func (b *Bundle) Write(w io.Writer) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(b)
}

var idForm = regexp.MustCompile(`^[A-Za-z0-9.-]{1,50}$`)

// bundleID is the bundle's identifier where the reference has the form of one (R4: id).
func bundleID(reference string) string {
	if !idForm.MatchString(reference) {
		return ""
	}
	return "case-" + reference
}

// add puts a resource into the bundle under an address that depends on the case, the
// kind of fact and its key alone.
func (b *builder) add(kind, key string, resource any) *Reference {
	tidy(resource)
	v := reflect.ValueOf(resource).Elem()
	v.FieldByName("ResourceType").SetString(v.Type().Name())
	name := kind + "/" + key
	b.seen[name]++
	if n := b.seen[name]; n > 1 {
		name += "/" + strconv.Itoa(n)
	}
	url := "urn:uuid:" + uuid("dunlin/case/"+or(string(b.Case.ID), b.Case.Reference)+"/"+name)
	b.entries = append(b.entries, Entry{url, resource})
	return &Reference{Reference: url}
}

// uuid is a version 5 UUID of a name in the namespace of addresses (RFC 9562, 5.5 and
// 6.6). SHA-1 is what the standard asks for; nothing secret rests on it.
func uuid(name string) string {
	space, err := hex.DecodeString("6ba7b8119dad11d180b400c04fd430c8")
	if err != nil {
		panic(err) // a constant
	}
	sum := sha1.Sum(append(space, name...))
	u := sum[:16]
	u[6], u[8] = u[6]&0x0f|0x50, u[8]&0x3f|0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", u[:4], u[4:6], u[6:8], u[8:10], u[10:])
}

// organization adds an organization by name once; nil without a name.
func (b *builder) organization(name string) *Reference {
	if clean(name) == "" {
		return nil
	}
	return b.once("organization", name, &Organization{Name: name})
}

// location adds a test site once; nil for a booking or test without one.
func (b *builder) location(key string) *Reference {
	if clean(key) == "" {
		return nil
	}
	name := key
	if b.o.Site != nil {
		name = or(b.o.Site(key), key)
	}
	return b.once("site", key, &Location{Name: name})
}

func (b *builder) once(kind, key string, resource any) *Reference {
	k := kind + "/" + key
	if b.named[k] == nil {
		b.named[k] = b.add(kind, key, resource)
	}
	return b.named[k]
}

// at gives a day, or a moment where the clock time is known; a day never becomes
// midnight.
func (b *builder) at(d cases.Day, c cases.Clock) string {
	t, ok := b.time(d, c)
	if !ok {
		return d.String()
	}
	return b.moment(t)
}

func (b *builder) time(d cases.Day, c cases.Clock) (time.Time, bool) {
	at, err := time.Parse("15:04", string(c))
	if d == 0 || err != nil {
		return time.Time{}, false
	}
	y, m, day := d.Date()
	return time.Date(y, time.Month(m), day, at.Hour(), at.Minute(), 0, 0, b.o.Zone), true
}

func (b *builder) moment(t time.Time) string { return t.In(b.o.Zone).Format(time.RFC3339) }

// quantity is a number as it is kept, with a UCUM unit; 118.4 stays 118.4.
func quantity(v float64, unit string) *Quantity {
	return &Quantity{json.Number(strconv.FormatFloat(v, 'f', -1, 64)), unit, sysUCUM, unit}
}

// name is a reference to somebody by name alone; nil without a name.
func name(s string) *Reference {
	if clean(s) == "" {
		return nil
	}
	return &Reference{Display: s}
}

// list is a list of the references that there are.
func list(rs ...*Reference) (out []Reference) {
	for _, r := range rs {
		if r != nil {
			out = append(out, *r)
		}
	}
	return out
}

func notes(texts ...string) (out []Annotation) {
	for _, t := range texts {
		if clean(t) != "" {
			out = append(out, Annotation{Text: t})
		}
	}
	return out
}

// sentences joins texts into one, each ended.
func sentences(texts ...string) string {
	var out []string
	for _, t := range texts {
		if t = clean(t); t == "" {
			continue
		}
		if !strings.HasSuffix(t, ".") {
			t += "."
		}
		out = append(out, t)
	}
	return strings.Join(out, " ")
}

func or(s, instead string) string {
	if clean(s) == "" {
		return instead
	}
	return s
}
