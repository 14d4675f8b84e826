package intake_test

import (
	"strings"
	"testing"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"dunlin/cases"
)

// lines takes a message apart again.
func lines(raw string) []string { return strings.Split(strings.TrimRight(raw, "\r"), "\r") }

func encoded(e encoding.Encoding, s string) string {
	out, err := e.NewEncoder().String(s)
	if err != nil {
		panic(err)
	}
	return out
}

func isNamed(family, given string) func(t *testing.T, cs []cases.Case) {
	return func(t *testing.T, cs []cases.Case) {
		c := oneCase(t, cs)
		eq(t, "family", c.Infant.Family, family)
		eq(t, "given", c.Infant.Given, given)
	}
}

// formSamples: the same report in every form in which files arrive.
func formSamples() []sample {
	out, in := panel(70, interp(aOut)), panel(70, interp(aIn))
	cr := func(s, end string) string { return strings.ReplaceAll(s, "\r", end) }
	mixed := func(s string) string {
		for i, end := range []string{"\n", "\r\n", "\r\r", "\n\r\n"} {
			s = strings.Replace(s, "\rOB", end+"OB", i+1)
		}
		return s
	}
	bare := strings.TrimRight(out, "\r")
	var ss []sample
	add := func(id, raw, want string, says ...string) {
		ss = append(ss, sample{id: "form-" + id, raw: raw, want: want, says: says})
	}
	for name, raw := range map[string]string{"out": out, "in": in} {
		want := map[string]string{"out": "opened", "in": "no-case"}[name]
		add("lf-"+name, cr(raw, "\n"), want)
		add("crlf-"+name, cr(raw, "\r\n"), want)
		add("blank-lines-"+name, cr(raw, "\r\n\r\n"), want)
		add("mixed-ends-"+name, mixed(raw), want)
		add("no-last-end-"+name, strings.TrimRight(raw, "\r"), want)
		add("trailing-blanks-"+name, cr(raw, "   \r"), want)
		add("trailing-separators-"+name, cr(raw, "||||||||\r"), want)
		add("leading-blank-lines-"+name, "\r\n\r\n  "+raw, want)
		add("bom-"+name, "\ufeff"+raw, want)
		add("bom-each-message-"+name, "\ufeff"+raw+"\ufeff", want)
		add("utf16-le-"+name, encoded(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), raw), want, "UTF-16")
		add("utf16-be-"+name, encoded(unicode.UTF16(unicode.BigEndian, unicode.UseBOM), raw), want, "UTF-16")
		add("utf16-no-bom-"+name, encoded(unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM), raw), want+"|review", "UTF-16")
		add("utf16-be-no-bom-"+name, encoded(unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM), raw), want+"|review", "UTF-16")
		add("mllp-"+name, "\x0b"+raw+"\x1c\r", want)
		add("mllp-no-carriage-return-"+name, "\x0b"+raw+"\x1c", want)
		add("mllp-only-end-"+name, raw+"\x1c\r", want)
		add("eof-mark-"+name, raw+"\x1a", want)
	}
	add("mllp-cut", "\x0b"+out, "review", "cut off")
	add("mllp-cut-in-range", "\x0b"+in, "review", "cut off")
	add("mllp-two", "\x0b"+in+"\x1c\r\x0b"+panel(71, interp(aOut))+"\x1c\r", "no-case opened")
	add("mllp-garbage-between", "\x0b"+in+"\x1c\rXYZ\x0b"+panel(71, interp(aOut))+"\x1c\r", "no-case opened", "outside")
	add("mllp-line-feed-end", "\x0b"+out+"\x1c\n", "opened")
	add("segment-names-lower-case", strings.Replace(out, "\rPID|", "\rpid|", 1), "review", "not the start of a segment")
	add("indented-segments", cr(out, "\r\n    "), "review|opened")
	add("indented-segments-in-range", cr(in, "\r\n    "), "review|no-case")
	add("literal-backslash-r", cr(bare, `\r`), "review")
	add("literal-0x0d", cr(bare, `<CR>`), "review")
	add("all-on-one-line", cr(bare, " "), "review")
	add("all-on-one-line-in-range", cr(strings.TrimRight(in, "\r"), ""), "review")
	add("wrapped", wrap(out, 76), "review", "not the start of a segment")
	add("wrapped-in-range", wrap(in, 76), "review", "not the start of a segment")
	add("quoted", "> "+cr(bare, "\n> "), "review", "Please ask for the original file")
	add("words-before", "Dear colleague, please find the result.\r\n\r\n"+out, "opened|review")
	add("words-behind", out+"\r\nKind regards\r\nAlma Reed", "review")
	add("confidential-line-behind", in+"\r\nCONFIDENTIAL", "review")
	add("add-continues", panelWith(interp(aIn), obx("TX", cComment, "Cystic fibrosis screen is"), "ADD| OUT OF RANGE"), "review", "ADD")
	add("add-continues-out", panelWith(interp(aOut), obx("TX", cComment, "Cystic fibrosis screen is"), "ADD| OUT OF RANGE"), "opened|review", "ADD")
	add("dsc-continues", in+"DSC|12345|F\r", "review", "DSC")
	add("dsc-empty", in+"DSC|\r", "no-case")
	add("continuation-pointer", strings.Replace(in, "|P|2.5.1", "|P|2.5.1||POINTER", 1), "review", "MSH-14")
	add("sequence-number", strings.Replace(in, "|P|2.5.1", "|P|2.5.1|1", 1), "no-case")
	add("cut-in-obx", in[:strings.Index(in, "LA18592-8")+5], "review")
	add("cut-after-cf-panel", in[:strings.LastIndex(in, cCF)+len(cCF)], "review")
	add("double-message", out+out, "opened duplicate|attached|review")
	return ss
}

func panelWith(results ...string) string { return panel(70, results...) }

func wrap(s string, width int) string {
	var b strings.Builder
	for _, l := range lines(s) {
		for len(l) > width {
			b.WriteString(l[:width] + "\r\n")
			l = l[width:]
		}
		b.WriteString(l + "\r\n")
	}
	return b.String()
}

// byteSamples: escapes, character sets, odd bytes, other scripts.
func byteSamples() []sample {
	who := func(family, given string, charset string) string {
		return message(`MSH|^~\&|NBSLAB|ABPHL|||20260320||ORU^R01|B1|P|2.5.1||||||`+charset, "PID|1||M80^^^ABG^MR||"+family+"^"+given+"||20260306|F", obr(80, cCF), interp(aOut))
	}
	latin := encoded(charmap.ISO8859_1, who("Nuñez", "Zoë", "8859/1"))
	return []sample{
		{id: "bytes-escapes-in-name", raw: who(`Kelp\T\Sons`, `A\S\B\R\C\F\D\E\E`, ""), want: "opened", check: isNamed("Kelp&Sons", `A^B~C|D\E`)},
		{id: "bytes-escape-hex", raw: who(`Nu\XC3B1\ez`, "Zoe", "UNICODE UTF-8"), want: "opened", check: isNamed("Nuñez", "Zoe")},
		{id: "bytes-escape-unknown", raw: who(`A\Zabc\B`, "Zoe", ""), want: "opened", check: isNamed(`A\Zabc\B`, "Zoe")},
		{id: "bytes-escape-lone", raw: who(`A\B`, "Zoe", ""), want: "opened", check: isNamed(`A\B`, "Zoe")},
		{id: "bytes-escape-charset-switch", raw: who(`A\C2842\B`, "Zoe", ""), want: "opened"},
		{id: "bytes-escape-line-break-in-name", raw: who(`A\.br\B`, "Zoe", ""), want: "opened", check: isNamed("A B", "Zoe")},
		{id: "bytes-escaped-answer", raw: panel(81, obx("CWE", cInterp, `LA18593-6^Out of range \T\ refer^LN`)), want: "opened"},
		{id: "bytes-ampersand-in-comment", raw: panel(81, interp(aOut), obx("TX", cComment, "IRT & DNA done & reported")), want: "opened", check: func(t *testing.T, cs []cases.Case) {
			if c := oneCase(t, cs); !strings.Contains(c.Referral.Screen.Comment, "& reported") {
				t.Errorf("the tail of the comment is lost: %q", c.Referral.Screen.Comment)
			}
		}},
		{id: "bytes-caret-in-comment", raw: panel(81, interp(aOut), obx("TX", cComment, "IRT ^ high ^ refer")), want: "opened", check: func(t *testing.T, cs []cases.Case) {
			if c := oneCase(t, cs); !strings.Contains(c.Referral.Screen.Comment, "refer") {
				t.Errorf("the tail of the comment is lost: %q", c.Referral.Screen.Comment)
			}
		}},
		{id: "bytes-latin1-declared", raw: latin, want: "opened", check: isNamed("Nuñez", "Zoë")},
		{id: "bytes-latin1-undeclared", raw: strings.Replace(latin, "8859/1", "", 1), want: "opened", says: []string{"spelling"}, check: isNamed("Nuñez", "Zoë")},
		{id: "bytes-utf8-undeclared", raw: who("Nuñez", "Zoë", ""), want: "opened", check: isNamed("Nuñez", "Zoë")},
		{id: "bytes-cyrillic-declared", raw: encoded(charmap.ISO8859_5, who("Чайкина", "Вера", "8859/5")), want: "opened", check: isNamed("Чайкина", "Вера")},
		{id: "bytes-charset-not-read", raw: who("\xb0\xa1", "Zoe", "GB 18030-2000"), want: "review", says: []string{"MSH-18"}},
		{id: "bytes-charset-invented", raw: who("Nuñez", "Zoë", "KLINGON"), want: "review", says: []string{"MSH-18"}},
		{id: "bytes-charset-invented-ascii", raw: who("Nunez", "Zoe", "KLINGON"), want: "opened"},
		{id: "bytes-hebrew", raw: who("שחף", "נועה", "UNICODE UTF-8"), want: "opened", check: isNamed("שחף", "נועה")},
		{id: "bytes-arabic", raw: who("النورس", "ليلى", "UNICODE UTF-8"), want: "opened", check: isNamed("النورس", "ليلى")},
		{id: "bytes-han", raw: who("海鷗", "小燕", "UNICODE UTF-8"), want: "opened", check: isNamed("海鷗", "小燕")},
		{id: "bytes-bidi-override", raw: who("Gull\u202egnikcor", "Zoe", ""), want: "opened|review"},
		{id: "bytes-bidi-override-in-answer", raw: panel(81, obx("ST", cInterp, "\u202eegnar fo tuo")), want: "review"},
		{id: "bytes-zero-width", raw: who("Gull\u200brock", "Zoe", ""), want: "opened"},
		{id: "bytes-combining", raw: who("Nun\u0303ez", "Zoe\u0308", ""), want: "opened"},
		{id: "bytes-nul-in-name", raw: who("Gull\x00rock", "Zoe", ""), want: "opened|review"},
		{id: "bytes-nul-padding", raw: panel(81, interp(aOut)) + strings.Repeat("\x00", 512), want: "opened"},
		{id: "bytes-nul-between", raw: strings.ReplaceAll(panel(81, interp(aIn)), "\r", "\r\x00"), want: "review|no-case"},
		{id: "bytes-escape-character-in-name", raw: who("Gull\x1b[31mrock", "Zoe", ""), want: "opened|review"},
		{id: "bytes-escape-character-in-code", raw: panel(81, obx("ST", "X\x1b[2J^cystic fibrosis \x07 local^L", "\x1b[31mbad\x9b")), want: "review"},
		{id: "bytes-lone-surrogate", raw: who("Gull\xed\xa0\x80rock", "Zoe", ""), want: "opened", says: []string{"spelling"}},
		{id: "bytes-overlong", raw: who("Gull\xc0\xafrock", "Zoe", ""), want: "opened", says: []string{"spelling"}},
		{id: "bytes-form-feed", raw: who("Gull\frock", "Zoe", ""), want: "opened"},
		{id: "bytes-vertical-tab-in-text", raw: panel(81, interp(aOut), obx("TX", cComment, "one\x0btwo")), want: "opened|review"},
		{id: "bytes-file-separator-in-text", raw: panel(81, interp(aIn), obx("TX", cComment, "one\x1ctwo OUT OF RANGE")), want: "no-case|review"},
		{id: "bytes-line-separator", raw: panel(81, interp(aOut), obx("TX", cComment, "one\u2028two\u0085three")), want: "opened"},
		{id: "bytes-separator-not-ascii", raw: "MSH\xff^~\\&\xffNBS\r", want: "review"},
		{id: "bytes-html-name", raw: who("<script>alert(1)</script>", "Zoe", ""), want: "opened"},
		{id: "bytes-emoji", raw: who("Gull🐦rock", "Zoe", ""), want: "opened", check: isNamed("Gull🐦rock", "Zoe")},
	}
}

// hugeSamples: long fields, many repeats, deep nesting.
func hugeSamples() []sample {
	long := strings.Repeat("word ", 100_000)
	return []sample{
		{id: "huge-comment", raw: panel(90, interp(aOut), obx("TX", cComment, long)), want: "opened|review"},
		{id: "huge-comment-in-range", raw: panel(90, interp(aIn), obx("TX", cComment, long)), want: "no-case|review"},
		{id: "huge-name", raw: strings.Replace(panel(90, interp(aOut)), babies[90%len(babies)].family, strings.Repeat("Gull", 50_000), 1), want: "opened|review"},
		{id: "huge-answer", raw: panel(90, obx("ST", cInterp, long)), want: "review"},
		{id: "huge-code", raw: panel(90, obx("ST", long+"^cystic fibrosis^L", "x")), want: "review"},
		{id: "huge-repeats-record-number", raw: strings.Replace(panel(90, interp(aOut)), "MRN00090", strings.Repeat("A^^^B^MR~", 100_000)+"MRN00090", 1), want: "opened|review", says: []string{"repeats"}},
		{id: "huge-repeats-answer", raw: panel(90, interp(strings.Repeat(aIn+"~", 20_000)+aOut)), want: "review", says: []string{"repeats"}},
		{id: "huge-repeats-variant", raw: panel(90, obx("ST", cVar, strings.Repeat("F508del~", 20_000)), interp(aOut)), want: "review"},
		{id: "huge-repeats-comment", raw: panel(90, interp(aIn), obx("TX", cComment, strings.Repeat("~", 100_000)+"x")), want: "no-case|review"},
		{id: "huge-repeats-phone", raw: strings.Replace(panel(90, interp(aOut)), "^PRN^PH", strings.Repeat("5551234~", 50_000)+"^PRN^PH", 1), want: "opened|review"},
		{id: "huge-subcomponents", raw: panel(90, interp(aIn), obx("TX", cComment, strings.Repeat("&", 100_000)+"x")), want: "no-case|review"},
		{id: "huge-components", raw: panel(90, obx("CWE", cInterp, strings.Repeat("^", 100_000)+"x")), want: "review"},
		{id: "huge-escapes", raw: panel(90, interp(aIn), obx("TX", cComment, strings.Repeat(`\E\`, 50_000))), want: "no-case|review"},
		{id: "huge-lone-escapes", raw: panel(90, interp(aIn), obx("TX", cComment, strings.Repeat(`\`, 50_001))), want: "no-case|review"},
		{id: "huge-fields", raw: panel(90, interp(aOut+strings.Repeat("|", 100_000))), want: "opened|review"},
		{id: "huge-segments", raw: message(flat(head(90), []string{obr(90, cCF), interp(aIn)}, strings.Split(strings.TrimSpace(strings.Repeat("NTE|1||x\n", 25_000)), "\n"))...), want: "review", says: []string{"too long"}},
		{id: "huge-unknown-results", raw: panel(90, strings.Split(strings.TrimSpace(strings.Repeat("OBX|1|ST|X^cystic fibrosis^L||bad||||||F\n", 5_000)), "\n")...), want: "review"},
	}
}
