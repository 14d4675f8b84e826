package hl7

import (
	"fmt"

	"dunlin/cases/intake"
)

// mixed looks for signs that the results of two infants stand under one PID, because a
// PID was lost on the way: people of the family after an order or its results, or two cystic fibrosis
// panels with different laboratory numbers. A person then decides.
func (rd *reading) mixed(segs []Segment) {
	results, number := false, ""
	for _, s := range segs {
		switch s.Name {
		case "ORC", "OBX":
			results = true
		case "NK1":
			if results {
				rd.problem(s.Field(0), intake.Fault, "A person of the family stands after an order or its results, so the PID of another infant may be missing. Nothing was decided; ask the sender whose the results are.")
				return
			}
		case "OBR":
			results = true
			code, _, _ := rd.code(s.First(4))
			if n := entity(s.First(3)).Number; code == "54078-1" && n != "" {
				if number != "" && n != number {
					rd.problem(s.Field(3), intake.Fault, fmt.Sprintf("There are two cystic fibrosis panels with different laboratory numbers (%s and %s). They may belong to two infants or to two cards; ask the sender.", intake.Shorten(number), intake.Shorten(n)))
					return
				}
				number = n
			}
		}
	}
}
