// Package schedule finds the right place for an infant's sweat test: test sites with
// their sessions, the places that fit one infant and why, a plan for all who wait, and
// the bookings that fill sessions and never more. Everything here proposes; a nurse
// books, and a booked place moves only by hand. Apart from the bookings, which go
// through a cases.Store, it is pure: it asks no clock and reads no file.
package schedule
