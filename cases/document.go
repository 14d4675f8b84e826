package cases

import (
	"encoding/json"
	"fmt"
)

// ParseCase reads one case document strictly and checks it as of a day. All
// faults come together in an *Error of kind Invalid, each with its path.
func ParseCase(data []byte, on Day, p *Protocol) (Case, error) {
	var c Case
	faults := readStrict(data, &c)
	named := map[string]bool{}
	for _, f := range faults {
		named[f.Path] = true
	}
	for _, f := range c.Faults(on, p) {
		if !named[f.Path] {
			faults = append(faults, f)
		}
	}
	if len(faults) > 0 {
		return c, &Error{Kind: Invalid, Text: "The case document is refused.", Faults: faults}
	}
	c.Prepare()
	return c, nil
}

// Clone copies a case so deep that changing the copy never touches the original.
func (c *Case) Clone() Case {
	data, err := json.Marshal(c)
	if err != nil {
		panic(fmt.Sprintf("cases: a case that cannot be written: %v", err)) // every field has a JSON form
	}
	var n Case
	if err := json.Unmarshal(data, &n); err != nil {
		panic(fmt.Sprintf("cases: a case that cannot be read again: %v", err))
	}
	n.ID, n.Rev = c.ID, c.Rev
	n.Prepare()
	return n
}
