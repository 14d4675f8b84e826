// Package demo makes the Alder Bay scenario: about 120 invented infants over
// the last year, spread over every step of a follow-up, so that the program can
// be tried without real data.
//
// The scenario is a pure function of the day it is made for. It enters the
// store the way real facts do: newborn-screen results as HL7 version 2.5.1
// ORU^R01 messages through intake, and everything after that through the
// commands of the desk, day by day in order, with the clock set to each day.
//
// Every person, place, practice and laboratory is invented. Telephone numbers
// are 555-01xx; object identifiers stand under the HL7 example arc
// 2.16.840.1.113883.19.
package demo
