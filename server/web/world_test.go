package web_test

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"net/url"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
	booking "dunlin/cases/schedule"
	"dunlin/server/auth"
	"dunlin/server/web"
)

// world is a site in which every route has something to work on.
type world struct {
	*site
	at      map[string]string // what stands for {qns}, {letter} ... in an example address
	secrets []string          // facts of infants and families that only who may see cases sees
}

// newWorld fills a site: infants in each state, letters, a print run, a message, items
// of the intake, a session, a sender and every service.
func newWorld(t testing.TB, change ...func(*web.Deps)) *world {
	t.Helper()
	change = append([]func(*web.Deps){organized}, change...)
	w, backups := &work{}, &safe{b: web.Safe{SetUp: true, Folder: "/srv/back-ups", Every: "@every 1h"}}
	s := newSite(t, append([]func(*web.Deps){func(d *web.Deps) {
		d.Jobs, d.Mail, d.Safe = w, w, backups
		d.Keys = auth.Keys{Store: d.Store}
		q := intake.NewQueue(d.Intake, intake.QueueLimits{})
		t.Cleanup(q.Stop)
		d.Documents = q
	}}, change...)...)
	*w = *newWork(s)
	x := &world{site: s, at: map[string]string{}, secrets: []string{"Oyelaran", "OYELARAN", "Tobias", "Ruth", "555-0187", "Vanterpool", "VANTERPOOL", "Ezra", "555-0191", "Easterly", "EASTERLY", "SORREL-WHITE", "Sorrel-White", "21 Jan 2026", "14 Curlew Lane"}}
	x.infants()
	x.papers(t)
	x.invited()
	return x
}

// invited is a person who has not chosen a password yet, by a link.
func (x *world) invited() {
	x.t.Helper()
	acc, token, err := auth.Invite(x.t.Context(), x.db, cases.Actor{ID: "theo@x.example", Name: "Theo Marsh"}, auth.Person{ID: "ada@x.example", Name: "Ada Moss", Role: cases.Manager})
	if err != nil {
		x.t.Fatal(err)
	}
	sum := sha256.Sum256([]byte(acc.ID))
	x.at["link"], x.at["user"] = token, hex.EncodeToString(sum[:8])
}

// infants opens cases: one with a test and letters, one booked in a session with a
// message, one whose closing waits for the manager, and one that is closed.
func (x *world) infants() {
	day := session(cases.MakeDay(2026, 3, 6))
	day.Places = 6
	x.withSessions(alderBay, day)
	css, err := testPages().Static().Path("dunlin.css")
	if err != nil {
		x.t.Fatal(err)
	}
	x.at["css"], x.at["text"] = strings.TrimPrefix(css, "/static/"), "repeat-needed~qns"
	x.at["session"] = "alder-bay-2026-03-06-0930"
	x.at["qns"] = x.open(doc(docMail, `"flags"`, `"holds":[{"reason":"acute-illness","from":"2026-03-04"}],"flags"`)).Reference
	booked := x.open(doc(docTexted, `"language":"en"`, `"language":"en","consents":[{"channel":"text","on":"2026-03-01","by":"mother"}]`))
	x.at["booked"] = booked.Reference
	x.at["message"] = x.queued(booked).ID
	placed := x.open(doc(docBooked, "Ezra", "Placed", `,
"bookings":[{"on":"2026-03-06","at":"09:30","site":"alder-bay","state":"booked","changed":"2026-02-21"}]`, ""))
	x.at["placed"] = placed.Reference
	desk := booking.NewDesk(x.db, x.protocol)
	if _, err := desk.Book(x.t.Context(), cases.Actor{ID: "dagny@x.example", Name: "Dagny Achterberg", Role: cases.Nurse},
		booking.Ask{Case: placed.ID, Site: "alder-bay", On: cases.MakeDay(2026, 3, 6), At: "10:50"}); err != nil {
		x.t.Fatal(err)
	}
	x.at["burnt"] = x.open(doc(docQNS, "Tobias", "Burnt", `"amount_ul":8}`, `"amount_ul":8,"reaction":"burn"}`)).Reference
	x.at["waiting"] = x.open(doc(docBooked, `"bookings"`, `"closures":[{"on":"2026-03-03","as":"lost","by":"Wren Castellano","look_again":"2026-09-03"}],"bookings"`, "Ezra", "Proposed", "Vanterpool", "Lowmarsh")).Reference
	x.at["declined"] = x.open(doc(docNew, "Ida", "Declined", `"referral"`, `"declined":{"on":"2026-03-04","by_whom":"mother"},"referral"`)).Reference
	x.at["handed"] = x.open(doc(docNew, "Ida", "Handed", `"referral"`, `"handover":{"to":"Heron Point","on":"2026-03-04"},"referral"`)).Reference
	x.at["consented"] = x.open(doc(docTexted, "Ezra", "Consented", `"language":"en"`, `"language":"en","consents":[{"channel":"text","on":"2026-03-01","by":"mother"}]`)).Reference
	past := doc(docBooked, "2026-03-06", "2026-03-04")
	x.at["came"], x.at["stayed"] = x.open(doc(past, "Ezra", "Came")).Reference, x.open(doc(past, "Ezra", "Stayed")).Reference
	x.at["closed"] = x.open(doc(docCarrier, `"flags"`, `"closures":[{"on":"2026-03-03","as":"carrier","by":"Wren Castellano","clinician":"Dr. Lindqvist"}],"flags"`, "Tobias", "Closed")).Reference
}

// papers makes letters, a print run, items of the intake and a sender.
func (x *world) papers(t testing.TB) {
	wren := x.as("wren")
	wren.get("/letters").form("/letters/make").send()
	qns := x.read(x.at["qns"])
	for _, l := range x.lettersIn("to-print") {
		if l.Case == qns.ID {
			x.at["letter"] = l.ID
		}
	}
	x.open(doc(docMail, "Tobias", "Jonas", "Oyelaran", "Brightwater", "26-0431957", "26-0431958", "Ruth", "Asta", "2026-01-21", "2026-01-20"))
	wren.get("/letters").form("/letters/make").send()
	for _, l := range x.lettersIn("to-print") {
		if l.ID != x.at["letter"] {
			wren.get("/letters").form("/letters").set("letter", l.ID).set("do", "print").send()
			x.at["printed"] = l.ID
		}
	}
	x.at["run"] = "2026-03-05-a"
	due, made := x.open(doc(docMail, "Tobias", "Due")), x.letter(x.at["letter"])
	x.at["due"] = url.QueryEscape(due.Reference + "/" + made.Kind + "/" + made.Occasion)
	_, twin := twinItem(x.site)
	x.at["item"] = strings.TrimPrefix(twin, "/intake/")
	wren.uploads("list.csv", lineList)
	x.mails(mailOf(sweatORU))
	err := x.db.View(t.Context(), func(r cases.Reader) error {
		items, err := r.Items("", 100)
		for _, i := range items {
			if d, err := r.ReceivedRecord(i.Document); err == nil && d.Within != "" {
				x.at["mailed"] = i.ID
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	x.update(func(w cases.Writer) error {
		return intake.PutSenders(w, []intake.Sender{{Name: "Marlow Creek Lab", Signs: []string{"MARLOW"}}})
	})
}

// to is an example address with its places filled.
func (x *world) to(address string) string {
	for name, v := range x.at {
		address = strings.ReplaceAll(address, "{"+name+"}", v)
	}
	return address
}

// mailOf is a mail with a laboratory message in it.
func mailOf(message string) string {
	return "From: Marlow Creek <results@marlow.example>\r\nTo: referrals@x.example\r\nSubject: Result\r\nDate: Thu, 5 Mar 2026 06:12:00 -0500\r\nMessage-ID: <1@marlow.example>\r\n" +
		"MIME-Version: 1.0\r\nContent-Type: application/octet-stream; name=\"a.hl7\"\r\nContent-Transfer-Encoding: base64\r\nContent-Disposition: attachment\r\n\r\n" +
		base64.StdEncoding.EncodeToString([]byte(message)) + "\r\n"
}
