package measures

import (
	"math"
	"strconv"
)

// Number is a figure that may be undefined: NaN in memory, null in JSON. A curve
// of a million steps keeps its limits in these without a pointer for each.
type Number float64

// undefined is a figure that does not exist, such as a limit where nobody waits.
var undefined = Number(math.NaN())

// Defined tells whether the figure exists.
func (n Number) Defined() bool { return !math.IsNaN(float64(n)) }

// MarshalJSON writes the figure with the fewest digits that read back to the same
// value, or null.
func (n Number) MarshalJSON() ([]byte, error) { return n.append(nil), nil }

// append adds what MarshalJSON gives.
func (n Number) append(b []byte) []byte {
	f := float64(n)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return append(b, "null"...)
	}
	format := byte('f')
	if a := math.Abs(f); a != 0 && (a < 1e-6 || a >= 1e21) {
		format = 'e'
	}
	return strconv.AppendFloat(b, f, format, -1, 64)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (n *Number) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = undefined
		return nil
	}
	f, err := strconv.ParseFloat(string(b), 64)
	*n = Number(f)
	return err
}

// numberOf turns an optional figure into a Number.
func numberOf(f *float64) Number {
	if f == nil {
		return undefined
	}
	return Number(*f)
}
