package export

import (
	"strconv"
	"time"

	"dunlin/cases"
)

// kind is how a value is written.
type kind uint8

const (
	none kind = iota
	text
	number
	date
)

// Value is one cell. The zero value is an empty cell: not known, or not defined.
type Value struct {
	kind kind
	text string
	num  float64
}

// hiddenWord stands where a count is hidden for being small, or beside one that is.
const hiddenWord = "hidden"

// Hidden is the cell of a count that may not be shown.
var Hidden = Value{kind: text, text: hiddenWord}

// Text is a cell of text; an empty text is an empty cell.
func Text(s string) Value {
	if s == "" {
		return Value{}
	}
	return Value{kind: text, text: s}
}

// Int is a cell that holds a whole number.
func Int(n int) Value { return Value{kind: number, num: float64(n)} }

// Num is a cell that holds a number.
func Num(f float64) Value { return Value{kind: number, num: f} }

// Maybe is a cell that holds a number, or nothing.
func Maybe(f *float64) Value {
	if f == nil {
		return Value{}
	}
	return Num(*f)
}

// Date is a cell that holds a day; day 0 is an empty cell.
func Date(d cases.Day) Value {
	if d == 0 {
		return Value{}
	}
	return Value{kind: date, num: float64(d)}
}

// Yes is a cell that says yes or no.
func Yes(b bool) Value {
	if b {
		return Text("yes")
	}
	return Text("no")
}

// csv adds the value as CSV writes it: text in quotes and safe from being read as a
// formula, numbers and days bare.
func (v Value) csv(b []byte) []byte {
	switch v.kind {
	case number:
		return strconv.AppendFloat(b, v.num, 'f', -1, 64)
	case date:
		return append(b, cases.Day(v.num).String()...)
	case text:
		return quoted(b, Safe(v.text))
	}
	return b
}

// dayZero is the day that workbooks count days from (the 1900 date system, from
// 1 March 1900 on).
var dayZero = time.Date(1899, time.December, 30, 0, 0, 0, 0, time.UTC)

// serial is a day as workbooks keep it.
func serial(d cases.Day) int { return int(d.Time().Sub(dayZero) / (24 * time.Hour)) }
