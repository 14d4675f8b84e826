package measures

import (
	"encoding/json"
	"io"
	"strconv"
)

// WriteJSON writes the analysis as json.Marshal would, but step by step: a curve
// may have a million steps, and is never held as text.
func (a Analysis) WriteJSON(w io.Writer) error {
	j := jsonWriter{w: w}
	j.text(`{"conf_type":`).value(a.ConfType).text(`,"groups":[`)
	for i := range a.Groups {
		if i > 0 {
			j.text(",")
		}
		j.group(&a.Groups[i])
	}
	j.text(`],"log_rank":`).value(a.LogRank).text("}\n").flush()
	return j.err
}

// jsonWriter gathers text and passes it on in large pieces.
type jsonWriter struct {
	w   io.Writer
	buf []byte
	err error
}

func (j *jsonWriter) text(s string) *jsonWriter {
	j.buf = append(j.buf, s...)
	if len(j.buf) > 1<<16 {
		j.flush()
	}
	return j
}

func (j *jsonWriter) flush() {
	if j.err == nil {
		_, j.err = j.w.Write(j.buf)
	}
	j.buf = j.buf[:0]
}

func (j *jsonWriter) value(v any) *jsonWriter {
	raw, err := json.Marshal(v)
	if err != nil && j.err == nil {
		j.err = err
	}
	return j.text(string(raw))
}

func (j *jsonWriter) figure(name string, n Number) *jsonWriter {
	j.text(name)
	j.buf = n.append(j.buf)
	return j
}

func (j *jsonWriter) count(name string, n int) *jsonWriter {
	j.text(name)
	j.buf = strconv.AppendInt(j.buf, int64(n), 10)
	return j
}

func (j *jsonWriter) group(g *Analyzed) {
	j.text(`{"name":`).value(g.Name).count(`,"n":`, g.N).count(`,"events":`, g.Events)
	j.figure(`,"median":`, g.Median).figure(`,"median_low":`, g.MedianLow).figure(`,"median_high":`, g.MedianHigh)
	j.text(`,"rmean":`).value(g.RMean).text(`,"curve":[`)
	for i := range g.Curve {
		if i > 0 {
			j.text(",")
		}
		s := &g.Curve[i]
		j.figure(`{"time":`, s.Time).count(`,"n_risk":`, s.NRisk).count(`,"n_event":`, s.NEvent).count(`,"n_censor":`, s.NCensor)
		j.figure(`,"surv":`, s.Surv).figure(`,"se":`, s.SE).figure(`,"low":`, s.Low).figure(`,"high":`, s.High).text("}")
	}
	j.text(`],"incidence":[`)
	for k, f := range g.Incidence {
		if k > 0 {
			j.text(",")
		}
		j.count(`{"reason":`, f.Reason).text(`,"steps":[`)
		for i := range f.Steps {
			if i > 0 {
				j.text(",")
			}
			j.figure(`{"time":`, f.Steps[i].Time).figure(`,"value":`, f.Steps[i].Value).figure(`,"se":`, f.Steps[i].SE).text("}")
		}
		j.text("]}")
	}
	j.text("]}")
}
