package templates

import (
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"
)

func file(src string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(src)} }

// viWords are words of another language, for tests.
const viWords = `months: một, hai, ba, bốn, năm, sáu, bảy, tám, chín, mười, mười một, mười hai
weekdays: Chủ nhật, Thứ hai, Thứ ba, Thứ tư, Thứ năm, Thứ sáu, Thứ bảy
day: ngày {day} tháng {month} năm {year}
weekday: {weekday}, ngày {day} tháng {month} năm {year}
morning: {clock} giờ sáng
afternoon: {clock} giờ chiều
evening: {clock} giờ tối
evening-from: 19
noon: 12 giờ trưa
midnight: nửa đêm
baby: Bé {family}
questions: Câu hỏi? Xin gọi
foot: Thư {number}
foot-pages: Thư {number}, trang {page} / {pages}
`

func TestLoadLettersLaysAFolderOverTheBuiltInTexts(t *testing.T) {
	own := fstest.MapFS{
		"en/our-booking.txt": file(goodHead + "Come to {site}."),
		"vi/words.txt":       file(viWords),
		"vi/first.txt":       file("kind: first-notice\nlanguage: vi\nversion: 1\ntitle: T\nstatus: draft\n---\nXin gọi {phone}."),
	}
	set, err := LoadLetters(own)
	if err != nil {
		t.Fatal(err)
	}
	if b := set.Text("en", "booking", ""); !b.Own || b.File != "en/our-booking.txt" {
		t.Errorf("the folder's text did not take the place of the built-in one: %+v", b)
	}
	if r := set.Text("en", "reminder", ""); r == nil || r.Own {
		t.Error("the built-in text that the folder does not hold is gone")
	}
	if got := strings.Join(set.Languages(), " "); got != "en es vi" {
		t.Errorf("languages: %s", got)
	}
	if got := set.Words("vi").WeekDate(3, 2026, 3, 18); got != "Thứ tư, ngày 18 tháng ba năm 2026" {
		t.Errorf("date: %s", got)
	}
	for tag, want := range map[string]string{"es-MX": "es/first-notice.txt", "vi": "vi/first.txt", "ES": "es/first-notice.txt", "ru": "en/first-notice.txt", "": "en/first-notice.txt"} {
		if got := set.Pick(tag, "first-notice", ""); got == nil || got.File != want {
			t.Errorf("%q: %+v, want %s", tag, got, want)
		}
	}
	var missing []string
	for _, m := range set.Missing() {
		missing = append(missing, m.Error())
	}
	if len(missing) != 9 || missing[0] != "vi/booking.txt:1: the translation is missing: these letters go out in English, with a note to call with an interpreter" {
		t.Errorf("missing: %q", missing)
	}
}

func TestLoadLettersNamesEveryFaultOfTheFolder(t *testing.T) {
	tests := []struct {
		name string
		fs   fstest.MapFS
		want []string
	}{
		{"two of one kind, wrong folder", fstest.MapFS{"en/a.txt": file(goodHead + "Hello"), "en/b.txt": file(goodHead + "Hello"), "es/c.txt": file(goodHead + "Hello")},
			[]string{"en/b.txt:1: the same letter", "es/c.txt:1: the same letter"}},
		{"wrong folder", fstest.MapFS{"es/c.txt": file(goodHead + "Hello")}, []string{`es/c.txt:1: language is "en"`}},
		{"no words", fstest.MapFS{"vi/a.txt": file(strings.Replace(goodHead, "en", "vi", 1) + "Hello")}, []string{"vi/words.txt:1: the file is missing"}},
		{"faults of two files", fstest.MapFS{"en/a.txt": file(goodHead + "{x}"), "en/b.txt": file(headOf("missed") + "{y}")}, []string{"en/a.txt:7: unknown field {x}", "en/b.txt:7: unknown field {y}"}},
		{"no language folder", fstest.MapFS{"booking.txt": file(goodHead + "Hello")}, []string{"booking.txt:1: a letter text lies in a folder named after its language"}},
		{"too deep", fstest.MapFS{"en/old/a.txt": file(goodHead + "Hello")}, []string{"en/old/a.txt:1: it lies too deep"}},
		{"ending in capitals", fstest.MapFS{"en/A.TXT": file(goodHead + "Hello")}, []string{"en/A.TXT:1: the ending of a letter text is .txt"}},
		{"huge", fstest.MapFS{"en/a.txt": file(goodHead + strings.Repeat("Hello ", 20_000))}, []string{"en/a.txt:1: the file has 1200"}},
		{"a device", fstest.MapFS{"en/a.txt": {Mode: fs.ModeDevice}}, []string{"en/a.txt:1: this is no ordinary file"}},
		{"a folder", fstest.MapFS{"en/a.txt/b": file("Hello")}, []string{"en/a.txt:1: this is no ordinary file"}},
		{"not UTF-8", fstest.MapFS{"en/a.txt": file(goodHead + "Hell\xf6")}, []string{"en/a.txt:1: the file is not UTF-8 text"}},
		{"UTF-16", fstest.MapFS{"en/a.txt": file("\xff\xfek\x00i\x00")}, []string{"en/a.txt:1: the file is not UTF-8 text"}},
		{"no value", fstest.MapFS{"en/a.txt": file(strings.Replace(goodHead, "title: ", "title:\n#", 1) + "Hello")}, []string{`"title" has no value`}},
		{"field in the title", fstest.MapFS{"en/a.txt": file(strings.Replace(goodHead, "title: ", "title: {infant} ", 1) + "Hello")}, []string{`"title" takes no field`}},
		{"names the condition", fstest.MapFS{"en/a.txt": file(goodHead + "Hello,\nit is cystic fibrosis.")}, []string{`en/a.txt:8: "cystic" must not stand in a letter of this kind`}},
		{"empty", fstest.MapFS{}, []string{"there is no letter text in the folder"}},
	}
	for _, tt := range tests {
		_, err := LoadLetters(tt.fs)
		for _, want := range tt.want {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: err = %v, want %q", tt.name, err, want)
			}
		}
	}
}

// Texts from other editors are taken: a mark before UTF-8, and ends of lines in two signs.
func TestLoadLettersTakesOtherEditors(t *testing.T) {
	src := "\ufeff" + strings.ReplaceAll(goodHead+"Hello\nthere.\n\n## A heading\n", "\n", "\r\n")
	set, err := LoadLetters(fstest.MapFS{"en/a.txt": file(src), "en/.notes": file("x"), "README.md": file("x")})
	if err != nil {
		t.Fatal(err)
	}
	var own *LetterText
	for _, x := range set.All() {
		if x.Own {
			own = x
		}
	}
	if own == nil || len(own.blocks) != 2 || own.blocks[0].text != "Hello there." || own.blocks[1].text != "A heading" {
		t.Errorf("%+v", own)
	}
}

func TestWordsFileNamesItsFaults(t *testing.T) {
	tests := []struct{ name, from, to, want string }{
		{"eleven months", "một, ", "", `words.txt:1: "months" has 11 names`},
		{"six days", "Chủ nhật, ", "", `words.txt:2: "weekdays" has 6 names`},
		{"empty month", "hai,", ",", `words.txt:1: "months" has an empty name`},
		{"lost field", "năm {year}\nweekday", "năm\nweekday", `words.txt:3: "day" must hold {year}`},
		{"other field", "{clock} giờ sáng", "{clock} giờ {hour}", `words.txt:5: "morning" holds a field that it cannot have`},
		{"no hour", "19", "noon", `words.txt:8: "evening-from" must be an hour`},
		{"unknown key", "\nnoon:", "\nlunch:", "words.txt:9: expected one of afternoon, "},
		{"missing", "midnight: nửa đêm\n", "", `there is no "midnight" line`},
		{"twice", "noon: 12 giờ trưa\n", "noon: a\nnoon: b\n", `"noon" stands there twice`},
		{"no value", "noon: 12 giờ trưa", "noon:", `words.txt:9: "noon" has no value`},
	}
	for _, tt := range tests {
		src := strings.Replace(viWords, tt.from, tt.to, 1)
		if src == viWords {
			t.Errorf("%s: nothing was replaced", tt.name)
		}
		if _, err := parseLetterWords("words.txt", []byte(src)); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: err = %v, want %q", tt.name, err, tt.want)
		}
	}
}

func TestDatesAndTimesInWords(t *testing.T) {
	set, err := ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	en, es := set.Words("en"), set.Words("es")
	for _, tt := range []struct{ got, want string }{
		{en.Date(2026, 3, 1), "March 1, 2026"}, {en.WeekDate(0, 2026, 3, 1), "Sunday, March 1, 2026"},
		{es.Date(2026, 3, 1), "1 de marzo de 2026"}, {es.WeekDate(6, 2026, 12, 19), "sábado 19 de diciembre de 2026"},
		{en.Time(9, 30), "9:30 in the morning"}, {en.Time(12, 0), "12 noon"}, {en.Time(18, 0), "6 in the evening"}, {en.Time(0, 10), "12:10 in the morning"}, {en.Time(0, 0), "midnight"},
		{es.Time(9, 30), "las 9:30 de la mañana"}, {es.Time(13, 5), "la 1:05 de la tarde"}, {es.Time(1, 0), "la 1 de la mañana"}, {es.Time(12, 0), "las 12 del mediodía"}, {es.Time(12, 15), "las 12:15 de la tarde"}, {es.Time(18, 0), "las 6 de la tarde"}, {es.Time(19, 45), "las 7:45 de la noche"},
		{en.Baby("Wren"), "Baby Wren"}, {es.Baby("Wren"), "Bebé Wren"}, {en.Questions(), "Questions? Call"},
		{en.Foot("7KQ294XF", 1, 1), "Letter 7KQ294XF"}, {es.Foot("7KQ294XF", 2, 3), "Carta 7KQ294XF, página 2 de 3"},
		{set.Words("tlh").Date(2026, 3, 1), "March 1, 2026"},
	} {
		if tt.got != tt.want {
			t.Errorf("%q, want %q", tt.got, tt.want)
		}
	}
}

func FuzzParseLetterWords(f *testing.F) {
	for _, name := range []string{"en", "es"} {
		src, err := letterFiles.ReadFile("letters/" + name + "/" + wordsFile)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	f.Add([]byte(viWords))
	f.Fuzz(func(t *testing.T, src []byte) {
		w, err := parseLetterWords("words.txt", src)
		if err != nil {
			return
		}
		// What parses says every month, weekday and hour.
		for i := range 12 {
			if w.Date(2026, i+1, 1) == "" || w.WeekDate(i%7, 2026, i+1, 1) == "" {
				t.Error("an empty date")
			}
		}
		for h := range 24 {
			if w.Time(h, 0) == "" || w.Time(h, 5) == "" {
				t.Error("an empty time")
			}
		}
	})
}
