package auth

import (
	"encoding/json"
	"fmt"
	"time"
)

// codec writes a session so that the same values give the same bytes: a store
// can then tell that nothing changed and need not write. All values are text.
type codec struct{}

type sessionData struct {
	Deadline time.Time         `json:"deadline"`
	Values   map[string]string `json:"values"`
}

// Encode writes deadline and values, keys in order.
func (codec) Encode(deadline time.Time, values map[string]any) ([]byte, error) {
	d := sessionData{deadline.UTC(), make(map[string]string, len(values))}
	for k, v := range values {
		text, ok := v.(string)
		if !ok {
			return nil, fmt.Errorf("auth: session value %q is no text", k)
		}
		d.Values[k] = text
	}
	return json.Marshal(d)
}

// Decode reads what Encode wrote.
func (codec) Decode(b []byte) (time.Time, map[string]any, error) {
	var d sessionData
	if err := json.Unmarshal(b, &d); err != nil {
		return time.Time{}, nil, fmt.Errorf("auth: session: %w", err)
	}
	values := make(map[string]any, len(d.Values))
	for k, v := range d.Values {
		values[k] = v
	}
	return d.Deadline, values, nil
}
