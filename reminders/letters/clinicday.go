package letters

import (
	"context"

	"dunlin/cases"
)

// clinicDays makes the lists of the day for the test sites.
func (p *Press) clinicDays(ctx context.Context, day cases.Day, tally *Tally) error {
	return nil
}
