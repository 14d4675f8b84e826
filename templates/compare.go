package templates

// Compare sets a message beside one or more infants on file, field by field.
type Compare struct {
	Head    string
	Warning string // what must not be overlooked: "This looks like a twin."
	On      []CompareInfant
	Rows    []CompareRow
}

// CompareInfant is one infant on file in the comparison.
type CompareInfant struct {
	Reference, Name string
	State           string // "closed" and the like; may be empty
	Words           string // "6 of 12 fields agree, 4 differ, 2 are not on both sides."
	Why             string // what the fields say together, in words
	Weights         []Fact // how the weights add up, for those who want to know
}

// CompareRow is one field: what was sent, and what each infant has on file.
type CompareRow struct {
	Name    string
	New     []Part
	Differs bool // from any infant
	On      []CompareCell
}

// CompareCell is what one infant has on file in a field.
type CompareCell struct {
	Reference string
	Value     []Part
	State     string // same, differs or missing
}

// Part is a piece of a value, marked where it differs.
type Part struct {
	Text string
	Mark bool
}

// mostCompared bounds the characters that are compared one by one.
const mostCompared = 120

// Whole is a value as one part.
func Whole(s string, mark bool) []Part { return []Part{{s, mark}} }

// Differences marks where two values differ: character by character when they are
// at least 80% alike, otherwise as wholes.
func Differences(a, b string) (x, y []Part) {
	ra, rb := []rune(a), []rune(b)
	if len(ra) == 0 || len(rb) == 0 || len(ra) > mostCompared || len(rb) > mostCompared {
		return Whole(a, true), Whole(b, true)
	}
	keepA, keepB, n := common(ra, rb)
	if 10*2*n < 8*(len(ra)+len(rb)) {
		return Whole(a, true), Whole(b, true)
	}
	return parts(ra, keepA), parts(rb, keepB)
}

// common finds a longest common subsequence: which characters of each belong to
// it, and how many there are.
func common(a, b []rune) (inA, inB []bool, n int) {
	long := make([][]int, len(a)+1)
	for i := range long {
		long[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				long[i][j] = long[i+1][j+1] + 1
			} else {
				long[i][j] = max(long[i+1][j], long[i][j+1])
			}
		}
	}
	inA, inB = make([]bool, len(a)), make([]bool, len(b))
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i] == b[j]:
			inA[i], inB[j] = true, true
			i, j = i+1, j+1
		case long[i+1][j] >= long[i][j+1]:
			i++
		default:
			j++
		}
	}
	return inA, inB, long[0][0]
}

// parts cuts a value into runs of kept and of differing characters.
func parts(r []rune, kept []bool) []Part {
	var out []Part
	for i, c := range r {
		if n := len(out); n > 0 && out[n-1].Mark == !kept[i] {
			out[n-1].Text += string(c)
			continue
		}
		out = append(out, Part{string(c), !kept[i]})
	}
	return out
}
