package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"

	"dunlin/cases"
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

// areas are the postal codes of the settings' file, or those that the store keeps when
// the settings name no file.
func (s *site) areas(log *slog.Logger) (schedule.Centroids, error) {
	if s.cfg.Postal != "" {
		return postalAreas(s.cfg.Postal, log)
	}
	var kept schedule.Centroids
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		kept, err = schedule.KeptCentroids(r)
		return err
	})
	return kept, err
}
