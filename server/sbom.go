package main

import (
	"cmp"
	"runtime/debug"
	"slices"
	"strings"
)

// The bill of materials, in the members of CycloneDX 1.6 that this program fills
// (ECMA-424, from memory; packages by the purl specification's type golang).
type bill struct {
	Format     string     `json:"bomFormat"`
	Spec       string     `json:"specVersion"`
	Version    int        `json:"version"`
	Metadata   billAbout  `json:"metadata"`
	Components []billPart `json:"components"`
}

type billAbout struct {
	Component billPart `json:"component"`
}

type billPart struct {
	Kind       string         `json:"type"`
	Ref        string         `json:"bom-ref"`
	Name       string         `json:"name"`
	Version    string         `json:"version"`
	PURL       string         `json:"purl,omitempty"`
	Properties []billProperty `json:"properties,omitempty"`
}

type billProperty struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// billOf lists what a program was made of, as the tools wrote it into the program: the
// modules whose code is in it, and the standard library.
func billOf(info *debug.BuildInfo) bill {
	b := bill{Format: "CycloneDX", Spec: "1.6", Version: 1,
		Metadata: billAbout{billPart{Kind: "application", Ref: "dunlin", Name: "dunlin", Version: release}}}
	if v, ok := strings.CutPrefix(info.GoVersion, "go"); ok {
		v, _, _ = strings.Cut(v, " ")
		b.Components = append(b.Components, billPart{Kind: "library", Ref: "std", Name: "std", Version: v, PURL: "pkg:golang/std@" + v})
	}
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		p := billPart{Kind: "library", Ref: m.Path + "@" + m.Version, Name: m.Path, Version: m.Version, PURL: "pkg:golang/" + m.Path + "@" + m.Version}
		if m.Sum != "" {
			p.Properties = []billProperty{{"go:sum", m.Sum}} // a hash of the module's files, as go.sum has it
		}
		b.Components = append(b.Components, p)
	}
	slices.SortFunc(b.Components, func(x, y billPart) int { return cmp.Compare(x.Ref, y.Ref) })
	return b
}
