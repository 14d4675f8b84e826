package outbox

import "time"

// pauses between attempts, the last one for all that follow. RFC 5321, section 4.5.4.1,
// asks for half an hour at least after the first ones, and for days in all.
var pauses = [...]time.Duration{2 * time.Minute, 10 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, longest}

const (
	longest = 4 * time.Hour
	giveUp  = 4 * 24 * time.Hour // since it was queued
)

// pause is how long to wait after an attempt, 1 for the first.
func pause(attempt int) time.Duration {
	return pauses[min(max(attempt, 1), len(pauses))-1]
}
