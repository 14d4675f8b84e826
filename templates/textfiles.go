package templates

import (
	"bytes"
	"fmt"
	"io/fs"
	"path"
	"strings"
)

// maxTextFile bounds a file of a text in bytes: a letter has a few thousand. It keeps a
// file that was put there by mistake from filling the memory.
const maxTextFile = 64 << 10

// readText reads one file of a text: a regular file of a fair size, without the mark
// that some editors put before UTF-8.
func readText(from fs.FS, name string) ([]byte, error) {
	info, err := fs.Stat(from, name)
	switch {
	case err != nil:
		return nil, &LetterFault{name, 1, fmt.Sprintf("the file cannot be read: %v", err)}
	case !info.Mode().IsRegular(): // a device or a pipe would never end
		return nil, &LetterFault{name, 1, "this is no ordinary file"}
	case info.Size() > maxTextFile:
		return nil, &LetterFault{name, 1, fmt.Sprintf("the file has %d bytes; a text has at most %d", info.Size(), maxTextFile)}
	}
	src, err := fs.ReadFile(from, name)
	if err != nil {
		return nil, &LetterFault{name, 1, fmt.Sprintf("the file cannot be read: %v", err)}
	}
	return bytes.TrimPrefix(src, []byte("\ufeff")), nil
}

// strayTexts names each text of a folder that would be passed over in silence: one that
// lies beside or below the folders of the languages, or whose ending is in capitals.
func strayTexts(from fs.FS) (faults []error) {
	top, err := fs.ReadDir(from, ".")
	if err != nil {
		return []error{err}
	}
	for _, e := range top {
		name := e.Name()
		if isText(name) {
			faults = append(faults, &LetterFault{name, 1, "a letter text lies in a folder named after its language: en/" + name})
			continue
		}
		below, err := fs.ReadDir(from, name) // also of a link to a folder
		if err != nil {
			continue // no folder
		}
		for _, b := range below {
			inner := path.Join(name, b.Name())
			if isText(b.Name()) && path.Ext(b.Name()) != ".txt" {
				faults = append(faults, &LetterFault{inner, 1, "the ending of a letter text is .txt, in small letters"})
			}
			deep, err := fs.ReadDir(from, inner)
			if err != nil {
				continue
			}
			for _, d := range deep {
				if isText(d.Name()) {
					faults = append(faults, &LetterFault{path.Join(inner, d.Name()), 1, "it lies too deep: letter texts lie in " + name + "/"})
				}
			}
		}
	}
	return faults
}

func isText(name string) bool {
	return strings.EqualFold(path.Ext(name), ".txt") && !strings.HasPrefix(name, ".")
}

// Try hands the fixed text of each block, and the title, to a check, and gives what it
// finds as faults with file and line.
func (t *LetterText) Try(check func(string) error) (faults []error) {
	if err := check(t.Title); err != nil {
		faults = append(faults, &LetterFault{t.File, 1, fmt.Sprintf("the title: %v", err)})
	}
	for _, b := range t.blocks {
		if err := check(b.text); err != nil {
			faults = append(faults, &LetterFault{t.File, b.line, err.Error()})
		}
	}
	return faults
}

// Unsaid names the fields that a letter to a family must use and this one does not: whom
// it is about, whom to call, and where to call in an emergency.
func (t *LetterText) Unsaid() (out []string) {
	if !ForFamily(t.Kind) {
		return nil
	}
	for _, field := range []string{"infant", "contact", "phone", "emergency"} {
		said := false
		for _, b := range t.blocks {
			said = said || strings.Contains(b.text, "{"+field+"}")
		}
		if !said {
			out = append(out, "{"+field+"}")
		}
	}
	return out
}

// Try hands each value of the words to a check.
func (w *LetterWords) Try(check func(string) error) (faults []error) {
	for key := range wordKeys {
		key = strings.Trim(key, "[]")
		if err := check(w.values[key]); err != nil {
			faults = append(faults, &LetterFault{w.File, 1, fmt.Sprintf("%s: %v", key, err)})
		}
	}
	return faults
}
