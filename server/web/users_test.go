package web_test

import (
	"context"
	"regexp"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	booking "dunlin/cases/schedule"

	"github.com/pquerna/otp/totp"
)

// account reads an account of the store.
func (s *site) account(id string) (a cases.Account) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		a, err = r.Account(id)
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return a
}

// user is the address of the page of an account.
func (c *client) user(name string) string {
	c.t.Helper()
	for _, l := range c.get("/settings/users").links() {
		if strings.HasPrefix(l, "/settings/users/") && !strings.HasSuffix(l, "/new") && strings.Contains(c.get(l).text("main"), name) {
			return l
		}
	}
	c.t.Fatalf("%s is not on the list of users", name)
	return ""
}

var linkForm = regexp.MustCompile(`/set-password/[A-Za-z0-9_-]+`)

// A person is invited, chooses a password by a link that is good once, and signs in.
func TestInvitationOnThePages(t *testing.T) {
	s := newSite(t)
	theo := s.as("theo")
	f := theo.get("/settings/users").wants(200, "Wren Castellano", "In use", "Every site").c.get("/settings/users/new").form("/settings/users/new")
	f.set("name", "").set("email", "nobody").send().wants(422, "Enter the person's name", "Select a role")
	f.set("name", "Ada Moss").set("role", "manager").send().wants(422, "Work email must be an address")
	f.set("email", "wren@x.example").send().wants(422, "There is an account with this work email already")
	p := f.set("email", "Ada@x.example").send().wants(200, "Invited", "shown only now", "Link for Ada Moss")
	link := linkForm.FindString(p.body)
	if strings.Contains(theo.get(p.path).body, "/set-password/") {
		t.Error("the link is shown twice")
	}
	ada := s.client()
	choose := ada.get(link).wants(200, "Choose a password", "At least 15 characters").form(link)
	choose.set("password", "short").send().wants(422, "at least 15 characters. It is 5")
	choose.set("password", "ada moss reads a book").send().wants(422, "must not contain the person's name")
	if p := choose.set("password", "heron tide ferry stone").send().wants(200, "Your password is set"); p.path != "/sign-in?chosen=1" {
		t.Errorf("led to %s", p.path)
	}
	ada.get(link).wants(404, "This link cannot be used")
	choose.send().wants(404, "This link cannot be used")
	ada.get("/sign-in").form("/sign-in").set("email", "ada@x.example").set("password", "heron tide ferry stone").send().wants(200, "Closure times")
	if strings.Contains(s.log.String(), strings.TrimPrefix(link, "/set-password/")) {
		t.Error("the log holds the link")
	}
}

// What an administrator does counts at the person's next request.
//
//asvs:6.4.6
func TestUserIsChanged(t *testing.T) {
	s := newSite(t)
	theo, dagny := s.as("theo"), s.as("dagny")
	dagny.get("/overdue").wants(200)
	at := theo.user("dagny@x.example")
	theo.get(at).form(at).set("role", "manager").send().wants(200, "Role saved: Dagny Achterberg, manager")
	dagny.get("/overdue").wants(403)
	theo.get(at).form(at).set("role", "nurse").send().wants(200, "Role saved")
	theo.get(at).form(at+"/disable").send().wants(200, "Account disabled")
	if p := dagny.get("/overdue"); !strings.HasPrefix(p.path, "/sign-in") {
		t.Errorf("a disabled account is at %s", p.path)
	}
	if n := 0; s.signedIn(func(string) { n++ }) || n != 1 {
		t.Errorf("%d sessions are kept, want the administrator's", n)
	}
	theo.get(at).form(at+"/enable").send().wants(200, "Account enabled")
	again := s.as("dagny")
	theo.get(at).wants(200, "Other browser").form(at+"/end-sessions").send().wants(200, "Ended: 1 session")
	if p := again.get("/overdue"); !strings.HasPrefix(p.path, "/sign-in") {
		t.Errorf("an ended session is at %s", p.path)
	}
	own := theo.user("theo@x.example")
	theo.get(own).form(own).set("role", "nurse").send().wants(422, "Theo Marsh is the last administrator")
	if body := theo.get(own).body; strings.Contains(body, own+"/disable") {
		t.Error("one's own account can be disabled")
	}
	theo.post(own+"/nothing", map[string][]string{"csrf": {theo.get(own).form(own).values.Get("csrf")}}).wants(404)
	for _, name := range []string{"wren", "dagny", "ines"} {
		s.as(name).get("/settings/users").wants(403)
	}
}

// signedIn calls f for each session that names a user.
func (s *site) signedIn(f func(string)) (failed bool) {
	return s.db.Sessions(time.Now).Each(context.Background(), func(_ string, b []byte, _ time.Time) {
		if strings.Contains(string(b), `"user"`) {
			f(string(b))
		}
	}) != nil
}

// A nurse is bound to test sites that exist.
func TestNurseIsBoundToSites(t *testing.T) {
	s := newSite(t)
	s.update(func(w cases.Writer) error {
		return booking.PutSite(w, booking.Site{Key: "heron", Name: "Heron Point clinic"})
	})
	theo := s.as("theo")
	at := theo.user("dagny@x.example")
	f := theo.get(at).form(at)
	f.set("role", "manager").set("sites", "heron").send().wants(422, "Test sites are for a nurse")
	f.set("role", "nurse").set("sites", "heron").send().wants(200, "Role saved")
	if a := s.account("dagny@x.example"); len(a.Sites) != 1 || a.Sites[0] != "heron" {
		t.Errorf("%+v", a)
	}
	theo.get("/settings/users").wants(200, "Heron Point clinic")
	s.as("dagny").get("/me").wants(200, "Heron Point clinic")
}

// What reaches far asks for the password when it was not shown lately, and keeps what
// was typed.
//
//asvs:7.5.3
func TestPasswordIsAskedAgain(t *testing.T) {
	s := newSite(t)
	theo := s.as("theo")
	f := theo.get("/settings/users/new").form("/settings/users/new").set("name", "Ada Moss").set("email", "ada@x.example").set("role", "manager")
	s.now = s.now.Add(6 * time.Minute)
	p := f.send().wants(401, "Your password again", "what you typed is kept")
	p.form("/settings/users/new").set("prove", "wrong").send().wants(422, "The password is not right")
	p.form("/settings/users/new").set("prove", "").send().wants(422, "Enter your password")
	p.form("/settings/users/new").set("prove", testPassword).send().wants(200, "Invited: Ada Moss")
	s.now = s.now.Add(6 * time.Minute)
	p = theo.get("/me/password").wants(200, "Your password again")
	if p = p.form("/prove").set("prove", testPassword).send().wants(200, "Change my password"); p.path != "/me/password" {
		t.Errorf("led to %s", p.path)
	}
	k := s.open(docNew)
	wren := s.as("wren")
	f = wren.get("/infants/"+k.Reference+"/export").form("/infants/"+k.Reference+"/export").set("reason", "moved to another program")
	s.now = s.now.Add(6 * time.Minute)
	p = f.send().wants(401, "Your password again")
	if got := p.form("/infants/" + k.Reference + "/export").values.Get("reason"); got != "moved to another program" {
		t.Errorf("kept reason %q", got)
	}
	if list := s.entries("exported"); len(list) > 0 {
		t.Errorf("exported without the password: %q", list)
	}
}

func (c *client) signIn(name, password string) *page {
	return c.get("/sign-in").form("/sign-in").set("email", name+"@x.example").set("password", password).send()
}

// A second factor is set up, asked for at sign-in, and taken away by an administrator
// with a reason.
func TestSecondFactorOnThePages(t *testing.T) {
	s := newSite(t)
	wren := s.as("wren")
	p := wren.get("/me/second-factor").wants(200, "Set up a second factor")
	secret := strings.ReplaceAll(strings.TrimSpace(p.text("code")), " ", "")
	code := func() string {
		c, err := totp.GenerateCode(secret, s.now)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	p.form("/me/second-factor").set("code", "12").send().wants(422, "The code is not right")
	p = p.form("/me/second-factor").set("code", code()).send().wants(200, "Keep your recovery codes")
	codes := regexp.MustCompile(`([A-Z2-7]{4}-){5}[A-Z2-7]{4}`).FindAllString(p.body, -1)
	if file := wren.get("/me/codes.txt").wants(200); len(codes) != 10 || !strings.Contains(file.body, codes[9]) || !strings.HasPrefix(file.head.Get("Content-Disposition"), "attachment") {
		t.Errorf("%d codes, file %s", len(codes), file.body)
	}
	p.form("/me/codes/kept").send().wants(200, "Second factor set up")
	wren.get("/me/codes.txt").wants(404)
	s.now = s.now.Add(time.Minute)
	again := s.client()
	f := again.signIn("wren", testPassword).wants(200, "Enter your code").form("/sign-in/code")
	if p := again.get("/overdue"); !strings.HasPrefix(p.path, "/sign-in") {
		t.Errorf("let in by the password alone, at %s", p.path)
	}
	f.set("code", "000000").send().wants(422, "The code is not right")
	if p := f.set("code", code()).send().wants(200); p.path != "/overdue" {
		t.Errorf("led to %s", p.path)
	}
	third := s.client()
	third.signIn("wren", testPassword).form("/sign-in/code").set("code", codes[0]).send().wants(200, "Overdue")
	third.get("/me").wants(200, "9 recovery codes are left", "Where I am signed in", "This one")

	theo := s.as("theo")
	at := theo.user("wren@x.example")
	theo.get(at).form(at+"/factor-off").send().wants(422, "Enter the reason")
	theo.get(at).form(at+"/factor-off").set("reason", "lost phone, rang back").send().wants(200, "Second factor taken away")
	if p := again.get("/overdue"); !strings.HasPrefix(p.path, "/sign-in") {
		t.Errorf("still signed in at %s", p.path)
	}
	s.as("wren").get("/overdue").wants(200)
}

// A role that must have a second factor sets it up at its next sign-in.
func TestSecondFactorByRole(t *testing.T) {
	s := newSite(t)
	s.as("theo").get("/settings/users").form("/settings/users/second-factor").set("roles", "manager").send().wants(200, "It counts from the next sign-in on")
	ines := s.client()
	p := ines.signIn("ines", testPassword).wants(200, "The program demands a second factor")
	secret := strings.ReplaceAll(strings.TrimSpace(p.text("code")), " ", "")
	code, err := totp.GenerateCode(secret, s.now)
	if err != nil {
		t.Fatal(err)
	}
	ines.get("/reports/closure").wants(200, "Sign in")
	p = p.form("/sign-in/set-up").set("code", code).send().wants(200, "Keep your recovery codes").form("/me/codes/kept").send().wants(200)
	if p.path != "/reports/closure" {
		t.Errorf("led to %s", p.path)
	}
	ines.get("/me").wants(200, "A second factor is asked for")
	s.as("wren").get("/me").wants(200, "the password alone opens the account")
}

// A person sees where they are signed in, and ends the others.
func TestMySessions(t *testing.T) {
	s := newSite(t)
	a, b := s.as("wren"), s.as("wren")
	p := a.get("/me").wants(200, "Where I am signed in")
	if n := strings.Count(p.body, `action="/me/sessions"`); n != 2 {
		t.Errorf("%d forms that end sessions", n)
	}
	a.post("/me/sessions", map[string][]string{"csrf": {p.form("/me").values.Get("csrf")}, "id": {"others"}}).wants(200, "Ended: 1 session")
	if p := b.get("/me"); !strings.HasPrefix(p.path, "/sign-in") {
		t.Errorf("an ended session is at %s", p.path)
	}
	a.get("/me/password").form("/me/password").set("password", "heron tide ferry stone").send().wants(200, "Password changed")
	s.client().signIn("wren", testPassword).wants(422, "Email or password is not right")
}

// The first administrator is made by the link that is printed while there is no account.
func TestFirstAdministrator(t *testing.T) {
	s := newSite(t)
	link := "/first/" + s.guard.First()
	s.client().get(link).wants(404, "only while there is no account")
	empty := newEmptySite(t)
	link = "/first/" + empty.guard.First()
	c := empty.client()
	f := c.get(link).wants(200, "Make the first administrator").form(link)
	f.send().wants(422)
	f.set("email", "theo@x.example").set("name", "Theo Marsh").set("password", "heron tide ferry stone").send().wants(200, "Your password is set")
	f.send().wants(404)
	c.signIn("theo", "heron tide ferry stone").wants(200).c.get("/settings/users").wants(200, "Theo Marsh")
	if a := empty.account("theo@x.example"); a.Role != cases.Administrator {
		t.Errorf("%+v", a)
	}
}
