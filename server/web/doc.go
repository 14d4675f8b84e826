// Package web is the server's pages: one list of routes, handlers that read
// forms and call the desk, and the middleware around them.
//
// A handler returns an error; errors.go turns it into a page. Forms are read
// field by field (form.go) and shown again with all that was typed when
// something is wrong. Nothing is kept in the browser but a session cookie.
package web
