package web

import (
	"net/http"

	"dunlin/templates"
)

// me shows GET /me: the keys, and the person's settings.
func (s *server) me(c Ctx) error {
	ctx := c.Request().Context()
	p := mePage(s.Auth.Get(ctx, "keys"), s.Auth.Get(ctx, "rows"), s.Auth.Get(ctx, "colors"))
	if err := s.mySignIn(c, p); err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

func mePage(keys, rows, colors string) *templates.MePage {
	return &templates.MePage{Base: templates.Base{Name: "Keyboard keys and my settings"},
		Keys: templates.Choice{ID: "keys", Legend: "Letter keys on lists", Down: true, Options: []templates.Option{{Value: "on", Text: "On"}, {Value: "off", Text: "Off"}}}.Choose(or(keys, "on")),
		Rows: templates.Choice{ID: "rows", Legend: "List rows", Down: true, Options: []templates.Option{{Value: "full", Text: "Full rows", Sub: "Three lines an infant"},
			{Value: "short", Text: "Short rows", Sub: "One line an infant. The strip stays"}}}.Choose(or(rows, "full")),
		Color: templates.Choice{ID: "colors", Legend: "Colors", Down: true, Options: []templates.Option{{Value: "device", Text: "Same as my device"}, {Value: "light", Text: "Light"}, {Value: "dark", Text: "Dark"}}}.Choose(or(colors, "device")),
	}
}

// saveMe answers POST /me.
func (s *server) saveMe(c Ctx) error {
	f := s.readForm(c)
	keys := f.choice("keys", "Select on or off", "on", "off")
	rows := f.choice("rows", "Select full or short rows", "full", "short")
	colors := f.choice("colors", "Select the colors", "device", "light", "dark")
	if !f.ok() {
		p := mePage(keys, rows, colors)
		p.Keys, p.Rows, p.Color = f.group(p.Keys), f.group(p.Rows), f.group(p.Color)
		if err := s.mySignIn(c, p); err != nil {
			return err
		}
		return s.invalid(c, p, f.problems)
	}
	ctx := c.Request().Context()
	s.Auth.Set(ctx, "keys", keys)
	s.Auth.Set(ctx, "rows", rows)
	s.Auth.Set(ctx, "colors", colors)
	return s.saved(c, "/me", templates.Notice{Head: "Settings saved."})
}
