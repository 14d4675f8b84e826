package intake

import (
	"strings"

	"dunlin/cases"
)

// relations maps table 0063 to words; parent marks who may be asked beside the
// mother, legal who stands in her place.
var relations = map[string]struct {
	word          string
	parent, legal bool
}{
	"MTH": {"mother", true, false}, "FTH": {"father", true, false}, "PAR": {"parent", true, false},
	"GRD": {"guardian", false, true}, "FCH": {"foster parent", false, true}, "CGV": {"caregiver", false, true},
	"GUARDIAN": {"guardian", false, true}, "FATHER": {"father", true, false}, "PARENT": {"parent", true, false},
	"GRP": {"grandparent", false, false}, "SIB": {"sibling", false, false}, "EMC": {"emergency contact", false, false},
	"OTH": {"other", false, false},
}

// familyOf lists who decides for the infant. A guardian other than the parents
// takes the letters; with several possible ones a person picks before any letter.
func familyOf(r *Referral) *cases.Family {
	f := &cases.Family{Mother: strings.TrimSpace(r.Mother.Given + " " + r.Mother.Family), MotherBorn: r.Mother.Born}
	people := r.Guardians
	if r.Mother.Family != "" || r.Mother.Given != "" || len(r.Mother.Phones) > 0 || r.Mother.Address != nil {
		people = append([]Person{r.Mother}, people...)
	}
	if len(people) == 0 && r.Home != nil && (len(r.Home.Phones) > 0 || r.Home.Address != nil) {
		people = []Person{{Family: r.Infant.Family, Relation: "PAR"}}
	}
	var parents, legal []int
	for i, p := range people {
		rel := relations[p.Relation]
		g := guardianOf(p, rel.word)
		if rel.word == "mother" || len(people) == 1 {
			home(&g, r.Home)
		}
		switch {
		case rel.legal:
			legal = append(legal, i)
		case rel.parent:
			parents = append(parents, i)
		}
		f.Guardians = append(f.Guardians, g)
		if f.Language == "" || rel.legal && p.Language != "" {
			f.Language = p.Language
		}
	}
	if r.Mother.NullAddr || r.Mother.NullPhone {
		f.PickOne = true // the sender asks to delete an address or a number
	}
	choose := parents
	if len(legal) > 0 {
		choose = legal
	}
	switch {
	case f.PickOne:
	case len(choose) == 1:
		f.Guardians[choose[0]].Letters = true
	case len(choose) > 1 && len(legal) == 0 && oneAddress(f.Guardians, choose):
		f.Guardians[choose[0]].Letters = true
	case len(choose) > 1:
		f.PickOne = true
	}
	if f.Language == "" && r.Home != nil {
		f.Language = r.Home.Language
	}
	if f.Mother == "" && f.MotherBorn == 0 && len(f.Guardians) == 0 && f.Language == "" {
		return nil
	}
	return f
}

// oneAddress reports that parents do not live at different addresses.
func oneAddress(gs []cases.Guardian, who []int) bool {
	at := ""
	for _, i := range who {
		a := gs[i].Address
		if a == nil {
			continue
		}
		here := fold(strings.Join(a.Lines, " ") + a.City + a.Postal)
		if at != "" && at != here {
			return false
		}
		at = here
	}
	return true
}

func guardianOf(p Person, word string) cases.Guardian {
	if word == "" {
		word = strings.ToLower(p.Relation)
	}
	g := cases.Guardian{Given: p.Given, Family: p.Family, Relation: word, Email: p.Email, Address: p.Address}
	for _, n := range p.Phones {
		if n.Number != "" {
			g.Phones = append(g.Phones, n)
		}
	}
	return g
}

// home fills phone and address from the infant's own record.
func home(g *cases.Guardian, h *Person) {
	if h == nil {
		return
	}
	if len(g.Phones) == 0 {
		g.Phones = h.Phones
	}
	if g.Address == nil {
		g.Address = h.Address
	}
	if g.Email == "" {
		g.Email = h.Email
	}
}

// familyChecks are the facts about the family that a person must confirm.
func familyChecks(r *Referral) (out []cases.ToCheck) {
	for _, p := range r.Guardians {
		if rel := relations[p.Relation]; rel.legal && (r.Mother.Family != "" || r.Mother.Given != "") {
			out = append(out, cases.ToCheck{Field: "family.guardians", Text: strings.TrimSpace(p.Given + " " + p.Family),
				Reason: "The message names a " + rel.word + " beside the mother. Letters go to the " + rel.word + " and not to the mother; confirm who decides for the infant."})
		}
	}
	return out
}
