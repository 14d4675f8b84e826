// Package paper sets text on sheets and writes them as PDF. It holds the fonts and the
// PDF library; what stands on a sheet is decided by its callers.
//
// All measures are points (1/72 inch) from the top left corner of the sheet. A Sheet
// holds its text in reading order, which is the order in which a reader, a search or a
// screen reader finds it. The same sheets with the same Info give the same bytes.
//
// Two ways to fill sheets: put text, lines and boxes where they belong (Sheet), or let
// a Flow break paragraphs and tables into lines and sheets.
package paper
