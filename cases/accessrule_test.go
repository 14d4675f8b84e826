package cases

import "testing"

func TestMaySee(t *testing.T) {
	at := func(bookings, tests []string) *Case {
		c := &Case{}
		for _, s := range bookings {
			c.Bookings = append(c.Bookings, Booking{Site: s, State: "booked"})
		}
		for _, s := range tests {
			c.SweatTests = append(c.SweatTests, SweatTest{Site: s})
		}
		return c
	}
	bay, both := &Account{Role: Nurse, Sites: []string{"bay"}}, &Account{Role: Nurse, Sites: []string{"bay", "cove"}}
	for _, x := range []struct {
		name string
		who  *Account
		c    *Case
		want bool
	}{
		{"no site yet", bay, at(nil, nil), true},
		{"a booking without a site", bay, at([]string{""}, nil), true},
		{"booked at the own site", bay, at([]string{"bay"}, nil), true},
		{"booked elsewhere", bay, at([]string{"cove"}, nil), false},
		{"tested elsewhere", bay, at(nil, []string{"cove"}), false},
		{"tested here, booked elsewhere", bay, at([]string{"cove"}, []string{"bay"}), true},
		{"two sites", both, at([]string{"cove"}, nil), true},
		{"two sites, a third", both, at([]string{"reef"}, nil), false},
		{"a nurse of every site", &Account{Role: Nurse}, at([]string{"cove"}, nil), true},
		{"a coordinator with sites left from before", &Account{Role: Coordinator, Sites: []string{"bay"}}, at([]string{"cove"}, nil), true},
	} {
		if got := x.who.MaySee(x.c); got != x.want {
			t.Errorf("%s: %t", x.name, got)
		}
		m := &Milestones{}
		for _, b := range x.c.Bookings {
			m.Visits = append(m.Visits, VisitMark{Site: b.Site})
			m.Site = b.Site
		}
		for _, k := range x.c.SweatTests {
			m.Tests = append(m.Tests, TestMark{Site: k.Site})
			m.Site = k.Site
		}
		if got := x.who.MayCount(m); got != x.want {
			t.Errorf("%s: counted %t", x.name, got)
		}
	}
}
