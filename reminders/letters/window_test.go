package letters

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/reminders/paper"
	"dunlin/templates"
)

// The band and the keep-out zone follow from envelope, window and fold, in mm.
// Sizes of the envelopes: ISO 269; address field: DIN 5008 form B; windows of 90 x
// 45 mm, 20 mm from the left, and how far from the bottom: from memory.
func TestGeometryFollowsFromTheEnvelope(t *testing.T) {
	for _, e := range []struct {
		profile                    Profile
		width, height              float64 // of the envelope
		fromLeft, fromBottom, w, h float64 // of the window
		sheetWidth, panel          float64 // of the folded sheet
	}{
		{DINLong(), 220, 110, 20, 15, 90, 45, 210, 105},
		{DINC6C5(), 229, 114, 20, 15, 90, 45, 210, 105},
		{DINC5(), 229, 162, 20, 60, 90, 45, 210, 148.5},
	} {
		playX, playY := e.width-e.sheetWidth, e.height-e.panel
		top := e.height - e.fromBottom - e.h
		always := Box{Left: e.fromLeft, Top: top, Right: e.fromLeft + e.w - playX, Bottom: top + e.h - playY}
		ever := Box{Left: max(e.fromLeft-playX, 0), Top: top - playY, Right: e.fromLeft + e.w, Bottom: top + e.h}
		band, quiet := e.profile.Band, e.profile.Quiet
		if e.profile.Upper < always.Top {
			t.Errorf("%s: %g mm does not always show", e.profile.Name, e.profile.Upper)
		}
		if band.Left < always.Left || band.Top < always.Top || band.Right > always.Right || band.Bottom > always.Bottom {
			t.Errorf("%s: the band %v does not always show; %v does", e.profile.Name, band, always)
		}
		if quiet.Left > ever.Left || quiet.Top > ever.Top || quiet.Right < ever.Right || quiet.Bottom < ever.Bottom {
			t.Errorf("%s: %v may show, which is more than %v", e.profile.Name, ever, quiet)
		}
		// The lower 27.3 mm of the field, which begins at 45 mm and is 45 mm high.
		if band.Left != 20+5 || math.Abs(band.Top-(45+17.7)) > 1e-9 || band.Bottom > 90 || band.Right > 20+85 {
			t.Errorf("%s: the band %v leaves the address field of form B", e.profile.Name, band)
		}
	}
}

func everyProfile() map[string]Profile {
	out := map[string]Profile{}
	for name, made := range profiles {
		out[name] = made()
	}
	return out
}

// samples are texts in the alphabets that can be set; they say nothing of anyone.
var samples = map[string]string{
	"en": "Please call us about the appointment.", "es": "Por favor, llámenos sobre la cita. ¿Preguntas? ¡Gracias, señor Núñez!",
	"vi": "Xin vui lòng gọi cho chúng tôi về buổi hẹn. Nguyễn Thị Hương, Đặng Ngữ.", "ru": "Пожалуйста, позвоните нам. Щукина, Ёлкин.",
	"uk": "Будь ласка, зателефонуйте нам. Ґалаґан, Їжакевич.", "el": "Παρακαλούμε τηλεφωνήστε μας. Άννα Ξένου, Ϊων.",
	"pl": "Prosimy o telefon. Łukasz Żółć, Świętokrzyska.", "ht": "Tanpri rele nou. Mèsi, Ròz.",
}

// letterIn is the booking letter of ada with the text of another language.
func letterIn(t testing.TB, language string, env Profile, g cases.Guardian) Letter {
	t.Helper()
	c, p := ada(), alderBay()
	c.Family.Guardians[0], p.Envelope = g, env
	l, err := compose(t, c, cases.LetterBooking, adaToday, p)
	if err != nil {
		t.Fatal(err)
	}
	l.Number = "7KQ294XF"
	if language != "en" {
		l.Language, l.Title = language, samples[language]
		for i := range l.Blocks {
			l.Blocks[i].Text = samples[language]
		}
	}
	l.finish(allTexts(t).Words(language))
	return l
}

// USPS asks for the whole address in the window at every position of the insert, and
// nothing else there; DIN 5008 has its field. Seen as a reader of the PDF sees it, and
// as dots: each envelope, hard addresses, and each alphabet.
func TestOnlyTheAddressCanShowInTheWindow(t *testing.T) {
	for envelope, env := range everyProfile() {
		for name, g := range hardAddresses() {
			for language := range samples {
				if language != "en" && (language == "es" || name != "long") {
					continue
				}
				t.Run(envelope+" "+language+" "+name, func(t *testing.T) {
					l := letterIn(t, language, env, g)
					checkLaidOut(t, &l)
					if language == "en" || language == "vi" && envelope == "din5008-c5" {
						pdf := pdfOf(t, l)
						checkWindow(t, firstPageWords(t, pdf), &l)
						checkInk(t, pdf, &env)
					}
				})
			}
		}
	}
}

// Every kind of letter in both languages, in every envelope.
func TestEveryKindKeepsTheWindowFree(t *testing.T) {
	for envelope, env := range everyProfile() {
		p := complete()
		p.Envelope = env
		n := 0
		for _, language := range []string{"en", "es"} {
			for _, x := range everyLetter() {
				x.c.Family.Language = language
				l, err := x.compose(t, p)
				if err != nil {
					t.Errorf("%s %s %s: %v", envelope, language, x.name, err)
					continue
				}
				n++
				checkLaidOut(t, &l)
			}
		}
		l, err := clinicDay(t, p)
		if err != nil {
			t.Fatal(err)
		}
		checkLaidOut(t, &l)
		if n < 20 {
			t.Errorf("only %d letters", n)
		}
	}
}

// checkLaidOut looks at where each text, line and bar of a letter stands: on the sheet,
// and out of the window unless it is the address.
func checkLaidOut(t interface{ Errorf(string, ...any) }, l *Letter) {
	sheets, err := l.sheets()
	if err != nil {
		t.Errorf("%s: %v", l.Kind, err)
		return
	}
	quiet, band, size := l.Envelope.in(l.Envelope.Quiet), l.Envelope.highest(), l.Envelope.sheet()
	var seen []string
	for n, s := range sheets {
		for _, m := range s.Texts {
			left, right, top, bottom := m.X, m.X+paper.Width(m.Text, m.Style), m.Y-inkAbove*m.Size, m.Y+inkBelow*m.Size
			if left < 0.4*inch || right > size.Width-0.4*inch || top < 0.4*inch || bottom > size.Height-0.4*inch {
				t.Errorf("%s, sheet %d: %q runs off the paper: %.0f to %.0f, %.0f to %.0f", l.Kind, n+1, m.Text, left, right, top, bottom)
			}
			if n > 0 || top >= quiet.Bottom || bottom <= quiet.Top || left >= quiet.Right {
				continue
			}
			seen = append(seen, m.Text)
			if left < band.Left-0.01 || right > band.Right+0.01 || top < band.Top-0.01 || bottom > band.Bottom+0.01 {
				t.Errorf("%s: %q stands in the window, outside the band", l.Kind, m.Text)
			}
		}
		for _, r := range s.Rects {
			if n == 0 && r.Y < quiet.Bottom && r.Y+r.H > quiet.Top && r.X < quiet.Right {
				t.Errorf("%s: a bar stands in the window", l.Kind)
			}
		}
		for _, r := range s.Lines {
			if n == 0 && r.Y1 < quiet.Bottom && r.Y1 > quiet.Top && r.X1 < quiet.Right {
				t.Errorf("%s: a tick stands in the window", l.Kind)
			}
		}
	}
	if got, want := strings.Join(seen, " "), strings.Join(l.Address, " "); got != want {
		t.Errorf("%s: in the window %q, want %q", l.Kind, got, want)
	}
}

func checkWindow(t *testing.T, words []word, l *Letter) {
	t.Helper()
	quiet, band := l.Envelope.in(l.Envelope.Quiet), l.Envelope.highest()
	var seen []string
	for _, w := range words {
		middle := (w.YMin + w.YMax) / 2
		if middle < quiet.Top || middle > quiet.Bottom || w.XMin > quiet.Right {
			continue
		}
		seen = append(seen, w.Text)
		if w.XMin < band.Left-0.5 || w.XMax > band.Right+0.5 || middle < band.Top || middle > band.Bottom {
			t.Errorf("%q stands outside the band: %+v", w.Text, w)
		}
	}
	if want := strings.Fields(strings.Join(l.Address, " ")); !slices.Equal(seen, want) {
		t.Errorf("in the window: %q, want %q", seen, want)
	}
}

// picture is the first page as gray dots.
type picture struct {
	dots          []byte
	width, height int
}

func pictureOf(t *testing.T, pdf []byte, dpi int) picture {
	t.Helper()
	pgm := poppler(t, pdf, "pdftoppm", "-r", strconv.Itoa(dpi), "-gray", "-f", "1", "-l", "1", "-singlefile")
	var p picture
	var depth int
	if _, err := fmt.Sscanf(string(pgm[:30]), "P5\n%d %d\n%d", &p.width, &p.height, &depth); err != nil || depth != 255 {
		t.Fatalf("no gray picture: %v", err)
	}
	p.dots = pgm[len(pgm)-p.width*p.height:]
	return p
}

// checkInk looks at the printed dots: none where something may show, but in the band.
func checkInk(t *testing.T, pdf []byte, env *Profile) {
	t.Helper()
	const dpi = 100
	p := pictureOf(t, pdf, dpi)
	quiet, b := env.in(env.Quiet), env.highest()
	inBand, outside := 0, 0
	for y := int(quiet.Top * dpi / inch); y < int(quiet.Bottom*dpi/inch); y++ {
		for x := int(quiet.Left * dpi / inch); x < int(quiet.Right*dpi/inch); x++ {
			if p.dots[y*p.width+x] > 200 {
				continue
			}
			fx, fy := float64(x)*inch/dpi, float64(y)*inch/dpi
			if fx >= b.Left-0.8 && fx <= b.Right+0.8 && fy >= b.Top-0.8 && fy <= b.Bottom+0.8 {
				inBand++
			} else {
				outside++
			}
		}
	}
	if outside > 0 || inBand < 150 {
		t.Errorf("%d dots outside the band, %d in it", outside, inBand)
	}
}

func TestWindowHoldsMoreLinesWhereItIsHigher(t *testing.T) {
	for name, want := range map[string]int{"no10": 4, "din5008-dl": 10, "din5008-c6-5": 9, "din5008-c5": 8} {
		env := everyProfile()[name]
		if got := env.AddressLines(); got != want {
			t.Errorf("%s: %d lines, want %d", name, got, want)
		}
	}
}

func TestHeadThatRunsIntoTheWindowIsRefused(t *testing.T) {
	p := alderBay()
	p.Return = slices.Repeat([]string{strings.Repeat("Long Department Name ", 8)}, 4)
	if _, err := compose(t, ada(), cases.LetterBooking, adaToday, p); err == nil || !strings.Contains(err.Error(), "no room for so many above the window") {
		t.Errorf("err = %v", err)
	}
}

func TestLetterWithoutTextOrAddressIsRefused(t *testing.T) {
	for want, edit := range map[string]func(*Letter){
		"has no text":    func(l *Letter) { l.Blocks = nil },
		"has no address": func(l *Letter) { l.Address = nil },
		"holds fewer":    func(l *Letter) { l.Address = slices.Repeat([]string{"A"}, 7) },
		"too long for":   func(l *Letter) { l.Address[1] = strings.Repeat("Wide Road ", 9) },
	} {
		l := mustCompose(t, ada(), cases.LetterBooking, adaToday)
		edit(&l)
		if _, err := l.sheets(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: err = %v", want, err)
		}
	}
	l := mustCompose(t, ada(), cases.LetterBooking, adaToday)
	l.Blocks = slices.Repeat([]templates.LetterBlock{{Text: "Again"}}, 400)
	if _, err := l.sheets(); err == nil || !strings.Contains(err.Error(), "shorten its text") {
		t.Errorf("a very long letter: err = %v", err)
	}
}
