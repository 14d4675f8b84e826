// Package letters makes the letters to families. Compose turns a case, a letter
// text and the program's own facts into a Letter, which is data only: kept, it gives
// the same PDF bytes again years later. Press makes each day's letters that are due.
//
// What shows in the window of the envelope is the line "Parent or guardian", the
// guardian's surname if the program allows it, and the address. Nothing on the sheet
// names a result, a variant or a diagnosis, and the printed number is the letter's
// own.
package letters
