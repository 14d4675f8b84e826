package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// protocolChecks is the setting that says who checked which value of the
// protocol against its source, and when.
const protocolChecks = "protocol-checks"

// protocolCheck is one such word.
type protocolCheck struct {
	By string    `json:"by"`
	On cases.Day `json:"on"`
}

// protocolPage answers GET /settings/protocol.
func (s *server) protocolPage(c Ctx) error {
	checks := map[string]protocolCheck{}
	err := s.view(c, func(r cases.Reader) error {
		text, found, err := r.Setting(protocolChecks)
		if err != nil || !found {
			return err
		}
		return json.Unmarshal(text, &checks)
	})
	if err != nil {
		return fmt.Errorf("web: protocol: %w", err)
	}
	p := &templates.ProtocolPage{Base: templates.Base{Name: "Protocol", Current: "settings"}, Links: settingsTabs(c, "protocol"), Cautions: allCautions, Choices: programChoices,
		Lead: "Every value that the program works by, with its source. This page shows the values and changes none: they are set in the program's protocol file, and its clinicians sign them."}
	now, was := valuesByName(s.protocol()), valuesByName(cases.DefaultProtocol())
	for _, n := range cases.ProtocolNotes {
		v := templates.ProtocolValue{Label: n.Title, Name: n.Name, Value: protocolValue(now[n.Name], n.Unit), Source: n.Source}
		if n.Name == "holidays" && now[n.Name] == "null" {
			v.Value = "Federal days as observed"
		}
		if now[n.Name] != was[n.Name] {
			v.Differs = protocolValue(was[n.Name], n.Unit)
		}
		if n.Name == "contact_plan" {
			v.Value = s.protocol().ContactPlan.String()
			if v.Differs != "" {
				v.Differs = cases.DefaultProtocol().ContactPlan.String()
			}
		}
		if !n.Seen {
			v.Source += ". Not checked against a published source"
		}
		if k, ok := checks[n.Name]; ok {
			v.Checked = k.By + ", " + shortDay(k.On)
		} else {
			p.Unchecked++
		}
		if i := len(p.Groups) - 1; i < 0 || p.Groups[i].Head != n.Group {
			p.Groups = append(p.Groups, templates.ProtocolGroup{ID: strconv.Itoa(len(p.Groups) + 1), Head: n.Group})
		}
		g := &p.Groups[len(p.Groups)-1]
		g.Rows = append(g.Rows, v)
	}
	for _, x := range s.sites() {
		p.Sites = append(p.Sites, templates.Fact{Name: x.Name, Text: or(x.Address, x.Key), Note: x.Key})
	}
	return s.render(c, http.StatusOK, p)
}

// valuesByName are the protocol's values as text, by the name used in files; those
// of a group have its name before theirs.
func valuesByName(p *cases.Protocol) map[string]string {
	text, err := json.Marshal(p)
	if err != nil {
		return nil
	}
	raw := map[string]json.RawMessage{}
	if json.Unmarshal(text, &raw) != nil {
		return nil
	}
	out := make(map[string]string, len(raw))
	for name, v := range raw {
		group := map[string]json.RawMessage{}
		if json.Unmarshal(v, &group) != nil || len(group) == 0 {
			out[name] = strings.Trim(string(v), `"`)
			continue
		}
		for part, x := range group {
			out[name+"."+part] = chanceOr(x)
		}
	}
	return out
}

// chanceOr says a pair of probabilities in words, and any other value as it is.
func chanceOr(x json.RawMessage) string {
	var c cases.Chance
	if json.Unmarshal(x, &c) == nil && c.U > 0 {
		return c.String()
	}
	return string(x)
}

// protocolValue is a value in words with its unit.
func protocolValue(v, unit string) string {
	switch v {
	case "true":
		return "Yes"
	case "false":
		return "No"
	case "null", "":
		return "Off"
	}
	if strings.HasPrefix(v, "[") {
		v = strings.ReplaceAll(strings.Trim(v, "[]"), ",", ", ")
	}
	switch {
	case unit == "share":
		if f, err := strconv.ParseFloat(v, 64); err == nil {
			return plainNumber(f*100) + "%"
		}
	case unit == "weeks and days" || unit == "":
		return v
	}
	if v == "1" {
		unit = strings.TrimSuffix(unit, "s")
	}
	return strings.TrimSpace(v + "\u00a0" + unit)
}
