package templates

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
)

//go:embed letters
var letterFiles embed.FS

// LetterSet holds the letter texts by language, kind and variant, and the words of
// each language for dates and times.
type LetterSet struct {
	texts map[letterKey]*LetterText
	words map[string]*LetterWords
}

type letterKey struct{ language, kind, variant string }

// ParseLetters reads the letter texts that are built into the program. A broken
// text stops the program at its start, with every fault named.
func ParseLetters() (*LetterSet, error) { return LoadLetters(nil) }

// LoadLetters reads the built-in letter texts and lays a program's own folder over
// them: <language>/<name>.txt takes the place of the built-in text of the same kind,
// variant and language, or adds one; <language>/words.txt says how dates and times
// read. Every fault is named with file and line, all at once. A nil folder adds
// nothing.
func LoadLetters(folder fs.FS) (*LetterSet, error) {
	sub, err := fs.Sub(letterFiles, "letters")
	if err != nil {
		return nil, err
	}
	set := &LetterSet{texts: map[letterKey]*LetterText{}, words: map[string]*LetterWords{}}
	faults := set.read(sub, false)
	if folder != nil {
		faults = append(faults, set.read(folder, true)...)
	}
	faults = append(faults, set.wordless()...)
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return set, nil
}

// read adds every <language>/*.txt below fsys.
func (s *LetterSet) read(fsys fs.FS, own bool) []error {
	names, err := fs.Glob(fsys, "*/*.txt")
	if err != nil {
		return []error{err}
	}
	faults := strayTexts(fsys)
	if own && len(names) == 0 && len(faults) == 0 {
		return []error{&LetterFault{".", 1, "there is no letter text in the folder; it holds <language>/<name>.txt"}}
	}
	here := map[letterKey]string{}
	for _, name := range names {
		src, err := readText(fsys, name)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		language := path.Dir(name)
		if path.Base(name) == wordsFile {
			w, err := parseLetterWords(name, src)
			if err != nil {
				faults = append(faults, err)
				continue
			}
			s.words[language] = w
			continue
		}
		t, err := ParseLetterText(name, src)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		key := letterKey{t.Language, t.Kind, t.Variant}
		if other := here[key]; other != "" {
			faults = append(faults, &LetterFault{name, 1, "the same letter, language and variant as in " + other})
		} else if language != t.Language {
			faults = append(faults, &LetterFault{name, 1, fmt.Sprintf("language is %q, but the file lies in %q", t.Language, language)})
		}
		t.Own = own
		here[key], s.texts[key] = name, t
	}
	return faults
}

// wordless names each language that has texts and no words for dates.
func (s *LetterSet) wordless() []error {
	seen := map[string]bool{}
	var faults []error
	for _, t := range s.All() {
		if s.words[t.Language] == nil && !seen[t.Language] {
			seen[t.Language] = true
			faults = append(faults, &LetterFault{t.Language + "/" + wordsFile, 1, "the file is missing: it says how dates and times read in this language"})
		}
	}
	return faults
}

// Text finds a letter's text; nil when there is none in this language.
func (s *LetterSet) Text(language, kind, variant string) *LetterText {
	return s.texts[letterKey{language, kind, variant}]
}

// Pick finds the text for a family's language: of the whole tag (es-MX), of its
// language (es), or in English. It is nil when even English has none.
func (s *LetterSet) Pick(tag, kind, variant string) *LetterText {
	for _, language := range []string{tag, baseLanguage(tag)} {
		if t := s.Text(language, kind, variant); t != nil {
			return t
		}
	}
	return s.Text("en", kind, variant)
}

// Words are the words of a language for dates and times; those of English when it has
// none.
func (s *LetterSet) Words(language string) *LetterWords {
	if w := s.words[language]; w != nil {
		return w
	}
	return s.words["en"]
}

// All lists the texts by language, then in the order of their kinds and variants.
func (s *LetterSet) All() []*LetterText {
	order := LetterKindNames()
	return slices.SortedFunc(maps.Values(s.texts), func(a, b *LetterText) int {
		return cmp.Or(cmp.Compare(a.Language, b.Language), cmp.Compare(slices.Index(order, a.Kind), slices.Index(order, b.Kind)), cmp.Compare(a.Variant, b.Variant))
	})
}

// Languages lists the languages that have at least one text, in order.
func (s *LetterSet) Languages() []string {
	seen := map[string]bool{}
	for key := range s.texts {
		seen[key.language] = true
	}
	return slices.Sorted(maps.Keys(seen))
}

// Missing names each letter to families that English has and another language of the
// set lacks. Families of that language get it in English, with a note to call them
// with an interpreter.
func (s *LetterSet) Missing() []LetterFault {
	var out []LetterFault
	for _, language := range s.Languages() {
		for _, k := range letterKinds {
			for _, variant := range k.variants {
				if k.family && s.Text(language, k.kind, variant) == nil {
					out = append(out, LetterFault{language + "/" + textName(k.kind, variant), 1,
						"the translation is missing: these letters go out in English, with a note to call with an interpreter"})
				}
			}
		}
	}
	return out
}

func textName(kind, variant string) string {
	if variant != "" {
		kind += "-" + variant
	}
	return kind + ".txt"
}
