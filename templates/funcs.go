package templates

import (
	"fmt"
	"html/template"
	"strings"
)

// funcs are the functions that templates may call.
func funcs(static *Static) template.FuncMap {
	return template.FuncMap{
		"static":    static.Path,
		"ico":       Icon,
		"tag":       func(t Tag) template.HTML { return t.HTML() },
		"state":     func(kind, text string) template.HTML { return Tag{kind, text}.HTML() },
		"drop":      func(k Drop) template.HTML { return k.HTML() },
		"day":       func(d Date) template.HTML { return timeElement(d, "2 Jan 2006") },
		"wday":      func(d Date) template.HTML { return timeElement(d, "Mon 2 Jan 2006") },
		"sday":      func(d Date) template.HTML { return timeElement(d, "2 Jan") },
		"longday":   func(d Date) template.HTML { return timeElement(d, "Monday 2 January 2006") },
		"days":      Days,
		"thousands": Thousands,
		"age":       Age,
		"dict":      dict,
		"list":      func(v ...any) []any { return v },
		"add":       func(a, b int) int { return a + b },
		"lower":     strings.ToLower,
		"tel":       tel,
		"scale":     func() Scale { return DefaultScale },
	}
}

func timeElement(d Date, layout string) template.HTML {
	if d.IsZero() {
		return "No date"
	}
	text := strings.ReplaceAll(d.format(layout, ""), " ", nbsp)
	return template.HTML(fmt.Sprintf(`<time datetime="%s">%s</time>`, d.ISO(), text))
}

// dict makes a map from pairs of key and value, to hand several values to a part.
func dict(pairs ...any) (map[string]any, error) {
	if len(pairs)%2 != 0 {
		return nil, fmt.Errorf("dict wants pairs, got %d values", len(pairs))
	}
	m := make(map[string]any, len(pairs)/2)
	for i := 0; i < len(pairs); i += 2 {
		k, ok := pairs[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict key %v is not text", pairs[i])
		}
		m[k] = pairs[i+1]
	}
	return m, nil
}

// tel is the address that dials a phone number: digits, with a leading plus kept.
func tel(number string) template.URL {
	var b strings.Builder
	for i, r := range strings.TrimSpace(number) {
		if r >= '0' && r <= '9' || r == '+' && i == 0 {
			b.WriteRune(r)
		}
	}
	return template.URL("tel:" + b.String())
}
