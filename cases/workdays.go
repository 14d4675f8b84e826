package cases

import "sync"

// The working days of 2000 to 2099 by the federal holidays, a bit each: assessments
// count working days by the thousand.
var (
	tableFrom = MakeDay(2000, 1, 1)
	tableTo   = MakeDay(2100, 1, 1) // not in it
	workTable = sync.OnceValue(func() *[]uint64 {
		t := make([]uint64, (tableTo-tableFrom)/64+1)
		for d := tableFrom; d < tableTo; d++ {
			if !weekend(d) && !FederalHoliday(d) {
				t[(d-tableFrom)/64] |= 1 << ((d - tableFrom) % 64)
			}
		}
		return &t
	})
)

// federalWorking tells whether a day is Monday to Friday and no federal holiday.
func federalWorking(d Day) bool {
	if d < tableFrom || d >= tableTo {
		return !weekend(d) && !FederalHoliday(d)
	}
	return (*workTable())[(d-tableFrom)/64]>>((d-tableFrom)%64)&1 != 0
}
