package letters

import (
	"dunlin/reminders/paper"
	"dunlin/templates"
)

// finish adds the words of the sheet, and brings all text into the one form in which
// it is set: composed characters, no marks of direction.
func (l *Letter) finish(words *templates.LetterWords) {
	year, month, day := l.MadeOn.Time().Date()
	l.Words = Words{Date: words.Date(year, int(month), day), Call: words.Questions()}
	l.Words.Foot, l.Words.Pages = words.FootLines()
	w, s := &l.Words, &l.Sender
	for _, text := range []*string{&l.Title, &w.Date, &w.Call, &w.Foot, &w.Pages, &s.Name, &s.Contact, &s.Phone, &s.Hours} {
		*text = paper.Tidy(*text)
	}
	tidyAll(s.Return)
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
