package intake

import (
	"context"

	"dunlin/cases"
)

// recent is how many of the newest documents are looked through for unfinished ones.
const recent = 1000

// TakeUp finishes documents whose bytes were stored and which were not finished, as
// when the program was killed in between. It is called before anything new is taken
// in, and gives what became of them.
func (in *Intake) TakeUp(ctx context.Context, actor cases.Actor) ([]Result, error) {
	var docs []Document
	err := in.store.View(ctx, func(r cases.Reader) error {
		last, err := r.ReceivedLast(recent)
		if err != nil {
			return err
		}
		for i := len(last) - 1; i >= 0; i-- {
			d := last[i]
			if len(d.Counts) > 0 || d.Within != "" { // what came within a mail is finished with the mail
				continue
			}
			whole, err := r.Received(d.Hash)
			if err != nil {
				return err
			}
			docs = append(docs, Document{Source: d.Source, Name: d.Name, Sender: d.Sender, At: d.At, Raw: whole.Raw})
		}
		return nil
	})
	if err != nil || len(docs) == 0 {
		return nil, err
	}
	return in.ReceiveAll(ctx, actor, docs)
}
