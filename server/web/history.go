package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// historyShown is how many entries of the trail a page shows unless asked for all.
const historyShown = 12

// historyRows sets out one entry of the audit trail: a row for each value that
// changed. The entry that opened the case is one row.
func (s *server) historyRows(e cases.Entry) []templates.HistoryRow {
	who := e.Actor.Name
	if w := roleWords[e.Actor.Role]; w != "" && e.Actor.Role != cases.System {
		who += ", " + strings.ToLower(w)
	}
	row := templates.HistoryRow{On: date(s.dayOf(e.At)), At: s.clock(e.At), Who: who, What: dated(or(e.Event.Text, sentence(strings.ReplaceAll(e.Event.Kind, "-", " ")))), Reason: e.Event.Reason}
	if e.FromRev == 0 || len(e.Fields) == 0 {
		return []templates.HistoryRow{row}
	}
	rows := make([]templates.HistoryRow, 0, len(e.Fields))
	for i, f := range e.Fields {
		r := row
		if i > 0 {
			r.Reason, r.What = "", ""
		}
		if path := pathWords(f.Path); r.What == "" {
			r.What = path
		} else if path != "" {
			r.What += " (" + path + ")"
		}
		r.Before, r.Now = valueWords(f.Old), valueWords(f.New)
		rows = append(rows, r)
	}
	return rows
}

var listIndex = regexp.MustCompile(`\[(\d+)\]`)

// pathWords reads the path of a value: sweat_tests[0].arms[1].minutes is
// "sweat tests 1, arms 2, minutes".
func pathWords(path string) string {
	path = listIndex.ReplaceAllStringFunc(path, func(m string) string {
		n, err := strconv.Atoi(m[1 : len(m)-1])
		if err != nil {
			return m
		}
		return " " + strconv.Itoa(n+1)
	})
	return strings.ReplaceAll(strings.ReplaceAll(path, ".", ", "), "_", " ")
}

// valueWords writes a JSON value for people: text bare, dates in words, an
// object as its members, nothing as "None".
func valueWords(raw json.RawMessage) string {
	if len(raw) == 0 {
		return "None"
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	return tokenWords(dec)
}

// tokenWords reads one value; members keep the order in which they were kept.
func tokenWords(dec *json.Decoder) string {
	t, err := dec.Token()
	if err != nil {
		return "None"
	}
	switch v := t.(type) {
	case json.Delim:
		var parts []string
		for dec.More() {
			name := ""
			if v == '{' {
				k, err := dec.Token()
				if err != nil {
					break
				}
				name = strings.ReplaceAll(fmt.Sprint(k), "_", " ") + ": "
			}
			parts = append(parts, name+tokenWords(dec))
		}
		_, _ = dec.Token() // the closing mark
		return or(strings.Join(parts, "; "), "None")
	case string:
		if d := templates.DateOf(v); !d.IsZero() {
			return d.String()
		}
		return or(v, "None")
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case nil:
		return "None"
	}
	return fmt.Sprint(t)
}
