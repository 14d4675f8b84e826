package letters

import (
	"context"
	"errors"
	"fmt"
	"time"

	"dunlin/cases"
	"dunlin/reminders"
)

// Daily is the morning's work, as a job runs it: the day's list first, then its
// letters. The day is the slot's, in the slot's own zone. A trouble with the list does
// not keep the letters from being made. Running it again makes nothing twice.
func Daily(book *reminders.Book, press *Press) func(ctx context.Context, slot time.Time) (string, error) {
	return func(ctx context.Context, slot time.Time) (string, error) {
		day := cases.DayOf(slot)
		n, listErr := book.Keep(ctx, day)
		tally, lettersErr := press.Run(ctx, day)
		return fmt.Sprintf("%d on the list, %s", n, tally), errors.Join(listErr, lettersErr)
	}
}
