// Package reminders makes the overdue list: which infants need somebody today, in
// what order, and why. List is pure; Book reads the store for it and keeps each day's
// list as it was made in the morning.
package reminders
