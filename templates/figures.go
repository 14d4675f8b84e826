package templates

// Figures says whether a page of figures hides small numbers. Render it with the
// part "figures", above the first figure.
type Figures struct {
	Full  bool   // nothing is hidden: marked on the page and on paper
	Below int    // else the least count that is shown; 0 and 1 hide nothing
	Show  string // address of the same page in full, for who may see it; may be empty
	Sites string // the test sites whose infants are counted; empty for all
	Hide  string // address of the same page with small numbers hidden
}

// Most is the greatest count that is hidden.
func (f Figures) Most() int { return f.Below - 1 }
