package intake

import (
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/japanese"
	"golang.org/x/text/encoding/simplifiedchinese"
)

func TestDecodeAll(t *testing.T) {
	encode := func(s string, err error) string {
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for _, w := range []struct {
		name, raw, want string
		mark            bool
	}{
		{"koi8-r", encode(charmap.KOI8R.NewEncoder().String("имя")), "имя", false},
		{"shift_jis", encode(japanese.ShiftJIS.NewEncoder().String("表,ソ")), "表,ソ", false}, // its second bytes look like a backslash
		{"iso-2022-jp", encode(japanese.ISO2022JP.NewEncoder().String("名前")), "名前", false},
		{"gb18030", encode(simplifiedchinese.GB18030.NewEncoder().String("姓名")), "姓名", false},
		{"windows-1252", "Pe\xf1a", "Peña", false},
		{"", "Pe\xf1a", "Peña", true},
		{"martian", "Pe\xf1a", "Peña", true},
		{"windows-1252", "Peña", "Peña", false}, // it is UTF-8
		{"shift_jis", "abc\x80\xff", "abc\u0080\uFFFD", true},
		{"us-ascii", "plain", "plain", false},
		{"utf-8", "Pe\xf1a", "Peña", true},
	} {
		text, mark := DecodeAll(w.name, []byte(w.raw))
		if text != w.want || mark != w.mark {
			t.Errorf("%s %q: %q %v, want %q %v", w.name, w.raw, text, mark, w.want, w.mark)
		}
	}
}
