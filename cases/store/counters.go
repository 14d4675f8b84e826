package store

import "errors"

// counter is a running number spoken by people, one a name.
type counter struct {
	Name string `json:"name"`
	N    uint64 `json:"n"`
}

func counterTable() *table[counter] {
	return &table[counter]{name: "numbers", strict: true, key: func(c *counter) string { return c.Name }}
}

// count gives the next number of a name, in the caller's transaction, so that
// a refusal leaves no gap.
func (w *writer) count(name string) (uint64, error) {
	c, err := w.db.counters.get(w.tx, name)
	if errors.Is(err, errNoRecord) {
		c, err = &counter{Name: name}, nil
	}
	if err != nil {
		return 0, err
	}
	c.N++
	_, err = w.db.counters.put(w.tx, c)
	return c.N, err
}
