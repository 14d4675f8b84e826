// Package fhir sets out one case as a collection of HL7 FHIR R4 resources, for a
// program or clinic that takes the infant over. It is plain R4 and claims no profile.
//
// What the facts of a case become:
//
//   - Patient, RelatedPerson (mother and guardians), Practitioner and Organization;
//   - EpisodeOfCare for the case, Task for the step that is owed;
//   - Specimen, Observation and DiagnosticReport of newborn screen, variants and sweat tests;
//   - ServiceRequest with the window of the test, Appointment for each booking;
//   - Condition: the reason for referral, and what the person who closed the case decided;
//   - Communication for letters and messages that left, without their text;
//   - Provenance: who exported, and when.
//
// Contacts by phone, holds, contact flags and notes stay in the program. A diagnosis
// code is never worked out from a laboratory value: it is the one that the person who
// closed the case chose, or there is none.
//
// Elements, cardinalities and code lists: HL7 FHIR R4 (4.0.1). LOINC, SNOMED CT and
// ICD-10-CM codes stand in codes.csv, each with where it was seen; a program can leave
// a code system out (Options.LeaveOut).
package fhir
