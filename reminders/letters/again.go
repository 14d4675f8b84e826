package letters

import "dunlin/cases"

// lastOf is the letter of a case that a new one is made in place of: the last about the
// same; nil when the new one is the first.
func lastOf(r cases.Reader, c *cases.Case, l *cases.Letter) (*cases.Letter, error) {
	base := cases.BaseOccasion(l.Occasion)
	if base == l.Occasion {
		return nil, nil
	}
	old, err := r.LettersOf(c.ID)
	if err != nil {
		return nil, err
	}
	var last *cases.Letter
	for i := range old {
		o := &old[i]
		if o.Kind == l.Kind && cases.BaseOccasion(o.Occasion) == base && (last == nil || cases.LetterCount(o.Occasion) > cases.LetterCount(last.Occasion)) {
			last = o
		}
	}
	return last, nil
}

// inPlaceOf says on a letter which one it replaces.
func inPlaceOf(before *cases.Letter) string {
	switch {
	case before == nil:
		return ""
	case before.State == "came-back":
		return "In place of letter " + before.Number + ", which came back."
	}
	return "In place of letter " + before.Number + ", which was held."
}

// linkTo writes in the history of the letter before which one was made in its place.
func linkTo(w cases.Writer, before, now *cases.Letter) error {
	if before == nil {
		return nil
	}
	before.History = append(before.History, cases.LetterStep{At: w.Now(), By: actor.Name, State: before.State, Note: "Made again as letter " + now.Number + "."})
	_, err := w.PutLetter(*before)
	return err
}
