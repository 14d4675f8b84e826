package main

import (
	"fmt"
	"log/slog"
	"os"

	"dunlin/cases/schedule"
)

// postalAreas reads the file that says where postal codes are; none without a path.
// Rows that cannot be used are logged and left out, as an area that is not known has no
// distance; a file without any usable row is refused.
func postalAreas(path string, log *slog.Logger) (schedule.Centroids, error) {
	if path == "" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("postal: %w", err)
	}
	defer f.Close()
	areas, faults := schedule.ReadCentroids(f)
	if len(areas) == 0 {
		why := "it has no rows"
		if len(faults) > 0 {
			why = faults[0].Path + ": " + faults[0].Reason
		}
		return nil, fmt.Errorf("postal: %s cannot be used: %s. It needs the headings postal, lat and lon", path, why)
	}
	for _, x := range faults {
		if log != nil {
			log.Warn("postal code left out", "at", x.Path, "why", x.Reason)
		}
	}
	return areas, nil
}
