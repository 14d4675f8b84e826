package fhir

import "encoding/json"

// Data types of HL7 FHIR R4 with the elements that a bundle uses. Days are YYYY-MM-DD,
// moments RFC 3339 with the offset of the program's zone. Numbers are kept as written.

// Coding is one code of a code system.
type Coding struct {
	System  string `json:"system,omitempty"`
	Code    string `json:"code,omitempty"`
	Display string `json:"display,omitempty"`
}

// CodeableConcept is a concept by codes and words.
type CodeableConcept struct {
	Coding []Coding `json:"coding,omitempty"`
	Text   string   `json:"text,omitempty"`
}

// Extension holds what R4 defines outside of a resource's own elements.
type Extension struct {
	URL           string `json:"url"`
	ValueCode     string `json:"valueCode,omitempty"`
	ValueBoolean  *bool  `json:"valueBoolean,omitempty"`
	ValueDateTime string `json:"valueDateTime,omitempty"`
}

// Extended is what is said beside a primitive value, or in place of one.
type Extended struct {
	Extension []Extension `json:"extension,omitempty"`
}

// Reference leads to another entry of the bundle, or only names somebody.
type Reference struct {
	Reference string `json:"reference,omitempty"`
	Display   string `json:"display,omitempty"`
}

// Identifier is a number that somebody gave.
type Identifier struct {
	Use      string           `json:"use,omitempty"`
	Type     *CodeableConcept `json:"type,omitempty"`
	System   string           `json:"system,omitempty"`
	Value    string           `json:"value,omitempty"`
	Assigner *Reference       `json:"assigner,omitempty"`
}

// Quantity is a number with its UCUM unit.
type Quantity struct {
	Value  json.Number `json:"value,omitempty"`
	Unit   string      `json:"unit,omitempty"`
	System string      `json:"system,omitempty"`
	Code   string      `json:"code,omitempty"`
}

// Period is a time from start to end, both inclusive.
type Period struct {
	Start string `json:"start,omitempty"`
	End   string `json:"end,omitempty"`
}

// HumanName is a person's name.
type HumanName struct {
	Use    string   `json:"use,omitempty"`
	Text   string   `json:"text,omitempty"`
	Family string   `json:"family,omitempty"`
	Given  []string `json:"given,omitempty"`
}

// ContactPoint is a telephone number or mail address.
type ContactPoint struct {
	System string `json:"system,omitempty"`
	Value  string `json:"value,omitempty"`
	Use    string `json:"use,omitempty"`
}

// Address is a postal address.
type Address struct {
	Use        string   `json:"use,omitempty"`
	Line       []string `json:"line,omitempty"`
	City       string   `json:"city,omitempty"`
	District   string   `json:"district,omitempty"`
	State      string   `json:"state,omitempty"`
	PostalCode string   `json:"postalCode,omitempty"`
	Country    string   `json:"country,omitempty"`
}

// Annotation is a remark.
type Annotation struct {
	AuthorString string `json:"authorString,omitempty"`
	Time         string `json:"time,omitempty"`
	Text         string `json:"text"`
}

// SpokenLanguage is a language of communication.
type SpokenLanguage struct {
	Language  *CodeableConcept `json:"language,omitempty"`
	Preferred bool             `json:"preferred,omitempty"`
}

// ReferenceRange is a range in words.
type ReferenceRange struct {
	Text string `json:"text,omitempty"`
}
