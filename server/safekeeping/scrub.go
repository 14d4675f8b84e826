package safekeeping

import (
	"context"
	"errors"
	"fmt"
	"os"
)

// Scrub reads everything again: a snapshot of the store, checked in full record by
// record, and every back-up of the folder against its manifest. The snapshot lies
// beside the store meanwhile. note says what was read; the error names what is wrong.
func Scrub(ctx context.Context, source Source, examine Examine, folder string) (note string, err error) {
	var faults []error
	if err := Room(source.Path()); err != nil {
		return "", err
	}
	copied := source.Path() + ".scrub"
	defer os.Remove(copied)
	err = source.Snapshot(ctx, copied)
	if err == nil {
		sum, eerr := examine(ctx, copied)
		note, err = fmt.Sprintf("%d cases and %d audit entries are sound", sum.Counts["cases"], sum.Seq), eerr
	}
	if err != nil {
		note = ""
		faults = append(faults, fmt.Errorf("the store does not hold up: %w", err))
	}
	if folder == "" || ctx.Err() != nil {
		return note, errors.Join(faults...)
	}
	list, err := List(folder)
	if err != nil {
		return note, errors.Join(append(faults, fmt.Errorf("the back-ups cannot be listed: %w", err))...)
	}
	sound := 0
	for _, h := range list {
		if ctx.Err() != nil {
			return note, errors.Join(append(faults, ctx.Err())...)
		}
		if err := h.Recheck(); err != nil {
			faults = append(faults, fmt.Errorf("back-up %s: %w", h.File, err))
			continue
		}
		sound++
	}
	if note != "" {
		note += ", "
	}
	return fmt.Sprintf("%s%d of %d back-ups have their bytes", note, sound, len(list)), errors.Join(faults...)
}
