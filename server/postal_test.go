package main

import (
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestPostalAreas(t *testing.T) {
	write := func(text string) string {
		path := filepath.Join(t.TempDir(), "postal.csv")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	var out strings.Builder
	log := slog.New(slog.NewTextHandler(&out, nil))
	areas, err := postalAreas(write("postal,lat,lon\n00501,40.8,-73.0\n00502,north,-73.0\n"), log)
	if err != nil || len(areas) != 1 || !strings.Contains(out.String(), "row 3") {
		t.Errorf("%v, %v, log %s", areas, err, out.String())
	}
	log = slog.New(slog.NewTextHandler(io.Discard, nil))
	if areas, err := postalAreas("", log); areas != nil || err != nil {
		t.Errorf("without a path: %v, %v", areas, err)
	}
	for name, path := range map[string]string{"nowhere": filepath.Join(t.TempDir(), "none.csv"), "headings": write("zip,lat\n1,2\n"), "empty": write("postal,lat,lon\n")} {
		if _, err := postalAreas(path, log); err == nil || !strings.HasPrefix(err.Error(), "postal: ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
