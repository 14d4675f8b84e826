package outbox

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"dunlin/cases"
)

// Folder writes messages as files instead of sending them: the demo's way, and one to
// look at what would go out. An e-mail becomes NUMBER.ATTEMPT.eml, a text NUMBER.ATTEMPT.json.
type Folder struct {
	Path           string
	From, FromName string
}

// Send writes one message, whole or not at all.
func (f *Folder) Send(_ context.Context, p Parcel) error {
	var b bytes.Buffer
	name := fmt.Sprintf("%s.%d.", p.Number, p.Attempt)
	switch p.By {
	case cases.ByEmail:
		s := SMTP{From: f.From, FromName: f.FromName}
		m, err := s.compose(p)
		if err == nil {
			_, err = m.WriteTo(&b)
		}
		if err != nil {
			return &Refused{Permanent: true, Text: "The message cannot be written as a mail: " + err.Error()}
		}
		name += "eml"
	default:
		if err := json.NewEncoder(&b).Encode(textOf(p)); err != nil {
			return err
		}
		name += "json"
	}
	if err := os.MkdirAll(f.Path, 0o700); err != nil {
		return err
	}
	return writeWhole(filepath.Join(f.Path, name), b.Bytes())
}

// writeWhole writes a file under another name first, so that a reader never sees half.
func writeWhole(path string, data []byte) (err error) {
	part := path + ".part"
	w, err := os.OpenFile(part, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	if err = errors.Join(err, w.Sync(), w.Close()); err != nil {
		return err
	}
	return os.Rename(part, path)
}
