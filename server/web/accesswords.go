package web

import (
	"slices"
	"strings"
)

// caseNumberHint says how a case number is written. It gives no example: the access log
// reads the case numbers of a page, and an example would stand there as an infant seen.
const caseNumberHint = "Letters, year and number, with hyphens"

// pageNames are the names of pages whose address does not say them.
var pageNames = map[string]string{
	"overdue": "Overdue list", "infants": "All infants", "infants found": "Infants found", "infants :ref": "Case page",
	"reports closure": "Closure times", "reports qns": "QNS by site", "reports ages": "Open cases by age", "reports ages cases": "Open cases by age: the cases",
	"reports faults": "Data faults", "reports year": "Figures for the year", "reports exports": "Exports",
	"settings access": "Access log", "settings keeping": "Keeping",
}

// routeWords is the part of the program that a route belongs to.
func routeWords(route string) string {
	_, path, _ := strings.Cut(route, " ")
	words := strings.NewReplacer("-", " ", "/", " ").Replace(strings.TrimPrefix(path, "/"))
	if name, ok := pageNames[words]; ok {
		return name
	}
	parts := slices.DeleteFunc(strings.Fields(words), func(w string) bool { return w[0] == ':' })
	if len(parts) > 1 && parts[0] == "infants" {
		parts = parts[1:]
	}
	return sentence(strings.Join(parts, " "))
}
