// Package figures makes the report of the figures of one birth year: it puts what was
// counted into words (Words), which page and paper share, keeps a year's figures as
// they were (Kept) and says what has changed since, and sets the report as PDF (Write).
// Nothing is counted here.
package figures
