package web

import (
	"io"
	"path"
	"strings"
	"unicode"
)

// file reads an uploaded file of at most some bytes; its name is cut to what
// can be shown.
func (f *form) file(c Ctx, field string, most int64) (raw []byte, name string) {
	fh, err := c.FormFile(field)
	if err != nil {
		f.fail(field, "Choose the file to upload")
		return nil, ""
	}
	name = fileName(fh.Filename)
	if fh.Size > most {
		f.fail(field, "The file must be 5 MB at most. This one is %d MB. Split it, or import it with the command dunlin import", (fh.Size+1<<19)>>20)
		return nil, name
	}
	r, err := fh.Open()
	if err != nil {
		f.fail(field, "The file could not be read. Choose it again")
		return nil, name
	}
	defer r.Close()
	raw, err = io.ReadAll(io.LimitReader(r, most+1))
	switch {
	case err != nil:
		f.fail(field, "The file could not be read. Choose it again")
	case len(raw) == 0:
		f.fail(field, "The file is empty. Choose another one")
	}
	return raw, name
}

// fileName is the last part of a file's name without control characters.
func fileName(name string) string {
	name = path.Base(strings.ReplaceAll(name, "\\", "/"))
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return -1
		}
		return r
	}, name)
	if r := []rune(name); len(r) > 80 {
		name = string(r[:80])
	}
	return name
}
