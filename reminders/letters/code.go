package letters

import (
	"errors"
	"strings"
)

const codeSigns = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// CodeOf is a letter's number with its check sign (ISO/IEC 7064, MOD 37,36), as it is
// printed on the letter for scanning. The number consists of digits and capitals; it
// says nothing of the case.
func CodeOf(number string) string { return number + checkSign(number) }

func checkSign(number string) string {
	sum := 36
	for _, r := range number {
		if sum = (sum + strings.IndexRune(codeSigns, r)) % 36; sum == 0 {
			sum = 36
		}
		sum = sum * 2 % 37
	}
	i := (37 - sum) % 36
	return codeSigns[i : i+1]
}

// numberSigns is how many signs a letter's number has.
const numberSigns = 8

// NumberOf reads a letter's number as it was scanned or typed: with or without its
// check sign, in capitals or not, with blanks or dashes. The error says for people what
// is wrong.
func NumberOf(typed string) (string, error) {
	text := strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r == '\t' || r == '\r' || r == '\n' {
			return -1
		}
		return r
	}, strings.ToUpper(typed))
	for _, r := range text {
		if !strings.ContainsRune(codeSigns, r) {
			return "", errors.New("a letter's number has digits and letters only")
		}
	}
	switch len(text) {
	case numberSigns:
		return text, nil
	case numberSigns + 1:
		number, check := text[:numberSigns], text[numberSigns:]
		want := checkSign(number)
		if check == want || alike[check] == want || alike[want] == check {
			return number, nil
		}
		return "", errors.New("the last sign does not fit the others; scan or type the number again")
	}
	return "", errors.New("a letter's number has eight signs, and one more to check it; scan or type it again")
}

// alike are signs that are taken for each other when typed.
var alike = map[string]string{"0": "O", "1": "I"}
