package mailbox

import (
	"context"
	"crypto/tls"
	"fmt"
	"io"
	"log"
	"log/slog"
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapserver"
	"github.com/emersion/go-imap/v2/imapserver/imapmemserver"

	"dunlin/cases"
	"dunlin/cases/intake"
	"dunlin/cases/intake/csvfile"
	"dunlin/cases/intake/hl7"
	"dunlin/cases/intake/mail"
	"dunlin/cases/store"
)

const (
	account = "referrals@alderbay.example"
	secret  = `pa"ss\word ü`
)

var today = time.Date(2026, 3, 30, 9, 0, 0, 0, time.UTC)

// bench is a real store and a real intake behind a Box.
type bench struct {
	testing.TB
	db  *store.DB
	in  *intake.Intake
	now time.Time
	log strings.Builder
}

func newBench(t testing.TB) *bench {
	t.Helper()
	b := &bench{TB: t, now: today}
	db, err := store.Open(filepath.Join(t.TempDir(), "test.db"), store.Options{Now: func() time.Time { return b.now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	b.db, b.in = db, intake.New(db, nil, intake.Settings{}, hl7.Format{}, csvfile.Format{}).OpenMail(mail.Reader{})
	return b
}

// box makes a Box for a server; change alters the options.
func (b *bench) box(addr string, change ...func(*Options)) *Box {
	b.Helper()
	o := Options{Addr: addr, Security: Plain, User: account, Handled: "Handled", Trouble: "Trouble",
		Password: func() (string, error) { return secret + "\n", nil }, MaxMessage: 1 << 20, PollLimit: 20 * time.Second,
		Now: func() time.Time { return b.now }, Log: slog.New(slog.NewTextHandler(&b.log, nil))}
	for _, f := range change {
		f(&o)
	}
	box, err := New(o, b.db, b.in)
	if err != nil {
		b.Fatal(err)
	}
	return box
}

func (b *bench) poll(box *Box) Tally {
	b.Helper()
	tally, err := box.Poll(context.Background())
	if err != nil {
		b.Fatalf("poll: %v (%s)\n%s", err, tally, b.log.String())
	}
	return tally
}

func (b *bench) view(f func(cases.Reader) error) {
	b.Helper()
	if err := b.db.View(context.Background(), f); err != nil {
		b.Fatal(err)
	}
}

// entries gives what the store says of a folder's messages under a validity.
func (b *bench) entries(box string, validity uint32) map[uint32]cases.MailEntry {
	b.Helper()
	out := map[uint32]cases.MailEntry{}
	b.view(func(r cases.Reader) error {
		for e, err := range r.MailEntries(box, validity) {
			if err != nil {
				return err
			}
			out[e.UID] = e
		}
		return nil
	})
	return out
}

// received gives the stored documents by hash, without what came inside others.
func (b *bench) received() map[string]cases.Received {
	b.Helper()
	out := map[string]cases.Received{}
	b.view(func(r cases.Reader) error {
		list, err := r.ReceivedLast(100000)
		for _, d := range list {
			if d.Within == "" {
				out[d.Hash] = d
			}
		}
		return err
	})
	return out
}

// raw gives the bytes of a stored document.
func (b *bench) raw(hash string) (raw []byte) {
	b.Helper()
	b.view(func(r cases.Reader) error {
		d, err := r.Received(hash)
		raw = d.Raw
		return err
	})
	return raw
}

// items gives the items of all documents.
func (b *bench) items() (out []cases.Item) {
	b.Helper()
	b.view(func(r cases.Reader) (err error) {
		out, err = r.Items("", 100000)
		return err
	})
	return out
}

// message makes a mail that says it is number n.
func message(n int) []byte {
	return fmt.Appendf(nil, "From: Screening laboratory <results@lab.example>\r\nTo: %s\r\nSubject: Result %d\r\nMessage-ID: <m%d@lab.example>\r\nDate: Mon, 30 Mar 2026 08:00:00 +0000\r\n\r\nBody %d\r\n",
		account, n, n, n)
}

// broken makes a mail with an attachment that cannot be read.
func broken(n int) []byte {
	return fmt.Appendf(nil, "From: Clinic <clinic@hospital.example>\r\nTo: %s\r\nSubject: Fax %d\r\nMessage-ID: <b%d@hospital.example>\r\nMIME-Version: 1.0\r\n"+
		"Content-Type: multipart/mixed; boundary=b1\r\n\r\n--b1\r\nContent-Type: application/hl7-v2; name=result.hl7\r\nContent-Transfer-Encoding: base64\r\n"+
		"Content-Disposition: attachment; filename=result.hl7\r\n\r\nTVNIfF5+%%%%%%%%!!!!not base64 %d\r\n", account, n, n, n)
}

// memory is the library's in-memory server with one account.
type memory struct {
	testing.TB
	user *imapmemserver.User
	addr string
}

func newMemory(t testing.TB, move bool, tlsConfig *tls.Config, folders ...string) *memory {
	t.Helper()
	m := &memory{TB: t, user: imapmemserver.NewUser(account, secret)}
	for _, f := range append([]string{"INBOX"}, folders...) {
		if err := m.user.Create(f, nil); err != nil {
			t.Fatal(err)
		}
	}
	server := imapmemserver.New()
	server.AddUser(m.user)
	caps := imap.CapSet{imap.CapIMAP4rev1: {}}
	if move {
		caps[imap.CapMove] = struct{}{}
	}
	s := imapserver.New(&imapserver.Options{NewSession: func(*imapserver.Conn) (imapserver.Session, *imapserver.GreetingData, error) {
		return server.NewSession(), nil, nil
	}, Caps: caps, InsecureAuth: true, TLSConfig: tlsConfig, Logger: log.New(io.Discard, "", 0)})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go s.Serve(l)
	m.addr = l.Addr().String()
	t.Cleanup(func() { s.Close() })
	return m
}

func (m *memory) put(folder string, raw []byte) {
	m.Helper()
	if _, err := m.user.Append(folder, literal{strings.NewReader(string(raw)), int64(len(raw))}, &imap.AppendOptions{}); err != nil {
		m.Fatal(err)
	}
}

func (m *memory) count(folder string) (all, unseen uint32) {
	m.Helper()
	d, err := m.user.Status(folder, &imap.StatusOptions{NumMessages: true, NumUnseen: true})
	if err != nil {
		m.Fatal(err)
	}
	return *d.NumMessages, *d.NumUnseen
}

type literal struct {
	io.Reader
	size int64
}

func (l literal) Size() int64 { return l.size }

// syllables of invented surnames: three of twenty, so that few sound alike.
var syllables = strings.Fields("ba ren tol vi sku mar dos phe lin gra jo wex hu zan pel ot quin fre yas ned")

var mothers = strings.Fields("Ada Beatriz Chloe Dolores Esme Fatou Greta Hiroko Ines Juno Katya Leila Mercy Nadia Olga Petra Qing Rosa Signe Thandi Uma Vera Wanda Ximena Yara Zofia")

// referral makes a mail whose body is a referral of infant n: invented, each with
// its own numbers, names and birth.
func referral(n int) []byte {
	born := time.Date(2026, 2, 1, n%24, n%60, 0, 0, time.UTC).AddDate(0, 0, n%40)
	k := n * 7919 % 8000 // spreads neighbors
	family := syllables[k%20] + syllables[k/20%20] + syllables[k/400%20]
	mother := mothers[n%len(mothers)]
	hl7 := fmt.Sprintf("MSH|^~\\&|NBSLAB|Alder Bay Screening|DUNLIN|CF|20260329101500||ORU^R01|M%06d|P|2.5.1\r\n"+
		"PID|1||MRN%06d^^^Alder Bay General^MR||%s^BABY^^^^^L|%s|%s|%s|||%d Harbor Street^^Alder Bay^EX^00001^USA^H|||||||||||||N\r\n"+
		"NK1|1|%s^%s^^^^^L|MTH^Mother^HL70063|%d Harbor Street^^Alder Bay^EX^00001^USA^H|^PRN^PH^^1^555^555%04d\r\n"+
		"OBR|1||F%06d^Alder Bay Screening|57128-1^Newborn screening report summary panel^LN|||%s|||||||||||||||20260329100000|||F\r\n"+
		"OBX|1|ST|57723-9^Unique bar code number of Current sample^LN||EX2026%06d||||||F\r\n"+
		"OBX|2|NM|48633-2^Trypsinogen I Free [Mass/volume] in Dried blood spot^LN||118.4|ng/mL^nanogram per milliliter^UCUM|<60|H|||F\r\n"+
		"OBX|3|CWE|46769-6^Cystic fibrosis newborn screen interpretation^LN||LA18593-6^Out of range^LN|||A|||F\r\n",
		n, n, family, family, born.Format("200601021504"), []string{"F", "M"}[n/40%2], n+1, family, mother, n+1, n%10000, n, born.AddDate(0, 0, 1).Format("200601021504"), n)
	return append(fmt.Appendf(nil, "From: Screening laboratory <results@lab.example>\r\nTo: %s\r\nSubject: Referral\r\nMessage-ID: <r%d@lab.example>\r\n"+
		"Date: Sun, 29 Mar 2026 08:00:00 +0000\r\nMIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n", account, n), hl7...)
}
