package web_test

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"dunlin/cases"
)

// A letter whose record is damaged is named on the count sheet; the others are printed.
func TestPrintRunWithADamagedLetter(t *testing.T) {
	s := newSite(t)
	s.open(docMail)
	wren := s.as("wren")
	wren.get("/letters").form("/letters/make").send()
	good := s.lettersIn("to-print")[0]
	wren.get("/letters").form("/letters").set("letter", good.ID).set("do", "print").send()
	const run = "2026-03-05-a"
	whole := wren.get("/letters/runs/" + run + "/pdf")
	if whole.status != 200 || !strings.HasSuffix(whole.body, "%%EOF\n") || !strings.Contains(whole.head.Get("Content-Disposition"), "print-run-"+run+".pdf") {
		t.Fatalf("print run: %d, %d bytes, %v", whole.status, len(whole.body), whole.head)
	}
	err := s.db.Update(context.Background(), cases.Actor{ID: "t", Name: "Test", Role: cases.System}, func(w cases.Writer) error {
		_, err := w.PutLetter(cases.Letter{Case: good.Case, Kind: good.Kind, Occasion: "another", State: "printed", PrintRun: run, Data: []byte(`{"format":"dunlin-letter/1"}`)})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	again := wren.get("/letters/runs/" + run + "/pdf")
	pages := func(body string) int { return bytes.Count([]byte(body), []byte("/Type /Page ")) }
	if again.status != 200 || pages(again.body) != pages(whole.body) || len(again.body) <= len(whole.body) {
		t.Errorf("print run with a damaged letter: %d, %d pages, was %d", again.status, pages(again.body), pages(whole.body))
	}
	wren.get("/letters/runs/2026-03-05-z").wants(404, "There is no print run")
}
