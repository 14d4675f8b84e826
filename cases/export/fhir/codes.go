package fhir

import (
	_ "embed"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
)

//go:embed codes.csv
var codeTable string

// systems leads from the name of a code system in codes.csv and in the settings to its
// canonical address (HL7 FHIR R4, 4.3.1 "External code systems").
var systems = map[string]string{
	"loinc":     "http://loinc.org",
	"snomed":    "http://snomed.info/sct",
	"icd-10-cm": "http://hl7.org/fhir/sid/icd-10-cm",
}

// Code systems of HL7 itself, as R4 names them.
const (
	terms        = "http://terminology.hl7.org/CodeSystem/"
	sysUCUM      = "http://unitsofmeasure.org"
	sysHGVS      = "http://varnomen.hgvs.org" // HL7 FHIR R4, 4.3.1
	sysLanguage  = "urn:ietf:bcp:47"
	sysAbsent    = terms + "data-absent-reason"
	sysCategory  = terms + "observation-category"
	sysReport    = terms + "v2-0074"
	sysNumber    = terms + "v2-0203"
	sysRole      = terms + "v3-RoleCode"
	sysClinical  = terms + "condition-clinical"
	sysCertainty = terms + "condition-ver-status"
	extension    = "http://hl7.org/fhir/StructureDefinition/"
)

// tableCode is one row of codes.csv.
type tableCode struct{ system, code, display string }

var codes = sync.OnceValue(func() map[string]tableCode {
	m := map[string]tableCode{}
	for line := range strings.Lines(codeTable) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		f := strings.SplitN(line, ",", 5)
		m[f[0]] = tableCode{f[1], f[2], f[3]}
	}
	return m
})

// CheckLeaveOut refuses names of code systems that the table does not know.
func CheckLeaveOut(names []string) error {
	for _, n := range names {
		if systems[n] == "" {
			return fmt.Errorf("%q is not a code system; use any of %s", n, strings.Join(slices.Sorted(maps.Keys(systems)), ", "))
		}
	}
	return nil
}

// concept is a coded concept from the table with its words. Where the code's system is
// left out, or the table has no such key, the words stand alone.
func (b *builder) concept(key, text string) *CodeableConcept {
	c := &CodeableConcept{Text: text}
	if k, ok := codes()[key]; ok && !b.leftOut(k.system) {
		c.Coding = []Coding{{systems[k.system], k.code, k.display}}
	}
	return c
}

// leftOut tells whether a program leaves the codes of a system out.
func (b *builder) leftOut(system string) bool { return slices.Contains(b.o.LeaveOut, system) }

// own is a concept of one code of HL7's own lists.
func own(system, code, display string) *CodeableConcept {
	return &CodeableConcept{Coding: []Coding{{system, code, display}}}
}

// words is a concept in words alone.
func words(text string) *CodeableConcept { return &CodeableConcept{Text: text} }
