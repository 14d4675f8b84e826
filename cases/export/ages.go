package export

import (
	"dunlin/cases/measures"
)

// AgeingBook holds open cases counted by two dimensions, as one table: several of the
// same cases could be set against each other.
func AgeingBook(t measures.Ageing, m Made) Book {
	return Book{Title: "Open cases by age", About: m.about(Pair{"Counted by", string(t.Rows) + " and " + string(t.Columns)}), Tables: []Table{ageingTable(t)}}
}

// allKey stands for all groups of a dimension.
const allKey = "all"

func ageingTable(a measures.Ageing) Table {
	what := "“age” in days on the day of the report, “late” by days late of the next step, “step” by the next step, “site” by the test site, “owner” by who works the case; - for nobody or none, all for the total."
	t := Table{Name: "open_cases", Columns: []Column{
		{Key: "by", Name: "Counted by", Meaning: "The first dimension.", Type: isText, Allowed: "age, late, owner, site, step"},
		{Key: "group", Name: "Group", Meaning: "Its group: " + what, Type: isText},
		{Key: "and_by", Name: "And by", Meaning: "The second dimension.", Type: isText, Allowed: "age, late, owner, site, step"},
		{Key: "and_group", Name: "Second group", Meaning: "Its group.", Type: isText},
		{Key: "open", Name: "Open", Meaning: "Open cases of both groups on the day of the report.", Type: isWhole, Allowed: orHidden},
	}}
	t.Rows = func(add func([]Value) error) error {
		for i, row := range a.Cells {
			for j, c := range row {
				if err := add([]Value{Text(string(a.Rows)), Text(keyOr(a.RowKeys, i)), Text(string(a.Columns)), Text(keyOr(a.ColumnKeys, j)), count(c)}); err != nil {
					return err
				}
			}
		}
		return nil
	}
	return t
}

func keyOr(keys []string, i int) string {
	if i < len(keys) {
		return keys[i]
	}
	return allKey
}

// firstTestsTable has the ages at the first test by quarter of birth.
func firstTestsTable(list []measures.QuarterAges) Table {
	t := Table{Name: "first_test_ages", Columns: []Column{
		{Key: "born", Name: "Born in", Meaning: "Quarter of the year of birth.", Type: isText},
		{Key: "tested", Name: "Tested", Meaning: "Infants with a chloride collection, QNS included.", Type: isWhole, Allowed: orHidden},
		{Key: "not_tested", Name: "Not tested", Meaning: "Without one: still waiting, closed or died.", Type: isWhole, Allowed: orHidden},
		{Key: "quarter", Name: "Age by which a quarter were tested", Meaning: "Infants not tested yet counted; empty where hidden or not reached.", Unit: "days", Type: isNumber},
		{Key: "median", Name: "Age by which half were tested", Meaning: "The same.", Unit: "days", Type: isNumber},
		{Key: "three_quarters", Name: "Age by which three quarters were tested", Meaning: "The same.", Unit: "days", Type: isNumber},
	}}
	t.Rows = func(add func([]Value) error) error {
		for _, q := range list {
			if err := add([]Value{Text(measures.QuarterWords(q.From)), count(q.Tested), count(q.Untested), Maybe(q.Quarter.Day), Maybe(q.Median.Day), Maybe(q.ThreeQuarters.Day)}); err != nil {
				return err
			}
		}
		return nil
	}
	return t
}
