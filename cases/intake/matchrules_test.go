package intake_test

import (
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// sameTwice is one infant of a single birth, sent and on file by two hospitals, with
// everything that both can know; the match is certain.
func sameTwice() (*intake.Referral, *cases.Case) {
	born, mum := cases.MakeDay(2026, 3, 1), cases.MakeDay(1995, 2, 3)
	r := &intake.Referral{
		Infant: intake.Infant{Family: "LARK", Given: "BABYGIRL", Sex: "female", Born: intake.Moment{Day: born, Clock: "04:12"}, Order: 1, Plurality: 1, BirthWeight: 3000,
			Facility: "Alder Bay Hospital", Records: []intake.Identifier{{Number: "C7", Authority: "Children's"}}, MotherID: intake.Identifier{Number: "M7", Authority: "Children's"}},
		Mother: intake.Person{Given: "INA", Family: "LARK", Born: mum, Relation: "MTH", Phones: []cases.Phone{{Number: "555-0101"}}}}
	c := &cases.Case{Infant: cases.Infant{Family: "Lark", Given: "Babygirl", Sex: "female", Born: born, BornAt: "04:12", BirthOrder: 1, Plurality: 1, BirthWeightG: 3000, Facility: "Alder Bay Hospital",
		Records: []cases.RecordNo{{Number: "H1", Authority: "Alder Bay"}, {Number: "M1", Authority: "mother, Alder Bay"}}},
		Family: &cases.Family{Mother: "Ina Lark", MotherBorn: mum, Guardians: []cases.Guardian{{Given: "Ina", Family: "Lark", Relation: "mother", Phones: []cases.Phone{{Number: "(555) 555-0101"}}}}}}
	return r, c
}

// TestEachContradictionGoesToAPerson: one difference that tells two infants or two
// mothers apart is enough against any sum.
func TestEachContradictionGoesToAPerson(t *testing.T) {
	in := intake.New(nil, nil, intake.Settings{})
	for _, x := range []struct {
		what, level, says string
		change            func(r *intake.Referral, c *cases.Case)
	}{
		{"nothing", intake.LevelCertain, "the same birth date", func(*intake.Referral, *cases.Case) {}},
		{"sex", intake.KindTwin, "sex male here, female on file", func(r *intake.Referral, c *cases.Case) { r.Infant.Sex = "male" }},
		{"sex by the name", intake.KindTwin, "sex male by the name here, female on file", func(r *intake.Referral, c *cases.Case) { r.Infant.Sex, r.Infant.Given = "", "BABY BOY" }},
		{"minute", intake.KindTwin, "time of birth 04:13 here, 04:12 on file", func(r *intake.Referral, c *cases.Case) { r.Infant.Born.Clock = "04:13" }},
		{"birth weight", intake.KindTwin, "birth weight 2900 g here, 3000 g on file", func(r *intake.Referral, c *cases.Case) { r.Infant.BirthWeight = 2900 }},
		{"birth order", intake.LevelTwin, "birth order 2 here, 1 on file", func(r *intake.Referral, c *cases.Case) { r.Infant.Order = 2 }},
		{"birth order by the name", intake.LevelTwin, "birth order 2 by the name here", func(r *intake.Referral, c *cases.Case) { r.Infant.Order, r.Infant.Given = 0, "BABYGIRL B" }},
		{"given name", intake.KindTwin, "another given name", func(r *intake.Referral, c *cases.Case) { r.Infant.Given, c.Infant.Given = "Ada", "Bea" }},
		{"how many were born", intake.KindTwin, "number born together 1 here, 2 on file", func(r *intake.Referral, c *cases.Case) { c.Infant.Plurality = 2 }},
		{"record number of one hospital", intake.KindTwin, "another record number", func(r *intake.Referral, c *cases.Case) {
			r.Infant.Records = append(r.Infant.Records, intake.Identifier{Number: "H2", Authority: "Alder Bay"})
		}},
		{"mother's record number of one hospital", intake.KindSame, "another mother's record number", func(r *intake.Referral, c *cases.Case) { r.Infant.MotherID.Authority = "Alder Bay" }},
		{"mother's birth date", intake.KindSame, "another mother's birth date", func(r *intake.Referral, c *cases.Case) { r.Mother.Born++ }},
		{"mother's given name", intake.KindSame, "another mother's given name", func(r *intake.Referral, c *cases.Case) {
			r.Mother.Given, c.Family.Guardians[0].Given = "TONYA", "TANYA"
		}},
		{"birth date by a day", intake.KindSame, "birth date 2026-03-02 here", func(r *intake.Referral, c *cases.Case) { r.Infant.Born.Day++ }},
		{"birth date, day and month changed over", intake.KindSame, "birth date 2026-01-03 here", func(r *intake.Referral, c *cases.Case) { r.Infant.Born.Day = cases.MakeDay(2026, 1, 3) }},
		{"birth date and minute", intake.LevelApart, "", func(r *intake.Referral, c *cases.Case) {
			r.Infant.Born = intake.Moment{Day: cases.MakeDay(2025, 2, 14), Clock: "11:30"}
		}},
		{"a sibling's case is known", intake.KindSame, "", func(r *intake.Referral, c *cases.Case) { c.Siblings = []string{"AB-2026-0009"} }},
		{"nobody says how many were born", intake.KindSame, "", func(r *intake.Referral, c *cases.Case) { r.Infant.Plurality, c.Infant.Plurality = 0, 0 }},
		{"twins, one number of a hospital", intake.KindTwin, "", func(r *intake.Referral, c *cases.Case) { twins(r, c); r.Infant.Order = 0; r.Infant.Born.Clock = "" }},
		{"the same, with the order", intake.LevelCertain, "", func(r *intake.Referral, c *cases.Case) { twins(r, c) }},
		{"the same, the number is the mother's", intake.KindTwin, "", func(r *intake.Referral, c *cases.Case) { twins(r, c); r.Infant.MotherID.Number = "C7" }},
		{"a system says no multiple birth", intake.LevelCertain, "", func(r *intake.Referral, c *cases.Case) {
			r.Infant.Plurality, c.Infant.Plurality, r.Infant.Multiple = 0, 0, "N"
		}},
		{"the same, without the minute", intake.KindSame, "", func(r *intake.Referral, c *cases.Case) {
			r.Infant.Plurality, c.Infant.Plurality, r.Infant.Multiple, r.Infant.Born.Clock = 0, 0, "N", ""
		}},
		{"one identifier only", intake.KindSame, "", func(r *intake.Referral, c *cases.Case) {
			r.Mother.Phones, r.Mother.Given, r.Infant.Born.Clock = nil, "", ""
		}},
		{"a card number, and another sex", intake.KindTwin, "but sex male here, female on file", func(r *intake.Referral, c *cases.Case) { carded(r, c); r.Infant.Sex = "male" }},
		{"a card number, and another birth date", intake.KindSame, "but birth date 2026-03-05 here, 2026-03-01 on file", func(r *intake.Referral, c *cases.Case) { carded(r, c); r.Infant.Born.Day += 4 }},
		{"a card number of another family", intake.LevelClash, "", func(r *intake.Referral, c *cases.Case) {
			carded(r, c)
			r.Infant.Family, r.Infant.Born.Day, r.Mother = "Osgood", r.Infant.Born.Day+40, intake.Person{Given: "Vera", Family: "Osgood"}
		}},
	} {
		r, c := sameTwice()
		x.change(r, c)
		got := in.CompareWith(r, c)
		for _, private := range []string{"Ada", "Bea", "TONYA", "Lark", "LARK", "C7", "0101", "1995"} {
			if strings.Contains(got.Why, private) {
				t.Errorf("%s: the reason holds %s: %s", x.what, private, got.Why)
			}
		}
		if got.Level != x.level || !strings.Contains(got.Why, x.says) {
			t.Errorf("%s: %s, want %s; %s", x.what, got.Level, x.level, got.Why)
		}
	}
}

// TestThresholdsAreTheProtocols: the program's values decide.
func TestThresholdsAreTheProtocols(t *testing.T) {
	p := cases.DefaultProtocol()
	in := intake.New(nil, func() *cases.Protocol { return p }, intake.Settings{})
	r, c := sameTwice()
	weight := in.CompareWith(r, c).Weight
	p.Matching.CertainFrom = weight + 1
	eq(t, "below certain_from", in.CompareWith(r, c).Level, intake.KindSame)
	p.Matching.CertainFrom = weight
	eq(t, "at certain_from", in.CompareWith(r, c).Level, intake.LevelCertain)
	r, c = &intake.Referral{Infant: r.Infant}, &cases.Case{Infant: c.Infant}
	r.Infant.Facility, r.Infant.Family = "", "Osgood"
	weight = in.CompareWith(r, c).Weight
	p.Matching.ReviewFrom = weight
	eq(t, "at review_from", in.CompareWith(r, c).Level, intake.KindSame)
	p.Matching.ReviewFrom = weight + 0.1
	eq(t, "below review_from", in.CompareWith(r, c).Level, intake.LevelApart)
}

// twins says on both sides that two were born, and that one hospital's number is the same.
func twins(r *intake.Referral, c *cases.Case) {
	r.Infant.Plurality, c.Infant.Plurality = 2, 2
	c.Infant.Records = append(c.Infant.Records, cases.RecordNo{Number: "C7", Authority: "Children's"})
}

func carded(r *intake.Referral, c *cases.Case) {
	r.Card, c.Referral.Screen = "EX1", &cases.Screen{CardSerial: "EX1"}
}

// TestComparedFieldByField is what a person sees of it.
func TestComparedFieldByField(t *testing.T) {
	in := intake.New(nil, nil, intake.Settings{})
	r, c := sameTwice()
	r.Mother.Phones[0].Number, r.Infant.Facility, r.Infant.Given, c.Infant.FormerNames = "555-0199", "", "BABY GIRL LARK", []string{"Tern"}
	got := in.CompareWith(r, c)
	fields := map[string]intake.FieldPair{}
	sum := 0.0
	for _, f := range got.Fields {
		fields[f.Field] = f
		sum += f.Weight
	}
	if len(got.Fields) != 18 || len(fields) != 18 || sum != got.Weight {
		t.Errorf("%d fields that add up to %f, not %f", len(got.Fields), sum, got.Weight)
	}
	for field, want := range map[string]string{
		"Birth date": "2026-03-01|2026-03-01|same", "Surname": "LARK|Lark, Tern|same", "Given name": "BABY GIRL LARK|Babygirl|missing",
		"Phone": "555-0199|(555) 555-0101|differs", "Birth place": "|Alder Bay Hospital|missing", "Birth weight": "3000 g|3000 g|same",
		"Record number": "C7 (Children's)|H1 (Alder Bay)|missing", "Mother's record number": "M7 (Children's)|M1 (Alder Bay)|missing",
		"Mother's given name": "INA|Ina|same", "Card number": "||missing",
	} {
		f := fields[field]
		eq(t, field, f.Sent+"|"+f.OnFile+"|"+f.State, want)
	}
	// A name that is alike is a difference to the eye, though it speaks for the same infant.
	r.Infant.Family, r.Infant.Given = "LARKE", "BABYGIRL"
	got = in.CompareWith(r, c)
	i := slices.IndexFunc(got.Fields, func(f intake.FieldPair) bool { return f.Field == "Surname" })
	if f := got.Fields[i]; f.State != intake.StateDiffers || f.Weight < 7 {
		t.Errorf("%+v", f)
	}
	// Nothing at all is compared without a fault.
	empty := in.CompareWith(&intake.Referral{}, &cases.Case{})
	eq(t, "empty", empty.Level+" "+empty.Why, intake.LevelApart+" nothing that both say agrees")
}

// TestPhoneOfAWard: a number that more than a few mothers have is none of an infant's.
func TestPhoneOfAWard(t *testing.T) {
	s := &shelf{}
	of := func(i int) intake.Referral {
		return intake.Referral{Infant: intake.Infant{Family: "Osgood", Born: intake.Moment{Day: cases.MakeDay(2026, 3, 1) + cases.Day(10*i)}},
			Mother: intake.Person{Given: inventedMothers[i], Family: inventedFamilies[i], Relation: "MTH", Phones: []cases.Phone{{Number: "555-0180"}}}}
	}
	for i, want := range []string{intake.LevelApart, "", "", "", intake.LevelApart} {
		r := of(i)
		r.Mother.Given = "" // only the number and the surname could tell
		found, err := intake.Match(s, &r, &matching)
		if err != nil {
			t.Fatal(err)
		}
		got := intake.LevelApart
		if len(found) > 0 {
			got = found[0].Level
		}
		if want != "" && got != want {
			t.Errorf("infant %d: %s, want %s (%s)", i+1, got, want, found[0].Why)
		}
		k := intake.CaseOf(of(i), cases.MakeDay(2026, 6, 30))
		k.ID, k.Reference = cases.ID(inventedGiven[i]), inventedGiven[i]
		s.put(k)
	}
}

// TestTwoCasesFit: an infant that fits two cases goes to a person.
func TestTwoCasesFit(t *testing.T) {
	r, c := sameTwice()
	c.Referral.Screen = &cases.Screen{}
	a, b := c.Clone(), c.Clone()
	a.ID, a.Reference, b.ID, b.Reference = "1", "AB-2026-0001", "2", "AB-2026-0002"
	found, err := intake.Match((&shelf{}).put(a), r, &matching)
	if err != nil || len(found) != 1 || found[0].Level != intake.LevelCertain {
		t.Fatalf("%+v, %v", found, err)
	}
	found, err = intake.Match((&shelf{}).put(a).put(b), r, &matching)
	if err != nil || len(found) != 2 || found[0].Level != intake.KindSame || found[1].Level != intake.KindSame {
		t.Errorf("%+v, %v", found, err)
	}
}

// TestMovedFamilyIsNoted: a message that attaches does not hide a new telephone number.
func TestMovedFamilyIsNoted(t *testing.T) {
	b := newBench(t, intake.Settings{})
	b.receive("first", d01(t))
	it := b.receive("moved", d01(t, append([]string{"5550101", "5550999", "12 Example Street", "9 New Road"}, newCard...)...)).Items[0]
	eq(t, "outcome", it.Outcome, "attached")
	said := strings.Join(it.Reasons, "\n")
	for _, part := range []string{"telephone of MARIA TESTFAMILY 555-555-0999, on file 555-555-0101", "9 New Road"} {
		if !strings.Contains(said, part) {
			t.Errorf("nothing says %q:\n%s", part, said)
		}
	}
	c := b.of(it.Reference)
	if !slices.ContainsFunc(c.ToCheck, func(k cases.ToCheck) bool { return k.Text == "555-555-0999" }) {
		t.Errorf("to check: %+v", c.ToCheck)
	}
}
