package export

// safeHarbor are the 18 classes of identifiers of 45 CFR 164.514(b)(2)(i), (A) to
// (R), each with how an extract meets it.
var safeHarbor = []struct{ class, what, met string }{
	{"A", "Names", "None is taken: no names of infants, mothers, guardians, doctors or staff."},
	{"B", "Places smaller than a state, but the first three digits of a postal code of an area of more than 20,000 people", "State or territory, by a fixed list of codes. Three digits only for areas that the program's settings name as large enough, else 000. No test site, hospital, county or city."},
	{"C", "Dates but for the year, and ages over 89", "The year of birth is the only date; everything else is an age in days. No day of the extract or of a referral, and no age that depends on one, is given. Years that are not over are left out."},
	{"D", "Telephone numbers", "None is taken."},
	{"E", "Fax numbers", "None is taken."},
	{"F", "E-mail addresses", "None is taken."},
	{"G", "Social security numbers", "Dunlin has no place for them; none is taken."},
	{"H", "Medical record numbers", "None is taken."},
	{"I", "Health plan numbers", "Dunlin has no place for them; none is taken."},
	{"J", "Account numbers", "None is taken."},
	{"K", "Certificate and licence numbers", "None is taken."},
	{"L", "Vehicle numbers", "Dunlin has no place for them; none is taken."},
	{"M", "Device numbers", "None is taken: collectors are not written."},
	{"N", "Web addresses", "None is taken."},
	{"O", "Internet addresses", "None is taken."},
	{"P", "Finger and voice prints and the like", "Dunlin has no place for them. CFTR variants are not written, only how many alleles are of which class."},
	{"Q", "Photographs of the face and the like", "Dunlin has no place for them; none is taken."},
	{"R", "Any other number, mark or code of one person", "No case reference, accession or letter number, and no code made from one. No free text. Weights to 100 g, gestation in whole weeks, languages but English and Spanish as other. Lines stand in the order of their values."},
}

func safeHarborTable() Table {
	t := Table{Name: "safe_harbor", Apart: true, Columns: []Column{
		{Key: "class", Name: "Class", Meaning: "Letter of 45 CFR 164.514(b)(2)(i).", Type: isText, Allowed: "A to R"},
		{Key: "identifier", Name: "Identifier", Meaning: "What must not be in it, shortened.", Type: isText},
		{Key: "text", Name: "How it is met", Meaning: "What the extract does.", Type: isText},
	}}
	t.Rows = func(add func([]Value) error) error {
		for _, s := range safeHarbor {
			if err := add([]Value{Text(s.class), Text(s.what), Text(s.met)}); err != nil {
				return err
			}
		}
		return nil
	}
	return t
}
