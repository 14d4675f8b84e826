package web_test

import "testing"

// The laboratory's own reading stands beside the program's on the page of the
// infant, and a difference is said.
func TestLaboratorysReadingStandsBesideTheProgramsOwn(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docQNS, `"collector":"tubing",`, `"collector":"tubing","laboratory":{"name":"Marlow Creek Lab","reported":"2026-02-15","reads":"Normal <sweat>","range":"<30","flag":"N","differs":"The laboratory says normal; neither arm had enough sweat."},`))
	at := "/infants/" + k.Reference
	for _, who := range []string{"wren", "dagny"} {
		s.as(who).get(at).wants(200, "QNS", "Laboratory reads: Normal <sweat>", "Marlow Creek Lab, reported 15 Feb 2026; its range <30; its flag N", "The readings differ", "neither arm had enough sweat")
	}
	s.as("wren").get(at+"/tests/0/verify").wants(200, "Laboratory reads: Normal <sweat>")
}
