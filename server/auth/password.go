package auth

import (
	"context"
	_ "embed"
	"fmt"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"dunlin/cases"

	"github.com/alexedwards/argon2id"
	"golang.org/x/text/unicode/norm"
)

// params are fixed: the library's default takes the number of processors.
var params = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// Limits of a password, in code points after normalization. NIST SP 800-63B-4: 15 when
// it is the only factor, 8 when a second one is always asked for; at least 64 must be
// possible.
const (
	MinPassword = 15
	MinWithCode = 8
	MaxPassword = 256
)

// hashing lets two hashes run at once: each takes 19 MiB and tens of milliseconds.
var hashing = make(chan struct{}, 2)

// Hash returns the encoded Argon2id hash of a password.
func Hash(password string) (string, error) {
	hashing <- struct{}{}
	defer func() { <-hashing }()
	return argon2id.CreateHash(norm.NFKC.String(password), params)
}

// matches compares a password with an encoded hash in constant time. It gives up with
// the context while it waits for its turn.
func matches(ctx context.Context, password, hash string) (bool, error) {
	select {
	case hashing <- struct{}{}:
	case <-ctx.Done():
		return false, ctx.Err()
	}
	defer func() { <-hashing }()
	return argon2id.ComparePasswordAndHash(norm.NFKC.String(password), hash)
}

// CheckPassword refuses a password of fewer than least characters, of more than
// MaxPassword, or one that is easily guessed: among the 10,000 most used, one short
// piece over and over, a run of neighbors, or made of the person's or the program's
// name. The error says why, for people.
func CheckPassword(password, id, name string, least int) error {
	if !utf8.ValidString(password) {
		return refuse("Password has characters that cannot be read. Type it again")
	}
	password = norm.NFKC.String(password)
	n := utf8.RuneCountInString(password)
	switch {
	case n < least:
		return refuse("Password must be at least %d characters. It is %d. A few words in a row are easy to remember", least, n)
	case n > MaxPassword:
		return refuse("Password must be at most %d characters. It is %d", MaxPassword, n)
	}
	fold := strings.ToLower(password)
	if common()[fold] || common()[piece(fold)] {
		return refuse("Password is one of those that are guessed first. Choose another")
	}
	if len([]rune(piece(fold))) < 6 || few(fold) {
		return refuse("Password repeats the same few characters. Choose another")
	}
	if runs(fold) {
		return refuse("Password is a row of neighbors, like 1234 or abcd. Choose another")
	}
	return named(fold, id, name)
}

// named refuses a password that is little more than a name that others know.
func named(fold, id, name string) error {
	local, _, _ := strings.Cut(strings.ToLower(id), "@")
	for _, x := range []struct{ word, is string }{{"dunlin", "the name of the program"}, {"password", "the word password"}, {local, "the sign-in name"}} {
		if len(x.word) > 3 && strings.Contains(fold, x.word) {
			return refuse("Password must not contain %s", x.is)
		}
	}
	for _, part := range strings.FieldsFunc(strings.ToLower(norm.NFKC.String(name)), func(r rune) bool { return !unicode.IsLetter(r) }) {
		if utf8.RuneCountInString(part) > 3 && strings.Contains(fold, part) {
			return refuse("Password must not contain the person's name")
		}
	}
	return nil
}

// piece is what a text repeats over and over; the text itself when it does not.
func piece(s string) string {
	r := []rune(s)
	for n := 1; n <= len(r)/2; n++ {
		if len(r)%n == 0 && strings.Repeat(string(r[:n]), len(r)/n) == s {
			return string(r[:n])
		}
	}
	return s
}

// few tells whether a text has fewer than 5 different characters.
func few(s string) bool {
	seen := map[rune]bool{}
	for _, r := range s {
		seen[r] = true
	}
	return len(seen) < 5
}

// rows are keys that lie side by side.
const rows = "qwertyuiop\x00asdfghjkl\x00zxcvbnm\x001234567890"

// runs tells whether more than three quarters of the steps of a text lead to the next
// or the last character of the alphabet, of the digits or of the keyboard.
func runs(s string) bool {
	r := []rune(s)
	n := 0
	for i := 1; i < len(r); i++ {
		d := r[i] - r[i-1]
		if d == 1 || d == -1 || strings.Contains(rows, string(r[i-1:i+1])) || strings.Contains(rows, string([]rune{r[i], r[i-1]})) {
			n++
		}
	}
	return len(r) > 1 && 4*n > 3*(len(r)-1)
}

// commonText holds the most used passwords of 8 and more characters, most used first.
// Source: data/passwords.txt of the Go module github.com/trustelem/zxcvbn v1.0.1, under
// the MIT license that lies beside it.
//
//go:embed common.txt
var commonText string

var common = sync.OnceValue(func() map[string]bool {
	list := make(map[string]bool, 10_000)
	for word := range strings.FieldsSeq(commonText) {
		list[word] = true
	}
	return list
})

func refuse(format string, args ...any) error { return invalid("password", format, args...) }

// invalid is a problem of one field of a form, in words for people.
func invalid(field, format string, args ...any) error {
	return &cases.Error{Kind: cases.Invalid, Field: field, Text: fmt.Sprintf(format, args...)}
}
