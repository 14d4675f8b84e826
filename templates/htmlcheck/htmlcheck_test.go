package htmlcheck

import (
	"strings"
	"testing"
)

const good = `<!doctype html><html lang="en"><head><title>Page - Dunlin</title></head><body><main id="main"><h1>Page</h1>%</main></body></html>`

func TestPage(t *testing.T) {
	for _, c := range []struct{ name, body, want string }{
		{"good", `<form method="post"><input type="hidden" name="csrf" value="x"><label for="a">A</label><input id="a"></form>`, ""},
		{"second h1", `<h1>Two</h1>`, "2 h1"},
		{"double id", `<p id="a"></p><p id="a"></p>`, "used 2 times"},
		{"input without label", `<input id="a">`, "without label"},
		{"described by nothing", `<p aria-describedby="b">x</p>`, "which is not there"},
		{"link to nothing", `<a href="#b">x</a>`, "which is not there"},
		{"table without caption", `<table><tr><th scope="row">a</th></tr></table>`, "without caption"},
		{"heading cell without scope", `<table><caption>a</caption><tr><th>a</th></tr></table>`, "without scope"},
		{"form without token", `<form method="post"></form>`, "without a token"},
		{"inline style", `<p style="color:red">x</p>`, "inline style"},
		{"inline script", `<script>1</script>`, "inline script"},
		{"handler", `<p onclick="x()">x</p>`, "inline onclick"},
		{"summary without title", `<div class="summary"></div>`, "do not agree"},
		{"heading jump", `<h3>x</h3>`, "jumps"},
		{"link without words", `<a href="/"></a>`, "no words"},
		{"drawing", `<svg></svg>`, "neither hidden"},
		{"fieldset", `<fieldset></fieldset>`, "without legend"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := strings.Join(Page([]byte(strings.Replace(good, "%", c.body, 1))), "; ")
			if c.want == "" && got != "" || !strings.Contains(got, c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}
