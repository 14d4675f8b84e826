package letters

import "dunlin/reminders/paper"

// finish adds the words of the sheet, and brings all text into the one form in which
// it is set: composed characters, no marks of direction.
func (l *Letter) finish() {
	words, known := headWords[baseLanguage(l.Language)]
	if !known {
		words = noWords
	}
	words.Date = l.MadeOn.String()
	if baseLanguage(l.Language) == "en" {
		words.Date = longDay(l.MadeOn)
	}
	l.Words = words
	for _, text := range []*string{&l.Title, &l.Words.Date, &l.Sender.Name, &l.Sender.Contact, &l.Sender.Phone, &l.Sender.Hours} {
		*text = paper.Tidy(*text)
	}
	tidyAll(l.Sender.Return)
	tidyAll(l.Address)
	for i := range l.Blocks {
		l.Blocks[i].Text = paper.Tidy(l.Blocks[i].Text)
	}
}

func tidyAll(lines []string) {
	for i := range lines {
		lines[i] = paper.Tidy(lines[i])
	}
}
