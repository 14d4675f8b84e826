// Package csvfile reads line lists: a heading row and one infant a row, as a
// laboratory exports them from its system or a spreadsheet. It finds the
// delimiter, the character set and the columns, and gives every row its own
// outcome with the row number and the reason. Rows are independent: a damaged one
// never takes another with it.
package csvfile
