// Package templates holds everything that is shown to people: the pages, the
// parts they share, the style sheet and script, and the struct of display-ready
// fields that each page is rendered from.
//
// A page is three things of one name: a template file pages/<name>.html that
// defines "main", a Go struct in <name>.go that embeds Base and has a File
// method, and a sample in the golden test. Shared pieces are in parts/*.html.
// All files are embedded and parsed once, by Parse; a page is executed into
// memory before its first byte is sent.
//
// The package knows nothing of cases: handlers turn cases into display text.
// No page holds inline script or style, so that the strict content security
// policy of the server holds; drawings use presentation attributes and classes.
package templates
