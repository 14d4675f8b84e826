package templates

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path"
	"strings"
)

// Static holds the style sheets, the script and the pictures. Each file has a
// name with a hash of its content in it, so that a browser may keep it for ever.
type Static struct {
	hashed map[string]string // "dunlin.css" -> "dunlin.1a2b3c4d5e.css"
	body   map[string][]byte // by hashed name
}

func newStatic(fsys fs.FS) (*Static, error) {
	s := &Static{hashed: map[string]string{}, body: map[string][]byte{}}
	entries, err := fs.ReadDir(fsys, "static")
	if err != nil {
		return nil, fmt.Errorf("templates: static files: %w", err)
	}
	for _, e := range entries {
		b, err := fs.ReadFile(fsys, "static/"+e.Name())
		if err != nil {
			return nil, fmt.Errorf("templates: static files: %w", err)
		}
		sum := sha256.Sum256(b)
		ext := path.Ext(e.Name())
		name := strings.TrimSuffix(e.Name(), ext) + "." + hex.EncodeToString(sum[:5]) + ext
		s.hashed[e.Name()] = name
		s.body[name] = b
	}
	return s, nil
}

// Path is the address of a static file given its plain name. An unknown name
// is an error, which stops the page that asks for it.
func (s *Static) Path(name string) (string, error) {
	h, ok := s.hashed[name]
	if !ok {
		return "", fmt.Errorf("templates: no static file %q", name)
	}
	return "/static/" + h, nil
}

// File returns the content and the content type of the file with this hashed
// name, and false when there is none.
func (s *Static) File(hashed string) (body []byte, contentType string, ok bool) {
	body, ok = s.body[hashed]
	switch path.Ext(hashed) {
	case ".css":
		contentType = "text/css; charset=utf-8"
	case ".js":
		contentType = "text/javascript; charset=utf-8"
	case ".svg":
		contentType = "image/svg+xml"
	default:
		contentType = "application/octet-stream"
	}
	return body, contentType, ok
}
