// Package export writes what leaves the program as files: figures as they may be
// published, a line list of cases, and an extract without what identifies anybody,
// each as a workbook (XLSX, ISO/IEC 29500) or as CSV (RFC 4180), with a data
// dictionary and a page that says what it is. No cell can turn into a formula.
//
// A Book is what a file holds; its tables are written row by row and never held.
// The package reads and writes what it is handed and asks nothing else; whoever
// calls it checks the right, and keeps the Log in the audit trail before a byte
// goes out.
package export
