package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"time"

	"dunlin/cases"
	"dunlin/cases/export"
)

// sendFile writes a book, keeps in the audit trail what it is, and only then sends it:
// no entry, no file. name is the file's without its ending.
func (s *server) sendFile(c Ctx, name string, log export.Log, b *export.Book, table string) error {
	return s.sendWritten(c, name, log, func(w io.Writer) (int, error) { return b.Write(w, log.Format, table) })
}

// sendSnapshot sends a book whose rows come from the store: all from one snapshot.
func (s *server) sendSnapshot(c Ctx, name string, log export.Log, book func(cases.Reader) export.Book) error {
	return s.sendWritten(c, name, log, func(w io.Writer) (rows int, err error) {
		err = s.view(c, func(r cases.Reader) error {
			b := book(r)
			rows, err = b.Write(w, log.Format, "")
			return err
		})
		return rows, err
	})
}

// errBusy refuses a second file while one is made, so that exports cannot take the
// program's time from those who work.
var errBusy = cases.Errorf(cases.Refused, "Another file is being made just now. Try again in a minute. Nothing was exported.")

// errTooLong is a file that takes longer to make than an answer may take.
var errTooLong = cases.Errorf(cases.Refused, "These are more cases than can be written while you wait. Nothing was exported. Choose fewer cases or CSV, or ask the administrator for the command “dunlin export”.")

// sendWritten makes a file aside, in one that has no name any more and so vanishes
// with the request, and sends it once the audit trail has it.
func (s *server) sendWritten(c Ctx, name string, log export.Log, write func(io.Writer) (int, error)) error {
	if !s.exporting.TryLock() {
		return errBusy
	}
	f, err := nameless()
	if err == nil {
		sum := sha256.New()
		log.Rows, err = write(inTime{c.Request().Context(), io.MultiWriter(f, sum)})
		log.Sum = hex.EncodeToString(sum.Sum(nil))
	}
	s.exporting.Unlock()
	if f != nil {
		defer f.Close()
	}
	if err != nil {
		return err
	}
	size, err := f.Seek(0, io.SeekCurrent)
	if err != nil {
		return fmt.Errorf("web: export: %w", err)
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("web: export: %w", err)
	}
	visitOf(c).rows = log.Rows
	if err := s.note(c, log.Event()); err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name+"."+log.Format))
	h.Set("Content-Length", fmt.Sprint(size))
	// A slow line may take longer than a page; where that cannot be set, the file's
	// length tells the browser that it is cut short.
	_ = http.NewResponseController(c.Response()).SetWriteDeadline(time.Now().Add(sendLimit))
	return c.Stream(http.StatusOK, export.MediaType(log.Format), f)
}

// sendLimit is how long a finished file may take on its way.
const sendLimit = 5 * time.Minute

// inTime refuses to write once the time of a request is over.
type inTime struct {
	ctx context.Context
	io.Writer
}

func (w inTime) Write(p []byte) (int, error) {
	if w.ctx.Err() != nil {
		return 0, errTooLong
	}
	return w.Writer.Write(p)
}

// nameless is a file for the time being that only this process can reach.
func nameless() (*os.File, error) {
	f, err := os.CreateTemp("", "dunlin-export-")
	if err != nil {
		return nil, fmt.Errorf("web: export: %w", err)
	}
	if err := os.Remove(f.Name()); err != nil {
		return nil, errors.Join(fmt.Errorf("web: export: %w", err), f.Close())
	}
	return f, nil
}
