package templates

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"path"
	"strings"
)

//go:embed pages parts static
var files embed.FS

// Page is what can be rendered: a pointer to a struct that embeds Base.
type Page interface {
	// File is the name of the page's template in pages/, without ".html".
	File() string
	// Common is the part that all pages have; Base provides it.
	Common() *Base
}

// Set holds all parsed pages and the static files under their hashed names.
type Set struct {
	pages  map[string]*template.Template
	static *Static
}

// Parse reads every embedded page with the parts it may use. It fails on the
// first file that does not parse or that does not define "main", so that a
// broken page stops the program at its start.
func Parse() (*Set, error) {
	static, err := newStatic(files)
	if err != nil {
		return nil, err
	}
	base, err := template.New("").Funcs(funcs(static)).Option("missingkey=error").ParseFS(files, "parts/*.html")
	if err != nil {
		return nil, fmt.Errorf("templates: parts: %w", err)
	}
	names, err := fs.Glob(files, "pages/*.html")
	if err != nil {
		return nil, fmt.Errorf("templates: pages: %w", err)
	}
	set := &Set{pages: make(map[string]*template.Template, len(names)), static: static}
	for _, name := range names {
		t, err := base.Clone()
		if err == nil {
			t, err = t.ParseFS(files, name)
		}
		if err != nil {
			return nil, fmt.Errorf("templates: %s: %w", name, err)
		}
		if t.Lookup("main") == nil {
			return nil, fmt.Errorf("templates: %s does not define \"main\"", name)
		}
		set.pages[strings.TrimSuffix(path.Base(name), ".html")] = t
	}
	return set, nil
}

// Render executes page p inside the layout and writes it to w only if the
// whole page could be made. A nil page or an unknown file is an error.
func (s *Set) Render(w io.Writer, p Page) error {
	if p == nil {
		return errors.New("templates: no page")
	}
	t := s.pages[p.File()]
	if t == nil {
		return fmt.Errorf("templates: no page %q", p.File())
	}
	var buf bytes.Buffer
	buf.Grow(32 << 10)
	if err := t.ExecuteTemplate(&buf, "layout", p); err != nil {
		return fmt.Errorf("templates: %s: %w", p.File(), err)
	}
	_, err := buf.WriteTo(w)
	return err
}

// Static is the embedded static files, served under names that change with
// their content.
func (s *Set) Static() *Static { return s.static }
