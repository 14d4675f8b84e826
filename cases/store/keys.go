package store

import (
	"fmt"
	"strings"
)

// Keys are text, so that any viewer of such files can be used in support.
// A key is made of fields, each of fixed width or closed by a zero byte, so
// that byte order is field order and no field can run into the next.

const keyEnd = "\x00"

// maxKeyText bounds one variable field in a key, in bytes; longer text is cut,
// which is harmless because readers compare the record itself.
const maxKeyText = 200

// closed ends a field of variable width with a zero byte.
func closed(text string) string { return clip(text) + keyEnd }

func clip(text string) string {
	if len(text) > maxKeyText {
		text = strings.ToValidUTF8(text[:maxKeyText], "")
	}
	return text
}

// checkField refuses text that would break the order of keys.
func checkField(what, text string) error {
	if strings.Contains(text, keyEnd) {
		return fmt.Errorf("%s holds a zero byte", what)
	}
	return nil
}

// number gives a fixed-width decimal that sorts as the number does.
func number(n uint64) string { return fmt.Sprintf("%012d", n) }
