package intake

import (
	"fmt"
	"runtime/debug"

	"dunlin/cases"
)

// brokeOff is a fault of this program while an item was placed. One such item must
// not keep the others of its document, or of the mailbox, from being taken in.
type brokeOff struct {
	job   *job
	item  int
	fault string
}

func (b *brokeOff) Error() string { return "this program broke off: " + b.fault }

// placeSafely is place, with a panic as an error; the caller gives the transaction up.
func (p *placer) placeSafely(it *Item) (item cases.Item, err error) {
	defer func() {
		if x := recover(); x != nil {
			err = &brokeOff{p.job, p.job.next, fmt.Sprintf("%v\n%s", x, debug.Stack())}
		}
	}()
	item, err = p.place(it)
	if cases.KindOf(err) == cases.Invalid { // the store refuses what was read from it
		err = &brokeOff{p.job, p.job.next, err.Error()}
	}
	return item, err
}

// setAside turns the item into one for a person, with nothing of what was read from
// it. It is false when that was done before: then the fault lies deeper.
func (b *brokeOff) setAside() bool {
	it := &b.job.reading.Items[b.item]
	if b.job.fault != "" && it.Kind == Unreadable && len(it.Problems) == 1 && it.Problems[0].Text == brokeOffText {
		return false
	}
	b.job.fault, b.job.file = b.fault, nil
	*it = Item{Label: it.Label, Text: it.Text, Kind: Unreadable, Problems: []Problem{{Severity: Fault, Text: brokeOffText}}}
	return true
}

const brokeOffText = "The item could not be taken in because of a fault in this program; it is kept whole. Tell the people who look after the program, and enter it by hand."
