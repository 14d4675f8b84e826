package web

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"dunlin/cases"
	"dunlin/server/auth"
	"dunlin/templates"
)

const usersPath = "/settings/users"

// accountKey names an account in addresses, which hold no names.
func accountKey(id string) string {
	sum := sha256.Sum256([]byte(id))
	return hex.EncodeToString(sum[:8])
}

// loadUser is the account that the address names.
func (s *server) loadUser(c Ctx) (acc cases.Account, err error) {
	err = s.view(c, func(r cases.Reader) error {
		list, err := r.Accounts()
		if err != nil {
			return err
		}
		i := slices.IndexFunc(list, func(a cases.Account) bool { return accountKey(a.ID) == c.Param("key") })
		if i < 0 {
			return cases.Errorf(cases.NotFound, "There is no such account.")
		}
		acc = list[i]
		return nil
	})
	return acc, err
}

// usersPage answers GET /settings/users.
func (s *server) usersPage(c Ctx) error {
	p, err := s.usersView(c)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) usersView(c Ctx) (*templates.UsersPage, error) {
	p := &templates.UsersPage{Base: templates.Base{Name: "Users", Current: "settings"}, Links: settingsTabs(c, "users"),
		Lead: "Who may sign in, and as what. A person is invited by a link and chooses the password; nobody else ever sees it."}
	err := s.view(c, func(r cases.Reader) error {
		list, err := r.Accounts()
		if err != nil {
			return err
		}
		roles, err := auth.FactorRoles(r)
		for i := range list {
			p.Rows = append(p.Rows, s.userRow(&list[i], roles))
		}
		p.Roles = templates.Choice{ID: "roles", Legend: "Roles that must have a second factor", Hint: "A code from a phone besides the password. It is set up at the next sign-in. A password may then have 8 characters."}
		for _, role := range auth.Roles {
			p.Roles.Options = append(p.Roles.Options, templates.Option{Value: string(role), Text: roleWords[role], Chosen: slices.Contains(roles, role)})
		}
		return err
	})
	return p, err
}

func (s *server) userRow(a *cases.Account, roles []cases.Role) templates.UserRow {
	row := templates.UserRow{Href: usersPath + "/" + accountKey(a.ID), Name: shown(a.Name), Email: a.ID, Role: roleWords[a.Role], State: s.userState(a), Factor: "None", Last: "Never"}
	if a.Role == cases.Nurse {
		row.Sites = s.sitesOf(a.Sites)
	}
	switch {
	case a.Factor != nil:
		row.Factor = "Set up"
	case a.Short || slices.Contains(roles, a.Role):
		row.Factor = "Due at the next sign-in"
	}
	if a.SignedIn > 0 {
		row.Last = s.stamp(time.Unix(a.SignedIn, 0))
	}
	return row
}

// userState is how an account stands.
func (s *server) userState(a *cases.Account) templates.Tag {
	switch {
	case a.Disabled:
		return templates.Tag{Kind: "blank", Text: "Disabled"}
	case a.Invited() && a.Link != nil && s.Now().Before(a.Link.Expires):
		return templates.Tag{Kind: "half", Text: "Invited"}
	case a.Invited():
		return templates.Tag{Kind: "late", Text: "Link ran out"}
	case auth.Locked(a):
		return templates.Tag{Kind: "late", Text: "Locked"}
	}
	return templates.Tag{Kind: "done", Text: "In use"}
}

// demandFactor answers POST /settings/users/second-factor.
func (s *server) demandFactor(c Ctx) error {
	f := s.readForm(c)
	var roles []cases.Role
	for _, role := range auth.Roles {
		if f.ticked("roles", string(role)) {
			roles = append(roles, role)
		}
	}
	err := s.Store.Update(c.Request().Context(), actorOf(c), func(w cases.Writer) error { return auth.SetFactorRoles(w, roles) })
	if err != nil {
		return err
	}
	return s.saved(c, usersPath, templates.Notice{Head: "Saved.", Text: "It counts from the next sign-in on."})
}

// userPage answers GET /settings/users/:key.
func (s *server) userPage(c Ctx) error {
	acc, err := s.loadUser(c)
	if err != nil {
		return err
	}
	p, err := s.userView(c, acc, s.emptyForm("role", string(acc.Role)))
	if err != nil {
		return err
	}
	for i, o := range p.Sites.Options {
		p.Sites.Options[i].Chosen = slices.Contains(acc.Sites, o.Value)
	}
	if address := s.Auth.Take(c.Request().Context(), linkKey(acc.ID)); address != "" {
		p.Link = &templates.LinkShown{Address: address, For: shown(acc.Name)}
		if acc.Link != nil {
			p.Link.Until = s.stamp(acc.Link.Expires)
		}
	}
	return s.render(c, http.StatusOK, p)
}

// linkKey is where a session keeps a link until its page was shown.
func linkKey(id string) string { return "link." + accountKey(id) }

// userView is the page of one account.
func (s *server) userView(c Ctx, a cases.Account, f *form) (*templates.UserPage, error) {
	p := &templates.UserPage{Base: templates.Base{Name: "User, " + shown(a.Name), Current: "settings"}, Head: shown(a.Name), Links: settingsTabs(c, "users"),
		Action: usersPath + "/" + accountKey(a.ID), State: s.userState(&a), EndAction: usersPath + "/" + accountKey(a.ID) + "/end-sessions"}
	s.roleParts(p, f)
	p.Facts = []templates.Fact{{Name: "Work email", Text: a.ID}, {Name: "Last signed in", Text: "Never"}, {Name: "Failed tries since", Text: itoa(a.Failed)}, {Name: "Second factor", Text: "None"}, {Name: "Known devices", Text: itoa(len(a.Devices))}}
	if a.SignedIn > 0 {
		p.Facts[1].Text = s.stamp(time.Unix(a.SignedIn, 0))
	}
	if a.Factor != nil {
		p.Facts[3].Text, p.Facts[3].Note = "Set up "+s.stamp(a.Factor.Since), templates.Count(len(a.Factor.Codes), "recovery code left", "recovery codes left")
	}
	if a.Link != nil {
		p.Facts = append(p.Facts, templates.Fact{Name: "Link", Text: "Good until " + s.stamp(a.Link.Expires), Note: "Made by " + a.Link.By})
	}
	p.Acts = userActs(&a, userOf(c).ID == a.ID)
	for _, act := range p.Acts {
		if act.Reason {
			reason := f.field(templates.Field{ID: "reason", Label: "Reason", Hint: "How you made sure who asked", Width: "w20"})
			p.Reason = &reason
		}
	}
	list, err := s.Auth.Sessions(c.Request().Context(), a.ID)
	p.Sessions = s.sessionRows(list)
	return p, err
}

// userActs are what can be done about an account now.
func userActs(a *cases.Account, own bool) (acts []templates.UserAct) {
	add := func(when bool, x templates.UserAct) {
		if when {
			acts = append(acts, x)
		}
	}
	add(!a.Disabled, templates.UserAct{Do: "link", Text: "Make a new link", Sub: "A link with which the person chooses a password. One made before stops working; the present password is good until then."})
	add(a.Failed > 0, templates.UserAct{Do: "unlock", Text: "Forget failed tries", Sub: "The person can sign in at once, from any device."})
	add(a.Factor != nil, templates.UserAct{Do: "factor-off", Text: "Take the second factor away", Sub: "For a lost phone. Make sure first that it is this person who asks.", Reason: true})
	add(true, templates.UserAct{Do: "end-sessions", Text: "Sign out everywhere", Sub: "Ends every session of this person."})
	add(!a.Disabled && !own, templates.UserAct{Do: "disable", Text: "Disable account", Sub: "Ends every session at once, and lets the person in no more. What they recorded stays."})
	add(a.Disabled, templates.UserAct{Do: "enable", Text: "Enable account", Sub: "The person can sign in again with the password they had."})
	return acts
}

// roleParts are the fields for role and test sites.
func (s *server) roleParts(p *templates.UserPage, f *form) {
	role := templates.Choice{ID: "role", Legend: "Role", Down: true, Options: []templates.Option{
		{Value: string(cases.Coordinator), Text: "Coordinator", Sub: "All infants: intake, letters, closing"}, {Value: string(cases.Nurse), Text: "Nurse", Sub: "Tests and schedule, at the test sites chosen below"},
		{Value: string(cases.Manager), Text: "Manager", Sub: "Figures, agreeing to closings; names only where one waits"}, {Value: string(cases.Administrator), Text: "Administrator", Sub: "Users, jobs and back-ups; no infants"}}}
	p.Role = f.group(role)
	p.Sites = templates.Choice{ID: "sites", Legend: "Test sites of a nurse", Hint: "None chosen is every site. Other roles are bound to no site.", Error: f.errs["sites"]}
	for _, x := range s.sites() {
		p.Sites.Options = append(p.Sites.Options, templates.Option{Value: x.Key, Text: shown(x.Name), Chosen: f.ticked("sites", x.Key)})
	}
}

// readRole reads role and test sites.
func (s *server) readRole(f *form) (cases.Role, []string) {
	names := make([]string, 0, len(auth.Roles))
	for _, r := range auth.Roles {
		names = append(names, string(r))
	}
	role := cases.Role(f.choice("role", "Select a role", names...))
	var sites []string
	for _, x := range s.sites() {
		if f.ticked("sites", x.Key) {
			sites = append(sites, x.Key)
		}
	}
	if len(sites) > 0 && role != "" && role != cases.Nurse {
		f.failAt("sites", "sites-0", "Test sites are for a nurse. Untick them, or select nurse")
	}
	return role, sites
}

// linkAddress is the whole address of a link, as this request reached the server.
func (s *server) linkAddress(c Ctx, token string) string {
	scheme := "http"
	if s.Secure {
		scheme = "https"
	}
	return fmt.Sprintf("%s://%s%s", scheme, strings.ToLower(c.Request().Host), LinkPath(token))
}
