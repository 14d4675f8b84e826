package cases_test

import (
	"encoding/json"
	"testing"

	"dunlin/cases"
)

//asvs:2.1.1
func TestSchemaFollowsTheDocument(t *testing.T) {
	data, err := json.Marshal(cases.Schema())
	if err != nil {
		t.Fatal(err)
	}
	var s struct {
		Required   []string
		Properties map[string]any
		Defs       map[string]struct {
			Required   []string
			Properties map[string]struct{ Enum []any }
		} `json:"$defs"`
	}
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	if len(s.Required) != 3 || s.Properties["closures"] == nil {
		t.Errorf("required %v", s.Required)
	}
	if got := s.Defs["Referral"].Required; len(got) != 2 {
		t.Errorf("a referral requires %v", got)
	}
	if got := s.Defs["SweatTest"].Properties["collector"].Enum; len(got) != 2 {
		t.Errorf("collectors %v", got)
	}
}
