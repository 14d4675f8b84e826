package intake

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"dunlin/cases"
)

// chunk is how many items one transaction takes: enough to share the disk sync,
// few enough to let other writers in.
const chunk = 300

// maxDocument bounds the bytes of one document.
const maxDocument = 64 << 20

// Intake takes documents in. It is safe for use by several goroutines.
type Intake struct {
	store    cases.Store
	protocol func() *cases.Protocol
	settings Settings
	formats  []Format
	mails    MailReader // nil: mails are not opened
}

// New makes an intake over a store. Formats are asked in order whether they
// recognize a document; protocol gives the values in force, DefaultProtocol when nil.
func New(store cases.Store, protocol func() *cases.Protocol, s Settings, formats ...Format) *Intake {
	if protocol == nil {
		p := cases.DefaultProtocol()
		protocol = func() *cases.Protocol { return p }
	}
	return &Intake{store: store, protocol: protocol, settings: s, formats: formats}
}

// Result is what became of one document. Counts add up to len(Items), the items in.
type Result struct {
	Name     string          `json:"name"`
	Hash     string          `json:"hash"` // hex SHA-256 of the bytes
	Format   string          `json:"format"`
	Again    bool            `json:"again,omitempty"` // the same bytes were here before
	Items    []cases.Item    `json:"items"`
	Counts   map[Outcome]int `json:"counts"`
	Blank    int             `json:"blank,omitempty"`    // blank rows left out
	Warnings []Problem       `json:"warnings,omitempty"` // about the document as a whole
}

// Total adds the counters.
func (r Result) Total() (n int) {
	for _, c := range r.Counts {
		n += c
	}
	return n
}

// counts gives the counters as the store keeps them.
func (r Result) counts() map[string]int {
	m := map[string]int{}
	for o, n := range r.Counts {
		m[string(o)] = n
	}
	return m
}

// DocumentRead is what the record of a document keeps of how it was read.
type DocumentRead struct {
	Format   string     `json:"format"`
	Blank    int        `json:"blank,omitempty"`
	Warnings []Problem  `json:"warnings,omitempty"`
	Mail     *MailAbout `json:"mail,omitempty"`  // of a mail
	Fault    string     `json:"fault,omitempty"` // where this program broke off on it, for those who mend it
}

// job is a document on its way through.
type job struct {
	doc     Document
	hash    string
	reading Reading
	result  Result
	set     Settings // in force for this document
	known   bool     // its record in the store is complete
	next    int      // the next item to be processed
	fault   string   // where this program broke off

	mail   *Mail                                    // when the document is a mail, or came within one
	within *job                                     // the mail that brought it
	parts  []*job                                   // what a mail brought
	prefix string                                   // where in the mail it stood: "attachment 2, F0001.hl7"
	notes  []string                                 // reasons that every item of the document gets
	file   func(*placer, *Item) (cases.Item, error) // decides on the first item, that of the mail itself
}

// Receive takes one document in. Its bytes are stored first; then every item in it
// gets its outcome, each case together with its indexes and the record of the
// item. The same bytes a second time give duplicates and change nothing. An error
// means that the store failed: nothing is lost, and the document may be given
// again.
func (in *Intake) Receive(ctx context.Context, actor cases.Actor, d Document) (Result, error) {
	rs, err := in.ReceiveAll(ctx, actor, []Document{d})
	if len(rs) == 0 {
		return Result{}, err
	}
	return rs[0], err
}

// ReceiveAll takes several documents in, sharing transactions between them.
func (in *Intake) ReceiveAll(ctx context.Context, actor cases.Actor, docs []Document) ([]Result, error) {
	set, err := in.inForce(ctx)
	if err != nil {
		return nil, err
	}
	tops, jobs := in.beginAll(docs, set)
	results := func() []Result { return totals(tops) }
	if err := in.keep(ctx, actor, jobs); err != nil {
		return nil, err
	}
	for at := 0; at < len(jobs); {
		saved := make([]job, len(jobs)-at)
		for i, j := range jobs[at:] {
			saved[i] = *j
			saved[i].result.Counts = copyCounts(j.result.Counts)
		}
		next := at
		err := in.store.Update(ctx, actor, func(w cases.Writer) error {
			var err error
			next, err = in.some(w, actor, jobs, at)
			return err
		})
		if err != nil {
			for i, j := range jobs[at:] {
				*j = saved[i]
			}
			if broken, ok := errors.AsType[*brokeOff](err); ok && broken.setAside() {
				continue
			}
			return results(), err
		}
		at = next
	}
	return results(), nil
}

// beginAll reads documents. What a mail brought comes before the mail.
func (in *Intake) beginAll(docs []Document, set Settings) (tops, jobs []*job) {
	tops = make([]*job, len(docs))
	for i, d := range docs {
		tops[i] = in.begin(d, set)
		jobs = append(append(jobs, tops[i].parts...), tops[i])
	}
	return tops, jobs
}

func totals(tops []*job) []Result {
	out := make([]Result, len(tops))
	for i, j := range tops {
		out[i] = j.total()
	}
	return out
}

// newJob begins a document that was not read yet.
func newJob(d Document, set Settings) *job {
	sum := sha256.Sum256(d.Raw)
	j := &job{doc: d, hash: hex.EncodeToString(sum[:]), set: set}
	j.result = Result{Name: d.Name, Hash: j.hash, Counts: map[Outcome]int{}}
	return j
}

// begin reads a document; a mail is taken apart.
func (in *Intake) begin(d Document, set Settings) *job {
	j := newJob(d, set)
	if in.mails == nil || !in.openMail(j, set) {
		j.result.Format, j.reading = in.read(d, set)
	}
	j.result.Blank, j.result.Warnings = j.reading.Blank, j.reading.Warnings
	return j
}

func copyCounts(m map[Outcome]int) map[Outcome]int {
	n := make(map[Outcome]int, len(m))
	for k, v := range m {
		n[k] = v
	}
	return n
}

// inForce gives the settings with the senders that the store knows now.
func (in *Intake) inForce(ctx context.Context) (Settings, error) {
	set := in.settings
	err := in.store.View(ctx, func(r cases.Reader) (err error) {
		set.Senders, err = Senders(r)
		return err
	})
	return set, err
}

// keep stores the bytes of every document before anything is read into cases.
func (in *Intake) keep(ctx context.Context, actor cases.Actor, jobs []*job) error {
	return in.store.Update(ctx, actor, func(w cases.Writer) error { return keepIn(w, actor, jobs) })
}

func keepIn(w cases.Writer, actor cases.Actor, jobs []*job) error {
	seen := map[string]bool{}
	for _, j := range jobs {
		j.arrive(w.Now(), w.Today())
		old, err := w.Received(j.hash)
		if err == nil || seen[j.hash] {
			j.known = seen[j.hash] || len(old.Counts) > 0
			continue
		}
		if cases.KindOf(err) != cases.NotFound {
			return err
		}
		seen[j.hash] = true
		raw := j.doc.Raw
		if raw == nil {
			raw = []byte{}
		}
		rec := cases.Received{Hash: j.hash, Source: j.doc.Source, Sender: j.doc.Sender, Name: j.doc.Name, At: j.doc.At, Actor: actor, Raw: raw}
		if j.within != nil {
			rec.Within = j.within.hash
		}
		err = w.PutReceived(rec)
		if err != nil {
			return err
		}
	}
	return nil
}

// some processes items of the documents from at on, up to a chunk, and gives the
// first document that is not done.
func (in *Intake) some(w cases.Writer, actor cases.Actor, jobs []*job, at int) (int, error) {
	p := &placer{w: w, finder: newFinder(w, in.protocol()), in: in, protocol: in.protocol(), today: w.Today()}
	for done := 0; at < len(jobs); at++ {
		j := jobs[at]
		p.job = j
		if err := p.resent(); err != nil {
			return at, err
		}
		for ; j.next < len(j.reading.Items); j.next++ {
			if done == chunk {
				return at, nil
			}
			done++
			item, err := p.placeSafely(&j.reading.Items[j.next])
			if err != nil {
				return at, fmt.Errorf("%s, %s: %w", j.doc.Name, j.reading.Items[j.next].Label, err)
			}
			j.result.Items = append(j.result.Items, item)
			j.result.Counts[Outcome(item.Outcome)]++
		}
		if j.known {
			j.result.Again = true
			continue
		}
		read, err := json.Marshal(DocumentRead{j.result.Format, j.result.Blank, j.result.Warnings, j.about(), j.fault})
		if err != nil {
			return at, err
		}
		rec, err := w.Received(j.hash)
		if err != nil {
			return at, err
		}
		rec.Counts, rec.Read, rec.Raw = j.total().counts(), read, nil
		if err := w.PutReceived(rec); err != nil {
			return at, err
		}
	}
	return at, nil
}

// read finds the format of a document and reads it. A document that no format
// recognizes, or that makes one fail, is one item for a person.
func (in *Intake) read(d Document, set Settings) (name string, r Reading) {
	defer func() {
		if x := recover(); x != nil {
			r = unknown(d.Raw, "The document could not be read because of a fault in this program; it is kept whole. Tell the people who look after the program.")
		}
	}()
	if len(d.Raw) > maxDocument {
		return "", unknown(nil, fmt.Sprintf("The document is larger than %d MB and was not read. Ask for it in parts.", maxDocument>>20))
	}
	for _, f := range in.formats {
		if f.Sniff(d.Raw) {
			own := set.For(d.Sender)
			if own.Charset == "" {
				own.Charset = d.Charset
			}
			r := f.Read(d.Raw, own)
			if len(r.Items) == 0 {
				r.Items = unknown(d.Raw, "Nothing was found in the document.").Items
			}
			return f.Name(), r
		}
	}
	if empty(d.Raw) {
		return "", unknown(d.Raw, "The file is empty.")
	}
	if why := closedUp(d.Raw); why != "" {
		return "", unknown(d.Raw, why)
	}
	if why := otherKind(d.Raw); why != "" {
		return "", unknown(d.Raw, why)
	}
	return "", unknown(d.Raw, "This is neither an HL7 message nor a line list with known headings. Look at it, and enter a referral by hand if it is one.")
}

func empty(raw []byte) bool {
	for _, c := range raw {
		switch c {
		case ' ', '\t', '\r', '\n', 0, 0xEF, 0xBB, 0xBF, 0xFF, 0xFE:
		default:
			return false
		}
	}
	return true
}

func unknown(raw []byte, why string) Reading {
	it := Item{Label: "file", Kind: Unreadable, Problems: []Problem{{Severity: Fault, Text: why}}}
	if len(raw) < 1<<20 {
		it.Text = NewDecoder("", raw).Text(raw)
	}
	return Reading{Items: []Item{it}}
}

// dayOf gives the civil day of a moment, 0 for none.
func dayOf(t time.Time) cases.Day {
	if t.IsZero() {
		return 0
	}
	return cases.DayOf(t)
}
