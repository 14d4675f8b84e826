package web

import (
	"dunlin/cases/intake"
	"dunlin/templates"
)

// sweatEntry is the sweat result as read, to be corrected; nil for other items.
func sweatEntry(v *itemView, f *form) *templates.SweatEntry { return nil }

// readSweat reads the corrected sweat result.
func readSweat(v *itemView, f *form) func(*intake.Referral) { return nil }
