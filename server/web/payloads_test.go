package web_test

import (
	"fmt"
	"reflect"
	"strings"
	"unicode/utf8"

	"dunlin/templates/htmlcheck"

	"golang.org/x/net/html"
)

// probe is in every payload, so that it is seen where payloads are shown.
const probe = "zqx"

// payloads are texts that would run, break out of their place, turn the page's text
// around or reach into a template, should any page not write them as text. They are
// made up here along the contexts of HTML: text, quoted and bare attributes, addresses,
// scripts, styles, foreign content, comments, and what a browser's parser forgives.
var payloads = []string{
	`<script>alert("zqx")</script>`, `<SCRIPT SRC=//zqx.example></SCRIPT>`, `<scr<script>ipt>alert('zqx')</scr</script>ipt>`, `<script >alert(/zqx/)</script >`,
	`"><script>alert('zqx')</script>`, `'><script>alert("zqx")</script>`, `</title><script>alert("zqx")</script>`, `</textarea><script>alert("zqx")</script>`,
	`</select><img src=zqx onerror=alert(1)>`, `</option><svg onload=alert("zqx")>`, `--><script>alert("zqx")</script>`, `]]><script>alert("zqx")</script>`,
	`<img src=zqx onerror=alert(1)>`, `<img src="zqx" onerror="alert(1)">`, `<IMG """><SCRIPT>alert("zqx")</SCRIPT>">`, `<img/src=zqx/onerror=alert(1)>`, "<img\tsrc=zqx\tonerror=alert(1)>",
	`<svg onload=alert("zqx")>`, `<svg><script>alert("zqx")</script></svg>`, `<svg><animate onbegin=alert("zqx") attributeName=x dur=1s>`, `<svg><a xlink:href="javascript:alert('zqx')"><text>zqx</text></a>`,
	`<math><mtext></mtext><mglyph><style><img src=zqx onerror=alert(1)></style>`, `<iframe src="javascript:alert('zqx')">`, `<iframe srcdoc="<script>alert('zqx')</script>">`,
	`<object data="javascript:alert('zqx')">`, `<embed src="/static/zqx.svg">`, `<base href="https://zqx.example/">`, `<meta http-equiv="refresh" content="0;url=https://zqx.example">`,
	`<link rel=stylesheet href="https://zqx.example/a.css">`, `<style>body{display:none}/*zqx*/</style>`, `<style>@import "https://zqx.example"</style>`, `<div style="position:fixed;inset:0">zqx</div>`,
	`" onmouseover="alert('zqx')`, `' onfocus='alert("zqx")' autofocus='`, `" autofocus onfocus="alert('zqx')" x="`, `x onclick=alert("zqx")`, "` onerror=alert('zqx') `",
	`javascript:alert("zqx")`, `JaVaScRiPt:alert("zqx")`, "java\tscript:alert('zqx')", `&#106;avascript:alert('zqx')`, `data:text/html,<script>alert("zqx")</script>`, `vbscript:msgbox("zqx")`,
	`//zqx.example/overdue`, `https://zqx.example`, `/\zqx.example`, `<a href="javascript:alert('zqx')">zqx</a>`, `<form action="https://zqx.example"><input name=csrf>`, `<button formaction="https://zqx.example">zqx</button>`,
	`<input type=image src=zqx onerror=alert(1)>`, `<video><source onerror=alert("zqx")>`, `<audio src=zqx onerror=alert(1)>`, `<details open ontoggle=alert("zqx")>`, `<body onload=alert("zqx")>`, `<marquee onstart=alert("zqx")>`,
	`<template><script>alert("zqx")</script></template>`, `<noscript><p title="</noscript><img src=zqx onerror=alert(1)>">`, `<!--<img src="--><img src=zqx onerror=alert(1)>">`, `<x contenteditable onblur=alert("zqx")>`,
	`{{.Base}}{{printf "%s" "zqx"}}`, `{phone}{zqx}`, `${alert("zqx")}`, `#{7*7}zqx`, `<%= zqx %>`, `\u003cscript\u003ealert("zqx")\u003c/script\u003e`, `%3Cscript%3Ealert("zqx")%3C/script%3E`,
	"zqx\u202egnp.exe", "zqx\u2066\u2067\u202a\u202bab", "\u200fzqx\u200e", "zqx\u0000<script>alert(1)</script>", "zqx\r\nSet-Cookie: a=b", "zqx\u2028alert(1)\u2029", "\ufeffzqx\ufffe", "+ADw-script+AD4-alert('zqx')+ADw-/script+AD4-", "zqx\u0007\u001b[31m",
	`=HYPERLINK("https://zqx.example")`, `+1+cmd|' /C zqx'!A0`, `-2+3+zqx`, `@SUM(1+1)*zqx`, "\t=1+1&zqx", "\r=1+1&zqx", "\uff1d1+1&zqx", `"=1+1&zqx"`, `;=1+1&zqx`,
}

// filler writes payloads into the texts of a value, others for each infant and field,
// so that over all infants each field holds every payload.
type filler struct {
	infant, field int
	most          int // characters a field takes; 0 takes any
}

// group is how many payloads a field holds at once.
const group = 6

func (f *filler) next() string {
	f.field++
	var parts []string
	for k := range group {
		parts = append(parts, payloads[(f.infant*group+f.field*7+k)%len(payloads)])
	}
	for f.most > 0 && len(parts) > 1 && utf8.RuneCountInString(strings.Join(parts, " ")) > f.most {
		parts = parts[:len(parts)-1]
	}
	return strings.ReplaceAll(strings.Join(parts, " "), "\x00", "") // which the store refuses
}

// kept are texts by which the program finds something, or that choose among its words.
var kept = map[string]bool{"document": true, "reference": true, "siblings": true, "letters": true, "letter_releases": true, "messages": true, "site": true, "language": true,
	"key": true, "id": true, "uid": true, "collector": true, "kind": true, "to_check": true, "owner": true, "legal_holds": true}

// fill writes payloads into every text of v that people or laboratories write.
func (f *filler) fill(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			f.fill(v.Elem())
		}
	case reflect.Slice:
		if v.CanSet() && v.Len() > 0 { // other tests use the same lists
			own := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
			reflect.Copy(own, v)
			v.Set(own)
		}
		for i := range v.Len() {
			f.fill(v.Index(i))
		}
	case reflect.String:
		if v.CanSet() && v.Type() == reflect.TypeFor[string]() {
			v.SetString(f.next())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			tag := v.Type().Field(i).Tag
			name, _, _ := strings.Cut(tag.Get("json"), ",")
			if name != "-" && !kept[name] && tag.Get("enum") == "" && v.Field(i).CanSet() {
				f.fill(v.Field(i))
			}
		}
	}
}

// injected says which elements and attributes of a page are not the program's own.
func injected(doc *html.Node) (out []string) {
	htmlcheck.Walk(doc, func(n *html.Node) {
		fault := func(format string, args ...any) { out = append(out, n.Data+": "+fmt.Sprintf(format, args...)) }
		switch n.Data {
		case "iframe", "object", "embed", "base", "noscript", "marquee", "video", "audio", "math", "animate", "style", "x":
			fault("is no element of these pages")
		}
		for _, a := range n.Attr {
			value := strings.ToLower(strings.TrimSpace(a.Val))
			switch a.Key {
			case "href", "src", "action", "formaction", "xlink:href", "srcdoc":
				if value != "" && !strings.HasPrefix(value, "#") && !strings.HasPrefix(value, "?") && (!strings.HasPrefix(value, "/") || strings.HasPrefix(value, "//")) && !strings.HasPrefix(value, "tel:") && !strings.HasPrefix(value, "mailto:") {
					fault("%s leads to %q", a.Key, a.Val)
				}
				if strings.HasPrefix(value, "/") && strings.Contains(value, probe) {
					fault("%s carries a recorded text: %q", a.Key, a.Val)
				}
			case "style", "http-equiv", "contenteditable":
				fault("has %s", a.Key)
			}
			if strings.HasPrefix(a.Key, "on") {
				fault("has the handler %s", a.Key)
			}
		}
		if _, own := htmlcheck.Attr(n, "src"); n.Data == "script" && !own {
			fault("is written in the page")
		}
	})
	return out
}
