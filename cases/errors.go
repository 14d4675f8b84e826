package cases

import (
	"errors"
	"fmt"
	"strings"
)

// Kind says what sort of trouble an error is; front ends map it to their answers.
type Kind uint8

// The kinds of Error.
const (
	Internal  Kind = iota // a fault of the program; its text is never shown
	Invalid               // a value cannot be used; Field or Faults name it
	NotFound              // there is no such record
	Conflict              // somebody else changed the record first; see Changed
	Forbidden             // the actor's role does not allow it
	Refused               // the rules do not allow it now
)

// Error is the only error whose text people see: Text says what is wrong, where
// and what to do. Err is for the log.
type Error struct {
	Kind   Kind
	Field  string  // path of the field, when one value is at fault
	Text   string  // for people
	Faults []Fault // every fault found, for Invalid
	Err    error   // for the log
}

// Error gives the text for people, followed by the cause.
func (e *Error) Error() string {
	s := e.Text
	if len(e.Faults) > 0 {
		parts := make([]string, len(e.Faults))
		for i, f := range e.Faults {
			parts[i] = f.String()
		}
		s = strings.TrimSpace(s + " " + strings.Join(parts, "; "))
	}
	if e.Err != nil {
		s += ": " + e.Err.Error()
	}
	return s
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// KindOf returns the kind of the first Error in a chain; Internal otherwise. A
// Changed counts as Conflict.
func KindOf(err error) Kind {
	var ch *Changed
	if errors.As(err, &ch) {
		return Conflict
	}
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// Errorf makes an Error of a kind with a text for people.
func Errorf(k Kind, format string, args ...any) *Error {
	return &Error{Kind: k, Text: fmt.Sprintf(format, args...)}
}

// FieldError makes an Invalid error about one field.
func FieldError(field, format string, args ...any) *Error {
	reason := fmt.Sprintf(format, args...)
	return &Error{Kind: Invalid, Field: field, Faults: []Fault{{Path: field, Reason: reason}}}
}

// Fault is one thing wrong with a document: the path of the field
// (sweat_tests[0].arms[1].minutes) and the reason in words.
type Fault struct {
	Path   string `json:"path"`
	Reason string `json:"reason"`
}

// String joins path and reason.
func (f Fault) String() string { return f.Path + ": " + f.Reason }

// Changed is an edit conflict: the record was written by somebody else since it
// was read. It carries the record as it is now and what was done meanwhile.
type Changed struct {
	Want, Have Rev
	Now        Case
	By         []Entry
}

// Error says that the record has changed, and by whom.
func (c *Changed) Error() string {
	who := "somebody else"
	if n := len(c.By); n > 0 {
		who = c.By[n-1].Actor.Name
	}
	return fmt.Sprintf("%s was changed by %s since it was opened", c.Now.Reference, who)
}
