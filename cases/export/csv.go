package export

import (
	"archive/zip"
	"bufio"
	"io"
)

// writeCSV writes one table: commas, every text in quotes, lines that end in CR LF,
// UTF-8 without a byte order mark.
func (t *Table) writeCSV(w io.Writer) (rows int, err error) {
	out := bufio.NewWriterSize(w, 1<<16)
	var line []byte
	for i, c := range t.Columns {
		if i > 0 {
			line = append(line, ',')
		}
		line = quoted(line, c.Key)
	}
	out.Write(append(line, '\r', '\n')) // an error comes back from Flush
	rows, err = t.each(func(row []Value) error {
		line = line[:0]
		for i, v := range row {
			if i > 0 {
				line = append(line, ',')
			}
			line = v.csv(line)
		}
		_, err := out.Write(append(line, '\r', '\n'))
		return err
	})
	if err != nil {
		return rows, err
	}
	return rows, out.Flush()
}

// writeZIP writes each table as a CSV file. The files carry no time, so that the
// same figures give the same bytes.
func (b *Book) writeZIP(w io.Writer) (rows int, err error) {
	z := zip.NewWriter(w)
	for _, t := range b.sheets() {
		f, err := z.CreateHeader(&zip.FileHeader{Name: t.Name + ".csv", Method: zip.Deflate})
		if err != nil {
			return rows, err
		}
		n, err := t.writeCSV(f)
		if err != nil {
			return rows, err
		}
		rows += n
	}
	return rows, z.Close()
}
