package templates

// YearPage shows the figures of one birth year: as they are now, or as they were kept.
type YearPage struct {
	Base
	Reports []Tab
	Figures Figures
	Choice  Choice // the year
	Report  *YearReport
	Papers  []Link // the same as PDF
	// Kept says that the figures shown are those kept on a day; "" when they are of now.
	Kept string
	// Shows leads from kept figures to those of now and back, for who may see both.
	Shows Link
	Since *YearSince // what has changed since the year was kept; nil when it was not
	Keep  *YearKeep  // to keep the figures; nil for who may not
}

// YearSince sets the figures that were kept beside those of now.
type YearSince struct {
	Lead    string   // "Kept on 3 Mar 2026 by ..., records of ..."
	Says    []string // what changed besides the figures: definitions, protocol
	Rows    []YearChange
	Caption string
}

// YearChange is one figure then and now.
type YearChange struct{ Where, What, Then, Now string }

// YearKeep is the form that keeps a year's figures.
type YearKeep struct {
	Year   int
	Full   bool // to lead back to full figures
	Lead   string
	Why    Field
	Button string
}

// File names the template.
func (*YearPage) File() string { return "year" }
