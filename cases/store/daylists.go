package store

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"dunlin/cases"
)

func dayTable() *table[cases.DayList] {
	return &table[cases.DayList]{name: "days", key: func(l *cases.DayList) string { return l.On.String() }}
}

// DayList reads the overdue list as the daily job made it on a day; NotFound
// when that day has none.
func (r *reader) DayList(d cases.Day) (cases.DayList, error) {
	none := notFound(fmt.Sprintf("No list was made on %s.", d), errNoRecord)
	if d <= 0 {
		return cases.DayList{}, none
	}
	l, err := r.db.days.get(r.tx, d.String())
	if errors.Is(err, errNoRecord) {
		return cases.DayList{}, none
	}
	if err != nil {
		return cases.DayList{}, err
	}
	return *l, nil
}

// DayLists names the last n days that have a list, newest first.
func (r *reader) DayLists(n int) ([]cases.Day, error) {
	var out []cases.Day
	for _, k := range lastKeys(r.tx.Bucket([]byte(r.db.days.name)), "", "", 0, n) {
		d, err := cases.ParseDay(k)
		if err != nil {
			return nil, err
		}
		out = append(out, d)
	}
	return out, nil
}

// PutDayList keeps a day's list; making it again on the same day replaces it.
func (w *writer) PutDayList(l cases.DayList) error {
	if l.On <= 0 {
		return cases.FieldError("on", "the list has no day")
	}
	_, err := w.db.days.put(w.tx, &l)
	return err
}

// startOfDay is the first moment of a civil date in a zone.
func startOfDay(y, m, d int, zone *time.Location) time.Time {
	return time.Date(y, time.Month(m), d, 0, 0, 0, 0, zone)
}

// cutKey splits a key after its first closed field.
func cutKey(k []byte) (field, rest string, ok bool) {
	return strings.Cut(string(k), keyEnd)
}
