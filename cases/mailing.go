package cases

// Mailing holds the values by which letters are made: when a reminder goes, how long a
// letter may take, and how long something is still owed.
type Mailing struct {
	// A reminder is made from ReminderFrom to ReminderUntil working days before the test,
	// and at the earliest ReminderAfter working days after the letter of the booking.
	// Nearer to the test than ReminderUntil a letter is taken to come too late.
	ReminderFrom  int `json:"reminder_from_working_days"`
	ReminderUntil int `json:"reminder_until_working_days"`
	ReminderAfter int `json:"reminder_after_working_days"`
	// DoctorResultDays is how long after the closing the letter to primary care about its
	// result stays owed: the closing rests on that result.
	DoctorResultDays int `json:"doctor_result_days"`
	// CallWithinDays is how many days after its making the letter to a family that could
	// not be reached asks for a call.
	CallWithinDays int `json:"call_within_days"`
}

func defaultMailing() Mailing {
	return Mailing{ReminderFrom: 5, ReminderUntil: 3, ReminderAfter: 2, DoctorResultDays: 30, CallWithinDays: 10}
}

func (m *Mailing) faults(bad func(ok bool, path, format string, args ...any)) {
	for _, v := range []struct {
		path      string
		n, lo, hi int
	}{
		{"mailing.reminder_from_working_days", m.ReminderFrom, 1, 30}, {"mailing.reminder_until_working_days", m.ReminderUntil, 1, 30},
		{"mailing.reminder_after_working_days", m.ReminderAfter, 0, 30}, {"mailing.doctor_result_days", m.DoctorResultDays, 0, 365},
		{"mailing.call_within_days", m.CallWithinDays, 1, 60},
	} {
		bad(v.n >= v.lo && v.n <= v.hi, v.path, "must be between %d and %d, not %d", v.lo, v.hi, v.n)
	}
	bad(m.ReminderUntil <= m.ReminderFrom, "mailing.reminder_until_working_days", "must not be above reminder_from_working_days (%d)", m.ReminderFrom)
}
