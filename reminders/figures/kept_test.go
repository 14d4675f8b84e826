package figures

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// What was kept once is read for ever: the file is never written anew. When this fails,
// a field of the report was renamed or taken away.
func TestFiguresKeptOnceAreReadForEver(t *testing.T) {
	file := filepath.Join("testdata", "kept-1.json")
	raw, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) && *update {
		y := madeUp(40)
		k := Kept{Year: 2025, N: 1, On: y.AsOf, By: "Ines Okafor-Lund", Why: "for the state", AsOf: y.AsOf, Protocol: json.RawMessage(`{"qns_benchmark_young":0.1,"min_age_days":10}`),
			Shown: Words(y.Publish(measures.SmallNumbers{Below: 5}), about()), Full: Words(y.Publish(measures.SmallNumbers{}), about())}
		if raw, err = json.Marshal(k); err == nil {
			err = os.WriteFile(file, raw, 0o644)
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	var k Kept
	if err := dec.Decode(&k); err != nil {
		t.Fatal(err)
	}
	for _, full := range []bool{false, true} {
		r := k.Report(full)
		if len(r.Sections) < 7 || len(r.Sections[1].Curves) != 2 || r.Full != full {
			t.Errorf("%d sections, full %v", len(r.Sections), r.Full)
		}
		if file := pdf(t, r, Papers[0]); !bytes.HasPrefix(file, []byte("%PDF-")) {
			t.Error("no PDF")
		}
		var b strings.Builder
		if err := WriteText(&b, r); err != nil || !strings.Contains(b.String(), "40 infants born in 2025") || strings.Contains(b.String(), "Not for release") != full {
			t.Errorf("%v, %.300s", err, b.String())
		}
		for _, c := range r.Sections[1].Curves {
			if f := c.Figure(); !f.Curve.Drawn() || f.Curve.Lines[0].Joined == full {
				t.Errorf("%s is not drawn as it was", c.ID)
			}
		}
	}
	says := strings.Join(k.Since(k.Shown, cases.DefaultProtocol()), "\n")
	if !strings.Contains(says, "Least age was 10, and is 14 now") || strings.Contains(says, "benchmark, up to 3 months was") {
		t.Errorf("the protocol since: %s", says)
	}
}
