package intake

// longestName bounds the work of a comparison, in letters.
const longestName = 64

// jaroWinkler is the Jaro-Winkler similarity of two names, from 0 to 1: the Jaro part
// raised by a tenth for each of up to four first letters that agree, whatever the Jaro
// part (Winkler, US Census Bureau RR94/05, 1994). An empty name agrees with nothing.
func jaroWinkler(a, b string) float64 {
	if a == b && a != "" {
		return 1
	}
	var ra, rb [longestName]rune
	x, y := letters(&ra, a), letters(&rb, b)
	j := jaro(x, y)
	prefix := 0
	for prefix < min(4, len(x), len(y)) && x[prefix] == y[prefix] {
		prefix++
	}
	return j + float64(prefix)*0.1*(1-j)
}

func letters(to *[longestName]rune, s string) []rune {
	n := 0
	for _, r := range s {
		if n == longestName {
			break
		}
		to[n] = r
		n++
	}
	return to[:n]
}

// jaro counts the letters that both have at nearly the same place, and half of those
// that are in another order. The half is kept where the number is odd, as in Winkler's
// table (ITMAN, SMITH: 0.467); some implementations round it down.
func jaro(a, b []rune) float64 {
	if len(a) == 0 || len(b) == 0 {
		return 0
	}
	window := max(0, max(len(a), len(b))/2-1)
	var inA, inB [longestName]bool
	matched := 0
	for i, r := range a {
		for k := max(0, i-window); k < min(len(b), i+window+1); k++ {
			if !inB[k] && b[k] == r {
				inA[i], inB[k] = true, true
				matched++
				break
			}
		}
	}
	if matched == 0 {
		return 0
	}
	moved, k := 0, 0
	for i, r := range a {
		if !inA[i] {
			continue
		}
		for !inB[k] {
			k++
		}
		if b[k] != r {
			moved++
		}
		k++
	}
	m := float64(matched)
	return (m/float64(len(a)) + m/float64(len(b)) + (m-float64(moved)/2)/m) / 3
}
