package measures

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"
)

// FuzzReadData: whatever the file, it is refused with reasons or analyzed whole, and
// the analysis can be written.
func FuzzReadData(f *testing.F) {
	for _, s := range []string{"time,event\n3,1\n5,0\n", "\ufeff# x\r\nstatus,time,g\r\n2,4.5,\"a\"\r\n", "time,event,g\n1,1,a\n1,1,b\n", "\"\n", "time,event\n-0,1\n1e300,1\n"} {
		f.Add(s, "g")
		f.Add(s, "")
	}
	f.Fuzz(func(t *testing.T, s, group string) {
		d, err := ReadData(strings.NewReader(s), group)
		if err != nil {
			if e := (*DataError)(nil); !errors.As(err, &e) || len(e.Faults) == 0 {
				t.Fatalf("refused with %v", err)
			}
			return
		}
		a := d.Analyze(0)
		n := 0
		for _, g := range a.Groups {
			n += g.N
		}
		if n != len(d.Observations) {
			t.Fatalf("%d of %d cases", n, len(d.Observations))
		}
		var b bytes.Buffer
		if err := a.WriteJSON(&b); err != nil || !json.Valid(b.Bytes()) {
			t.Fatalf("%v: %s", err, b.String())
		}
		if err := a.WriteText(io.Discard); err != nil {
			t.Fatal(err)
		}
	})
}
