package intake

import (
	"regexp"

	"dunlin/cases"
)

// referenceForm is the form of a case reference: two letters, year, running number.
var referenceForm = regexp.MustCompile(`(?i)\b[A-Z]{2}-\d{4}-\d{4,6}\b`)

func (p *placer) fileNotice(it *Item) (cases.Item, error)  { return p.fileText(it) }
func (p *placer) fileReceipt(it *Item) (cases.Item, error) { return p.fileText(it) }
func (p *placer) fileAuto(it *Item) (cases.Item, error)    { return p.fileText(it) }
