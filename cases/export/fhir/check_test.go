package fhir

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
)

// required lists the elements that R4 demands (cardinality 1 or more), by resource and
// by path of an object in it. From the R4 (4.0.1) definitions.
var required = map[string][]string{
	"Bundle": {"type"}, "RelatedPerson": {"patient"}, "Condition": {"subject"}, "EpisodeOfCare": {"status", "patient"},
	"EpisodeOfCare.statusHistory": {"status", "period"}, "EpisodeOfCare.diagnosis": {"condition"},
	"ServiceRequest": {"status", "intent", "subject"}, "Appointment": {"status", "participant"}, "Appointment.participant": {"status"},
	"Observation": {"status", "code"}, "DiagnosticReport": {"status", "code"}, "Task": {"status", "intent"},
	"Communication": {"status"}, "Communication.payload": {"contentString"}, "Provenance": {"target", "recorded", "agent"}, "Provenance.agent": {"who"},
	"Patient": {}, "Organization": {}, "Location": {}, "Practitioner": {}, "Specimen": {},
}

// allowed lists the codes of the bound value sets (R4; required bindings).
var allowed = map[string][]string{
	"Bundle.type":                        {"collection"},
	"Patient.gender":                     {"male", "female", "other", "unknown"},
	"EpisodeOfCare.status":               {"planned", "waitlist", "active", "onhold", "finished", "cancelled", "entered-in-error"},
	"EpisodeOfCare.statusHistory.status": {"planned", "waitlist", "active", "onhold", "finished", "cancelled", "entered-in-error"},
	"ServiceRequest.status":              {"draft", "active", "on-hold", "revoked", "completed", "entered-in-error", "unknown"},
	"ServiceRequest.intent":              {"proposal", "plan", "directive", "order", "original-order", "reflex-order", "filler-order", "instance-order", "option"},
	"Appointment.status":                 {"proposed", "pending", "booked", "arrived", "fulfilled", "cancelled", "noshow", "entered-in-error", "checked-in", "waitlist"},
	"Appointment.participant.status":     {"accepted", "declined", "tentative", "needs-action"},
	"Specimen.status":                    {"available", "unavailable", "unsatisfactory", "entered-in-error"},
	"Observation.status":                 {"registered", "preliminary", "final", "amended", "corrected", "cancelled", "entered-in-error", "unknown"},
	"DiagnosticReport.status":            {"registered", "partial", "preliminary", "final", "amended", "corrected", "appended", "cancelled", "entered-in-error", "unknown"},
	"Task.status":                        {"draft", "requested", "received", "accepted", "rejected", "ready", "cancelled", "in-progress", "on-hold", "failed", "completed", "entered-in-error"},
	"Task.intent":                        {"unknown", "proposal", "plan", "order", "original-order", "reflex-order", "filler-order", "instance-order", "option"},
	"Task.priority":                      {"routine", "urgent", "asap", "stat"},
	"Communication.status":               {"preparation", "in-progress", "not-done", "on-hold", "stopped", "completed", "entered-in-error", "unknown"},
}

var uuidForm = regexp.MustCompile(`^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)

// checker goes through a bundle as written and notes what R4 does not allow.
type checker struct {
	faults []string
	urls   map[string]string // full address -> resource type
	used   map[string]bool   // addresses that something refers to
}

func (k *checker) fault(format string, args ...any) {
	k.faults = append(k.faults, fmt.Sprintf(format, args...))
}

// checkBundle lists what is wrong with a bundle: elements that must be there, codes of
// the bound value sets, references that lead nowhere, and invariants of R4.
func checkBundle(data []byte) []string {
	k := &checker{urls: map[string]string{}, used: map[string]bool{}}
	var top map[string]any
	dec := json.NewDecoder(strings.NewReader(string(data)))
	dec.UseNumber()
	if err := dec.Decode(&top); err != nil {
		return []string{err.Error()}
	}
	if top["resourceType"] != "Bundle" {
		k.fault("the resource is a %v", top["resourceType"])
	}
	entries, _ := top["entry"].([]any)
	for _, e := range entries {
		url, _ := e.(map[string]any)["fullUrl"].(string)
		r, _ := e.(map[string]any)["resource"].(map[string]any)
		if !uuidForm.MatchString(url) || k.urls[url] != "" {
			k.fault("fullUrl %q is not a new version 5 UUID", url)
		}
		k.urls[url], _ = r["resourceType"].(string)
	}
	for _, e := range entries {
		r := e.(map[string]any)["resource"].(map[string]any)
		kind, _ := r["resourceType"].(string)
		if _, ok := required[kind]; !ok {
			k.fault("a %s is not expected in a case", kind)
		}
		k.object(kind, r)
		k.invariants(kind, r)
	}
	k.object("Bundle", map[string]any{"type": top["type"]})
	for url, kind := range k.urls {
		if !k.used[url] && slices.Contains([]string{"Organization", "Location", "Practitioner", "Specimen"}, kind) {
			k.fault("nothing refers to the %s %s", kind, url)
		}
	}
	return k.faults
}

// object checks one object and what is in it.
func (k *checker) object(path string, o map[string]any) {
	if len(o) == 0 {
		k.fault("%s: an empty object", path)
	}
	for _, name := range required[path] {
		if o[name] == nil {
			k.fault("%s: %s is missing", path, name)
		}
	}
	for name, v := range o {
		at := path + "." + name
		k.value(at, v)
		if codes := allowed[at]; codes != nil {
			if s, _ := v.(string); !slices.Contains(codes, s) {
				k.fault("%s: %v is not a code of its value set", at, v)
			}
		}
	}
	if ref, ok := o["reference"].(string); ok {
		k.used[ref] = true
		if k.urls[ref] == "" {
			k.fault("%s: the reference %s leads nowhere", path, ref)
		}
	}
}

func (k *checker) value(path string, v any) {
	switch v := v.(type) {
	case nil:
		k.fault("%s: null", path)
	case string:
		if strings.TrimSpace(v) == "" || v != strings.TrimSpace(v) {
			k.fault("%s: %q is empty or has blanks around it", path, v)
		}
		k.times(path, v)
	case map[string]any:
		k.object(path, v)
	case []any:
		if len(v) == 0 {
			k.fault("%s: an empty list", path)
		}
		for _, x := range v {
			k.value(path, x)
		}
	}
}

var dayForm = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`)

// times checks days and moments; instants must have a clock time and an offset.
func (k *checker) times(path, v string) {
	name := path[strings.LastIndex(path, ".")+1:]
	instant := slices.Contains([]string{"recorded", "issued", "timestamp"}, name) || path == "Appointment.start" || path == "Appointment.end"
	if !instant && !slices.Contains([]string{"birthDate", "start", "end", "effectiveDateTime", "collectedDateTime", "deceasedDateTime",
		"recordedDate", "authoredOn", "sent", "lastModified", "valueDateTime"}, name) {
		return
	}
	if _, err := time.Parse(time.RFC3339, v); err == nil && name != "birthDate" {
		return
	}
	if _, err := time.Parse("2006-01-02", v); err != nil || instant || !dayForm.MatchString(v) {
		k.fault("%s: %q is not a time of its type", path, v)
	}
}

// invariants checks the rules of R4 that bind several elements of a resource.
func (k *checker) invariants(kind string, r map[string]any) {
	either := func(name string) bool { return r[name] != nil || r["_"+name] != nil }
	switch kind {
	case "Appointment":
		status, _ := r["status"].(string)
		if either("start") != either("end") {
			k.fault("app-2: either start and end are specified, or neither")
		}
		if !either("start") && !slices.Contains([]string{"proposed", "cancelled", "waitlist"}, status) {
			k.fault("app-3: an appointment that is %s has no start and end", status)
		}
		if r["cancelationReason"] != nil && status != "cancelled" && status != "noshow" {
			k.fault("app-4: cancelationReason of an appointment that is %s", status)
		}
	case "Observation":
		n := 0
		for _, v := range []string{"valueQuantity", "valueCodeableConcept", "valueString"} {
			if r[v] != nil {
				n++
			}
		}
		if r["dataAbsentReason"] != nil && n > 0 || n > 1 {
			k.fault("obs-6: %d values beside dataAbsentReason %v", n, r["dataAbsentReason"])
		}
		if n == 0 && r["dataAbsentReason"] == nil {
			k.fault("an observation without a value does not say why")
		}
	case "Patient":
		if r["multipleBirthBoolean"] != nil && r["multipleBirthInteger"] != nil {
			k.fault("two values of multipleBirth")
		}
	}
	k.periods(kind, r)
}

// periods checks per-1 on days: a period does not end before it starts.
func (k *checker) periods(path string, v any) {
	switch v := v.(type) {
	case map[string]any:
		s, _ := v["start"].(string)
		e, _ := v["end"].(string)
		if len(s) >= 10 && len(e) >= 10 && (s[:10] > e[:10] || len(s) == len(e) && len(s) > 10 && s > e) {
			k.fault("per-1: %s from %s to %s", path, s, e)
		}
		for name, x := range v {
			k.periods(path+"."+name, x)
		}
	case []any:
		for _, x := range v {
			k.periods(path, x)
		}
	}
}
