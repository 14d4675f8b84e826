package safekeeping

import (
	"errors"
	"fmt"
	"io"
	"os"

	"filippo.io/age"
)

// Recipients are the public keys that back-ups are encrypted to.
type Recipients struct {
	Names []string // as they are written
	list  []age.Recipient
}

// ReadRecipients reads a file with one public key a line (age1...); lines that begin
// with # are comments. It refuses a private key, which must not lie here.
func ReadRecipients(path string) (Recipients, error) {
	var r Recipients
	f, err := os.Open(path)
	if err != nil {
		return r, fmt.Errorf("the file of public keys: %w", err)
	}
	defer f.Close()
	if r.list, err = age.ParseRecipients(f); err != nil {
		return r, fmt.Errorf("the file of public keys %s: it must hold one key that begins with age1 on each line (%w)", path, err)
	}
	for _, x := range r.list {
		if s, ok := x.(fmt.Stringer); ok {
			r.Names = append(r.Names, s.String())
		}
	}
	return r, nil
}

// NewKey makes a private key and writes it to a file that must not exist yet. It
// gives the public key.
func NewKey(path string) (public string, err error) {
	id, err := age.GenerateX25519Identity()
	if err != nil {
		return "", err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, os.ErrExist) {
		return "", fmt.Errorf("%s exists already and is left alone; a key that is lost cannot be made again. Name another file", path)
	}
	if err != nil {
		return "", err
	}
	public = id.Recipient().String()
	_, err = fmt.Fprintf(f, "# Private key of Dunlin's back-ups. Keep it away from the machine that makes them.\n# public key: %s\n%s\n", public, id)
	return public, errors.Join(err, f.Sync(), f.Close())
}

// Identities are private keys.
type Identities struct{ list []age.Identity }

// ReadIdentities reads private keys (AGE-SECRET-KEY-...), one a line.
func ReadIdentities(r io.Reader, name string) (Identities, error) {
	list, err := age.ParseIdentities(io.LimitReader(r, 1<<20))
	if err != nil {
		return Identities{}, fmt.Errorf("%s is not a private key: it must hold a line that begins with AGE-SECRET-KEY. The lines that begin with age1 are public keys, which can lock and not open", name)
	}
	return Identities{list}, nil
}

// forOne gives the recipients of one file, with a key made for it alone.
func (r Recipients) forOne() ([]age.Recipient, age.Identity, error) {
	hybrid := false
	for _, x := range r.list {
		_, is := x.(*age.HybridRecipient)
		hybrid = hybrid || is
	}
	list := append([]age.Recipient(nil), r.list...)
	if hybrid { // keys of the two kinds do not mix
		id, err := age.GenerateHybridIdentity()
		if err != nil {
			return nil, nil, err
		}
		return append(list, id.Recipient()), id, nil
	}
	id, err := age.GenerateX25519Identity()
	if err != nil {
		return nil, nil, err
	}
	return append(list, id.Recipient()), id, nil
}
