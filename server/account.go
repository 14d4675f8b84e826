package main

import (
	"context"
	"crypto/rand"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
	"dunlin/server/auth"
	"dunlin/server/web"
)

// account is what an account job carries.
type account struct {
	Do       string   `json:"do,omitempty"` // one of accountJobs
	ID       string   `json:"id,omitempty"`
	Name     string   `json:"name,omitempty"`
	Role     string   `json:"role,omitempty"`
	Password string   `json:"password,omitempty"`
	Reason   string   `json:"reason,omitempty"`
	Sites    []string `json:"sites,omitempty"`
}

func accountCommand() command {
	return command{name: "account", args: "JOB [flags]", short: "manage accounts and keys from the terminal",
		long: `Adds and changes accounts when nobody can sign in:
  account invite --id WORK-EMAIL --name NAME --role coordinator|nurse|manager|administrator
                 prints a link, good once and for 72 hours, to choose a password;
                 --sites ID,ID binds a nurse to test sites
  account add --id WORK-EMAIL --name NAME --role ROLE
  account link --id WORK-EMAIL          a new link to choose a password; nobody else sees it
  account password --id WORK-EMAIL
  account unlock --id WORK-EMAIL        forgets failed tries
  account disable --id WORK-EMAIL, account enable --id WORK-EMAIL
  account factor-off --id WORK-EMAIL --reason TEXT   takes the second factor away
  account end-sessions --id WORK-EMAIL  signs the person out everywhere
  account list
  account add-key --name LABORATORY, account disable-key --name LABORATORY, account keys
A key is what a laboratory's system shows to the web service (POST /intake/documents);
it is printed once and kept only as a checksum.
For add and password a password is read from --password-file; without it one is made and
printed once.`,
		run: runAccount}
}

// accountJobs are the jobs of the account command, with what each needs.
var accountJobs = map[string]string{"invite": "id", "add": "id", "link": "id", "password": "id", "unlock": "id", "disable": "id", "enable": "id",
	"factor-off": "id", "end-sessions": "id", "list": "", "keys": "", "add-key": "name", "disable-key": "name"}

func runAccount(ctx context.Context, std stdio, fs *flag.FlagSet, args []string) int {
	get := configFlags(fs, "store", "zone", "code")
	a := account{}
	fs.StringVar(&a.ID, "id", "", "work `email`, the sign-in name")
	fs.StringVar(&a.Name, "name", "", "the person's `name`")
	fs.StringVar(&a.Role, "role", "", "the `role`")
	fs.StringVar(&a.Reason, "reason", "", "why, in words")
	sites := fs.String("sites", "", "`ids` of the test sites of a nurse, with commas between; none is every site")
	file := fs.String("password-file", "", "`file` that holds the password")
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		a.Do, args = args[0], args[1:]
	}
	if code, done := parse(std, fs, args); done {
		return code
	}
	if *sites != "" {
		a.Sites = strings.Split(*sites, ",")
	}
	needs, ok := accountJobs[a.Do]
	switch {
	case !ok:
		return wrongUse(std, fs, "say what to do: %s", strings.Join(slices.Sorted(maps.Keys(accountJobs)), ", "))
	case needs == "name" && a.Name == "":
		return wrongUse(std, fs, "--name is missing; name who sends with the key")
	case needs == "id" && a.ID == "":
		return wrongUse(std, fs, "--id is missing")
	case a.Do == "factor-off" && strings.TrimSpace(a.Reason) == "":
		return wrongUse(std, fs, "--reason is missing; it is kept with the change")
	}
	o := &op{Command: "account", Account: a}
	if a.Do == "add" || a.Do == "password" {
		made, err := choosePassword(*file, &o.Account.Password)
		if err != nil {
			return fail(std, "account", err)
		}
		if made {
			defer func() { fmt.Fprintf(std.out, "Password, shown only now: %s\n", o.Account.Password) }()
		}
	}
	cfg, err := get()
	if err != nil {
		fmt.Fprintf(std.err, "dunlin account: %s\n", people(err))
		return exitUsage
	}
	return doOp(ctx, std, cfg, o, a.Do != "add" && a.Do != "invite" && a.Do != "add-key")
}

// choosePassword reads the password from a file, or makes one.
func choosePassword(file string, to *string) (made bool, err error) {
	if file == "" {
		*to = rand.Text()
		return true, nil
	}
	data, err := os.ReadFile(file)
	*to = strings.TrimRight(string(data), "\r\n")
	return false, err
}

func (o *op) account(ctx context.Context, s *site, out io.Writer) (int, error) {
	by := cases.Actor{ID: o.Who, Name: o.Who, Role: cases.System, Via: "command line"}
	a := &o.Account
	var err error
	done := ""
	switch a.Do {
	case "list":
		return exitOK, listAccounts(ctx, s, out)
	case "keys", "add-key", "disable-key":
		return o.key(ctx, s, by, out)
	case "add":
		_, err = auth.Create(ctx, s.db, by, a.person(), a.Password)
		done = "added"
	case "invite", "link":
		return o.link(ctx, s, by, out)
	case "password":
		err = auth.SetPassword(ctx, s.db, by, a.ID, a.Password)
		done = "has a new password"
	case "unlock":
		err = auth.Unlock(ctx, s.db, by, a.ID)
		done = "unlocked"
	case "factor-off":
		err = auth.DropFactor(ctx, s.db, by, a.ID, a.Reason)
		done = "has no second factor now"
	case "end-sessions":
		return endSessions(ctx, s, by, a.ID, out)
	case "disable", "enable":
		err = auth.Disable(ctx, s.db, by, a.ID, a.Do == "disable")
		done = a.Do + "d"
	}
	if err != nil {
		return exitFailed, err
	}
	fmt.Fprintf(out, "%s: %s\n", a.ID, done)
	return exitOK, nil
}

func (a *account) person() auth.Person {
	return auth.Person{ID: a.ID, Name: a.Name, Role: cases.Role(a.Role), Sites: a.Sites}
}

// link prints a link with which a person chooses a password: of a new account, or anew.
func (o *op) link(ctx context.Context, s *site, by cases.Actor, out io.Writer) (int, error) {
	a := &o.Account
	var token string
	err := s.knownSites(ctx, a.Sites)
	switch {
	case err != nil:
	case a.Do == "invite":
		_, token, err = auth.Invite(ctx, s.db, by, a.person())
	default:
		token, err = auth.NewLink(ctx, s.db, by, a.ID)
	}
	if err != nil {
		return exitFailed, err
	}
	fmt.Fprintf(out, "%s: hand this link to the person and to nobody else. It is good once, for 72 hours, and shown only now:\n  %s%s\n", a.ID, s.cfg.address(""), web.LinkPath(token))
	return exitOK, nil
}

// knownSites refuses keys of test sites that are not in the store.
func (s *site) knownSites(ctx context.Context, keys []string) error {
	return s.db.View(ctx, func(r cases.Reader) error {
		list, err := schedule.Sites(r)
		if err != nil {
			return err
		}
		for _, key := range keys {
			if !slices.ContainsFunc(list, func(x schedule.Site) bool { return x.Key == key }) {
				known := make([]string, 0, len(list))
				for _, x := range list {
					known = append(known, x.Key)
				}
				return cases.Errorf(cases.Invalid, "There is no test site %q. The sites are: %s", key, strings.Join(known, ", "))
			}
		}
		return nil
	})
}

// address is where the pages are, for links printed at a terminal; url is where a
// serving program listens, "" to go by the settings.
func (c *config) address(url string) string {
	if url == "" {
		url = "http://" + c.Listen
		if c.TLSCert != "" {
			url = "https://" + c.Listen
		}
	}
	for _, any := range []string{"//0.0.0.0:", "//[::]:", "//:"} {
		url = strings.Replace(url, any, "//localhost:", 1)
	}
	return url
}

// endSessions signs a person out everywhere.
func endSessions(ctx context.Context, s *site, by cases.Actor, id string, out io.Writer) (int, error) {
	guard := s.guard
	if guard == nil {
		var err error
		if guard, err = auth.New(s.db, auth.Options{Sessions: s.db.Sessions(time.Now)}); err != nil {
			return exitFailed, err
		}
	}
	var acc cases.Account
	err := s.db.View(ctx, func(r cases.Reader) (err error) {
		acc, err = r.Account(strings.ToLower(id))
		return err
	})
	if err != nil {
		return exitFailed, err
	}
	n, err := guard.EndSessions(ctx, by, acc, nil)
	if err != nil {
		return exitFailed, err
	}
	fmt.Fprintf(out, "%s: %d sessions ended\n", acc.ID, n)
	return exitOK, nil
}

func listAccounts(ctx context.Context, s *site, out io.Writer) error {
	return s.db.View(ctx, func(r cases.Reader) error {
		list, err := r.Accounts()
		for _, a := range list {
			state := ""
			if a.Disabled {
				state = "  disabled"
			}
			if a.Invited() {
				state += "  no password yet"
			}
			if auth.Locked(&a) {
				state += "  locked"
			}
			if a.Factor != nil {
				state += "  second factor"
			}
			if len(a.Sites) > 0 {
				state += "  at " + strings.Join(a.Sites, ", ")
			}
			fmt.Fprintf(out, "%s  %s  %s%s\n", a.ID, a.Name, a.Role, state)
		}
		return err
	})
}

// key does a job on the keys of the web service.
func (o *op) key(ctx context.Context, s *site, by cases.Actor, out io.Writer) (int, error) {
	keys := auth.Keys{Store: s.db}
	switch o.Account.Do {
	case "add-key":
		key, err := keys.Add(ctx, by, o.Account.Name)
		if err != nil {
			return exitFailed, err
		}
		fmt.Fprintf(out, "%s: key, shown only now: %s\n", o.Account.Name, key)
	case "disable-key":
		if err := keys.Disable(ctx, by, o.Account.Name, true); err != nil {
			return exitFailed, err
		}
		fmt.Fprintf(out, "%s: key disabled\n", o.Account.Name)
	default:
		list, err := keys.List(ctx)
		if err != nil {
			return exitFailed, err
		}
		for _, k := range list {
			state := ""
			if k.Disabled {
				state = "  disabled"
			}
			fmt.Fprintf(out, "%s  made %s by %s%s\n", k.Name, k.Made.In(s.cfg.zone).Format("2 Jan 2006"), k.By, state)
		}
	}
	return exitOK, nil
}
