package safekeeping

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"dunlin/cases/store"
)

// Manifest says what a back-up holds. It lies beside it, readable without a key.
type Manifest struct {
	Format     int            `json:"format"`
	File       string         `json:"file"` // name in the folder
	At         time.Time      `json:"at"`   // UTC, when the snapshot was taken
	By         string         `json:"by"`   // "schedule", or who asked for it
	Release    string         `json:"release"`
	Schema     int            `json:"schema"`
	Recipients []string       `json:"recipients,omitempty"` // public keys; empty = not encrypted
	Bytes      int64          `json:"bytes"`                // of the file
	SHA256     string         `json:"sha256"`               // of the file
	StoreBytes int64          `json:"store_bytes"`          // of the store in it
	StoreHash  string         `json:"store_sha256"`
	Counts     map[string]int `json:"counts"`     // records by table
	AuditSeq   uint64         `json:"audit_seq"`  // end of the audit trail
	AuditHash  string         `json:"audit_hash"` // hex SHA-256
	Verified   time.Time      `json:"verified"`   // when it was read back and held up
	Seconds    float64        `json:"seconds"`    // that making and verifying took
	Sum        string         `json:"sum"`        // SHA-256 of this manifest without it
}

const manifestFormat = 1

// Encrypted tells whether a key is needed to restore it.
func (m *Manifest) Encrypted() bool { return len(m.Recipients) > 0 }

func (m *Manifest) sum() (string, error) {
	c := *m
	c.Sum = ""
	text, err := json.Marshal(&c)
	if err != nil {
		return "", err
	}
	h := sha256.Sum256(text)
	return hex.EncodeToString(h[:]), nil
}

// manifestOf is the path of the manifest of a back-up.
func manifestOf(file string) string {
	return strings.TrimSuffix(strings.TrimSuffix(file, ".age"), ".db") + ".json"
}

// write puts the manifest beside its back-up, whole or not at all.
func (m *Manifest) write(folder string) (err error) {
	if m.Sum, err = m.sum(); err != nil {
		return err
	}
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	path := filepath.Join(folder, manifestOf(m.File))
	part := path + ".part"
	defer os.Remove(part)
	f, err := os.OpenFile(part, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(append(text, '\n'))
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	return syncFolder(folder)
}

// errManifest is a manifest that cannot be believed.
var errManifest = errors.New("its manifest is damaged")

// maxManifest bounds what is read of a manifest, in bytes.
const maxManifest = 1 << 20

func readManifest(path string) (*Manifest, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxManifest))
	if err != nil {
		return nil, err
	}
	var m Manifest
	if err := json.Unmarshal(text, &m); err != nil {
		return nil, fmt.Errorf("%w (%s)", errManifest, filepath.Base(path))
	}
	sum, err := m.sum()
	if err != nil || sum != m.Sum || m.Format != manifestFormat || m.File != filepath.Base(m.File) || manifestOf(m.File) != filepath.Base(path) {
		return nil, fmt.Errorf("%w (%s)", errManifest, filepath.Base(path))
	}
	return &m, nil
}

// Held is one back-up as it lies in the folder. Trouble says why it cannot be
// counted on; "" when file and manifest fit by size.
type Held struct {
	Manifest
	Path    string
	Trouble string
}

// List reads the manifests of a folder, newest first. Files without one are not
// ours to judge and are left out.
func List(folder string) ([]Held, error) {
	found, err := filepath.Glob(filepath.Join(escapeGlob(folder), "*.json"))
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(folder); err != nil {
		return nil, err
	}
	var out []Held
	for _, path := range found {
		m, err := readManifest(path)
		if errors.Is(err, errManifest) {
			if h, ok := unreadable(path); ok {
				out = append(out, h)
			}
			continue
		}
		if err != nil {
			return nil, err
		}
		h := Held{Manifest: *m, Path: filepath.Join(folder, m.File)}
		switch info, err := os.Stat(h.Path); {
		case errors.Is(err, os.ErrNotExist):
			h.Trouble = "The file is gone."
		case err != nil:
			h.Trouble = "The file cannot be read."
		case info.Size() != m.Bytes:
			h.Trouble = fmt.Sprintf("The file was cut short or added to: it has %d bytes, %d were written.", info.Size(), m.Bytes)
		}
		out = append(out, h)
	}
	slices.SortStableFunc(out, func(a, b Held) int { return b.At.Compare(a.At) })
	return out, nil
}

// unreadable stands for a back-up of ours whose manifest is damaged: it can be
// restored, and cannot be compared.
func unreadable(path string) (h Held, ok bool) {
	for _, end := range []string{".db.age", ".db"} {
		file := strings.TrimSuffix(path, ".json") + end
		info, err := os.Stat(file)
		at, named := timeOf(file)
		if err == nil && named {
			return Held{Manifest: Manifest{File: filepath.Base(file), At: at, Bytes: info.Size()}, Path: file, Trouble: "Its manifest is damaged, so the file cannot be compared with what was written."}, true
		}
	}
	return h, false
}

const stampForm = "20060102T150405Z"

func fileName(base string, at time.Time, encrypted bool) string {
	name := base + "-" + at.UTC().Format(stampForm) + ".db"
	if encrypted {
		name += ".age"
	}
	return name
}

func timeOf(file string) (at time.Time, ok bool) {
	name := strings.TrimSuffix(strings.TrimSuffix(filepath.Base(file), ".age"), ".db")
	i := strings.LastIndexByte(name, '-')
	if i < 0 {
		return at, false
	}
	at, err := time.Parse(stampForm, name[i+1:])
	return at, err == nil
}

func escapeGlob(s string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(s)
}

// Newest gives the newest back-up of a folder that was verified and still has the
// bytes that were written then; false when there is none.
func Newest(folder string) (Held, bool) {
	list, err := List(folder)
	if err != nil {
		return Held{}, false
	}
	for _, h := range list {
		if h.Trouble == "" && !h.Verified.IsZero() && h.Recheck() == nil {
			return h, true
		}
	}
	return Held{}, false
}

// Recheck reads a back-up from end to end and compares it with its manifest.
func (h *Held) Recheck() error {
	if h.Trouble != "" {
		return errors.New(h.Trouble)
	}
	sum, n, err := hashFile(h.Path)
	switch {
	case err != nil:
		return fmt.Errorf("%s cannot be read: %w", h.File, err)
	case n != h.Bytes || sum != h.SHA256:
		return fmt.Errorf("%s was changed since it was written: its hash does not fit its manifest", h.File)
	}
	return nil
}

func hashFile(path string) (sum string, n int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	n, err = io.CopyBuffer(h, f, make([]byte, 1<<20))
	return hex.EncodeToString(h.Sum(nil)), n, err
}

func syncFolder(folder string) error {
	d, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// take fills in what the check of the snapshot said.
func (m *Manifest) take(s store.Summary) {
	m.Schema, m.StoreBytes, m.Counts, m.AuditSeq, m.AuditHash = s.Schema, s.Bytes, s.Counts, s.Seq, s.Hash
}
