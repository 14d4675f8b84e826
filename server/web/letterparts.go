package web

import "dunlin/templates"

// letterParts are the pages about what goes out and comes back, for who may open them.
func (s *server) letterParts(c Ctx, current string) []templates.Tab {
	out := []templates.Tab{{Href: "/letters", Text: "Letters", Current: current == "letters"}, {Href: messagesPath, Text: "E-mails and texts", Current: current == "messages"}}
	if can(c, sendLetters) {
		out = append(out, templates.Tab{Href: returnedPath, Text: "Returned mail", Current: current == "returned"})
	}
	return out
}
