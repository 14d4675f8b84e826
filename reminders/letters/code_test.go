package letters

import (
	"image"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/oned"

	"dunlin/cases"
)

// The worked example of ISO/IEC 7064 MOD 37,36 in the Global Release Identifier
// standard, A1-2425G-ABC1234002-M (from memory).
func TestCheckSignOfAPublishedNumber(t *testing.T) {
	if got := checkSign("A12425GABC1234002"); got != "M" {
		t.Errorf("check sign %s, want M", got)
	}
}

// What the standard promises: every single wrong sign is found. Of two neighbors
// exchanged it finds nearly all; here every one of them that it finds is counted.
func TestCheckSignFindsWrongSigns(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	swaps, found := 0, 0
	for range 300 {
		b := make([]byte, numberSigns)
		for i := range b {
			b[i] = codeSigns[r.IntN(36)]
		}
		code := CodeOf(string(b))
		for i := range code[:numberSigns] {
			for _, other := range codeSigns {
				wrong := code[:i] + string(other) + code[i+1:]
				if _, err := NumberOf(wrong); (err == nil) != (wrong == code) && !alikeSigns(wrong, code) {
					t.Fatalf("%s for %s: err = %v", wrong, code, err)
				}
			}
			if i+1 < numberSigns && code[i] != code[i+1] {
				swaps++
				if CodeOf(code[:i] + code[i+1:i+2] + code[i:i+1] + code[i+2:numberSigns])[numberSigns] != code[numberSigns] {
					found++
				}
			}
		}
	}
	if swaps < 1000 || float64(found)/float64(swaps) < 0.98 {
		t.Errorf("%d of %d exchanges found", found, swaps)
	}
}

// alikeSigns tells that the wrong number's own check sign is one taken for the right
// one's, which is let through on purpose.
func alikeSigns(wrong, code string) bool {
	want, have := checkSign(wrong[:numberSigns]), code[numberSigns:]
	return want == alike[have] || have == alike[want]
}

func TestNumberAsScannedOrTyped(t *testing.T) {
	code := CodeOf("7KQ294XF")
	for _, typed := range []string{code, "7KQ294XF", "7kq294xf", " 7KQ2 94XF\r\n", "7KQ294XF-" + code[8:], strings.ToLower(code)} {
		if got, err := NumberOf(typed); got != "7KQ294XF" || err != nil {
			t.Errorf("%q: %q, %v", typed, got, err)
		}
	}
	for typed, want := range map[string]string{"": "eight signs", "7KQ294X": "eight signs", "7KQ294XF12": "eight signs", "8KQ294XF" + code[8:]: "does not fit",
		"7KQ29_XF": "digits and letters only", "７KQ294XF": "digits and letters only"} {
		if got, err := NumberOf(typed); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %q, %v", typed, got, err)
		}
	}
}

// A reader of another maker finds the code on the printed sheet at its place, and it
// says the number and its check sign and nothing else.
func TestCodeOnTheSheetCanBeScanned(t *testing.T) {
	dpi := 300
	for name, env := range everyProfile() {
		l := letterIn(t, "en", env, ada().Family.Guardians[0])
		pdf := pdfOf(t, l)
		p := pictureOf(t, pdf, dpi)
		quiet := env.in(env.Quiet)
		top := int((quiet.Bottom + 0.08*inch) * float64(dpi) / inch)
		strip := image.NewGray(image.Rect(0, 0, p.width/2+200, int(codeHeight*float64(dpi)/inch)))
		for y := range strip.Rect.Dy() {
			copy(strip.Pix[y*strip.Stride:], p.dots[(top+y)*p.width:(top+y)*p.width+strip.Rect.Dx()])
		}
		bits, err := gozxing.NewBinaryBitmapFromImage(strip)
		if err != nil {
			t.Fatal(err)
		}
		got, err := oned.NewCode128Reader().Decode(bits, nil)
		if err != nil || got.GetText() != CodeOf("7KQ294XF") {
			t.Fatalf("%s: scanned %v, %v", name, got, err)
		}
		// The reader gives the middle of the first sign, which is 11 modules of 4 dots wide.
		if left := got.GetResultPoints()[0].GetX() - 22; math.Abs(left-sideMargin*float64(dpi)/inch) > 2 {
			t.Errorf("%s: the code begins at %.0f dots", name, left)
		}
	}
}

func TestNumberThatIsNoNumberIsRefused(t *testing.T) {
	l := mustCompose(t, ada(), cases.LetterBooking, adaToday)
	l.Number = "日本"
	if _, err := l.sheets(); err == nil || !strings.Contains(err.Error(), "cannot be printed as a code") {
		t.Errorf("err = %v", err)
	}
}
