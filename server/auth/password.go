package auth

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"dunlin/cases"

	"github.com/alexedwards/argon2id"
)

// params are fixed: the library's default takes the number of processors.
var params = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// Limits of a password, in characters. NIST SP 800-63B-4: 15 when it is the
// only factor; at least 64 must be possible.
const (
	MinPassword = 15
	MaxPassword = 256
)

// hashing lets two hashes run at once: each takes 19 MiB and tens of milliseconds.
var hashing = make(chan struct{}, 2)

// Hash returns the encoded Argon2id hash of a password.
func Hash(password string) (string, error) {
	hashing <- struct{}{}
	defer func() { <-hashing }()
	return argon2id.CreateHash(password, params)
}

// matches compares a password with an encoded hash in constant time.
func matches(password, hash string) (bool, error) {
	hashing <- struct{}{}
	defer func() { <-hashing }()
	return argon2id.ComparePasswordAndHash(password, hash)
}

// CheckPassword refuses a password that is too short, too long, made of few
// different characters, or that contains the person's or the program's name.
// The error says why, for people.
func CheckPassword(password, id, name string) error {
	n := utf8.RuneCountInString(password)
	fold := strings.ToLower(password)
	different := map[rune]bool{}
	for _, r := range fold {
		different[r] = true
	}
	local, _, _ := strings.Cut(strings.ToLower(id), "@")
	switch {
	case n < MinPassword:
		return refuse("Password must be at least %d characters. A few words in a row are easy to remember", MinPassword)
	case n > MaxPassword:
		return refuse("Password must be at most %d characters", MaxPassword)
	case len(different) < 6:
		return refuse("Password must have at least 6 different characters")
	case strings.Contains(fold, "dunlin") || strings.Contains(fold, "password"):
		return refuse("Password must not contain the name of the program or the word password")
	case len(local) > 3 && strings.Contains(fold, local):
		return refuse("Password must not contain the sign-in name")
	}
	for _, part := range strings.Fields(strings.ToLower(name)) {
		if len(part) > 3 && strings.Contains(fold, part) {
			return refuse("Password must not contain the person's name")
		}
	}
	return nil
}

func refuse(format string, args ...any) error {
	text := fmt.Sprintf(format, args...)
	return &cases.Error{Kind: cases.Invalid, Field: "password", Text: text}
}
