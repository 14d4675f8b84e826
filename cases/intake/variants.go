package intake

import (
	"regexp"
	"slices"
	"strings"

	"dunlin/cases"
)

// Genotyping is what the texts about CFTR variants say. Names has one entry for
// each variant and allele. Reported is false when nothing was reported yet.
type Genotyping struct {
	Names    []string
	Reported bool
	Implied  string // why two alleles may be meant that are not both named
	Problems []Problem
}

var (
	homozygous = regexp.MustCompile(`(?i)\bhomozyg\w*|\(hom\)|\bhom\b|\bx\s?2\b|\b(two|2) copies\b|\bboth (alleles|chromosomes|copies)\b|\bbi-?allelic\b`)
	compound   = regexp.MustCompile(`(?i)\bcompound\s+het\w*`)
	single     = regexp.MustCompile(`(?i)\bheterozyg\w*|\(het\)|\bhet\b|\b(one|1|single) cop(y|ies)( of)?\b|\bx\s?1\b|\bcarrier( of)?\b|\bpathogenic\b|\b(detected|found|identified|positive for|present)\b`)
	twoWords   = regexp.MustCompile(`(?i)\b(two|2|three|3)\s+(different\s+|cf[- ]causing\s+|pathogenic\s+|disease[- ]causing\s+)*(cftr\s+|cf\s+)*(gene\s+)?(variants|mutations|changes|alleles|copies)\b`)
	noneWords  = regexp.MustCompile(`(?i)^(none|no|not|neg|negative|nd|n/n|wt|wild[- ]?type|normal|n|-|nil|absent|no second|unremarkable)\b|^(none|n|-|)$|^0\s+(variants|mutations)`)
	laterWords = regexp.MustCompile(`(?i)^(pending|to follow|in progress|not (tested|done|performed|applicable|reported|available|sent|indicated|yet)|no result|n/?a$|unknown$|tbd|see\b|test not)`)
	general    = regexp.MustCompile(`(?i)\b(not|no|none|without|never|cannot|if|when|may|infants? with|babies with|individuals with|fewer|less|panel|either|unless|whether|homozygous or)\b`)
	looksLike  = regexp.MustCompile(`(?i)^(vus\s+)?(nm_\d+|c\.|p\.|\[?delta|[δ∆])|\d+\s*[+-]\s*\d+\s*(kb)?\s*[acgt]\s*(->|>|→)\s*[acgt]|^[a-z]\d+(fs|del|ins|dup|[a-z*])|^\d+(del|ins|dup)|^[a-z]{3}\d+|^\(?tg\)?\d+|^\d+t$|\b(del|dup|ins)[a-z0-9,]*$|exon`)
	notHom     = regexp.MustCompile(`(?i)\b(not|no|non-?)\s*homozyg`)
	denied     = regexp.MustCompile(`(?i)\b(not|no|negative|neg|absent|without|excluded)\b`)
	leadWords  = regexp.MustCompile(`(?i)^(for|of|the|cftr( gene)?( variants?| mutations?)?:?)\s+`)
	strong     = regexp.MustCompile(`\s*(?:/|\+\s|\s\+|,\s|;\s|\||\n|\band\b|&)\s*`)
)

// ReadVariants reads every text about variants. A name counts only when the whole
// of it is in the table after folding; phase and zygosity are never inferred from
// punctuation; a second test that names the same variant does not count it twice.
func ReadVariants(texts []VariantText, comments []string) Genotyping {
	var g Genotyping
	byTest := map[string]map[string]int{}
	var order, tests []string
	subs, named := map[string]string{}, map[string]bool{}
	for _, t := range texts {
		if t.Status == "X" || t.Status == "I" || laterWords.MatchString(strings.TrimSpace(t.Text)) {
			g.note(t, Check, "The CFTR result is not in yet, or was not done.")
			continue
		}
		one := g.text(t)
		if byTest[t.Code] == nil {
			byTest[t.Code] = map[string]int{}
			tests = append(tests, t.Code)
		}
		for _, n := range one {
			key := foldName(n)
			if subs[t.Code+key] == t.Sub && byTest[t.Code][key] > 0 && t.Sub == "" && len(one) == 1 {
				g.Implied = "The variant " + n + " is named twice, and it is not certain whether that means both alleles."
				continue
			}
			byTest[t.Code][key]++
			subs[t.Code+key] = t.Sub
			if !named[key] {
				named[key] = true
				order = append(order, n)
			}
		}
	}
	for _, n := range order {
		most, key := 0, foldName(n)
		for _, c := range tests {
			most = max(most, byTest[c][key])
		}
		for range most {
			g.Names = append(g.Names, n)
		}
	}
	g.implied(comments)
	return g
}

func foldName(n string) string {
	if l, ok := cases.KnownVariant(n); ok {
		return l
	}
	return strings.ToLower(strings.Join(strings.Fields(n), ""))
}

func (g *Genotyping) note(t VariantText, s Severity, text string) {
	p := t.At
	p.Severity, p.Text, p.Value = s, text, Shorten(t.Text)
	g.Problems = append(g.Problems, p)
}

// text reads one text and gives the names in it.
func (g *Genotyping) text(t VariantText) []string {
	s := strings.TrimSpace(t.Text)
	g.Reported = true
	if names, ok := whole(s); ok {
		return names
	}
	if twoWords.MatchString(s) && !general.MatchString(s) {
		g.Implied = "The text says that there are two variants."
	}
	bare := dropDenied(s)
	hom := homozygous.MatchString(s) && !notHom.MatchString(s)
	two := compound.MatchString(s)
	for _, re := range []*regexp.Regexp{compound, homozygous, single} {
		bare = re.ReplaceAllString(bare, " ")
	}
	bare = strings.Trim(strings.Join(strings.Fields(strings.NewReplacer("()", " ", "( )", " ").Replace(bare)), " "), " ,;:.")
	bare = strings.TrimSpace(leadWords.ReplaceAllString(bare, ""))
	names, all := pieces(bare)
	if hom && len(names) < 2 {
		g.Implied = "The text says homozygous (" + Shorten(s) + ") without naming both alleles."
	}
	if two && len(names) < 2 {
		g.Implied = "The text says compound heterozygous (" + Shorten(s) + ") without naming both variants."
	}
	switch {
	case len(names) == 0 && g.Implied == "" && !noneWords.MatchString(bare):
		g.Reported = false
		g.note(t, Check, "The text about CFTR variants cannot be read; enter the genotype from the report.")
	case !all:
		g.note(t, Check, "A variant in this text is not in the table of names. It counts as a variant of unknown meaning until a person has looked.")
	}
	return names
}

// whole reads a text that is one entry of the table, or a pair of them, or none.
func whole(s string) ([]string, bool) {
	if l, ok := cases.KnownVariant(s); ok {
		return []string{l}, true
	}
	if same, ok := withAliases(s); ok {
		return []string{same}, true
	}
	if noneWords.MatchString(s) && !looksLike.MatchString(s) && !namesOne(s) {
		return nil, true
	}
	return nil, false
}

// namesOne reports whether some word of the text is a variant of the table.
func namesOne(s string) bool {
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" ,/|&\n\t", r) }) {
		if w = strings.Trim(w, "();.:"); len(w) > 1 {
			if _, ok := cases.KnownVariant(w); ok {
				return true
			}
		}
	}
	return false
}

// dropDenied takes out the pieces that say a variant was not found, such as
// "F508del not detected", and leaves the others.
func dropDenied(s string) string {
	if !denied.MatchString(s) {
		return s
	}
	var keep []string
	for _, p := range splitOutside(s) {
		if !denied.MatchString(p) {
			keep = append(keep, p)
		}
	}
	if len(keep) == 0 {
		return "none"
	}
	return strings.Join(keep, ", ")
}

// aliases splits "F508del (c.1521_1523delCTT, p.(Phe508del))" into the name and what
// stands in the brackets, which may hold one further pair each.
func aliases(s string) (name, others string, ok bool) {
	name, others, ok = strings.Cut(s, "(")
	name = strings.TrimRight(name, " \t\n\r\f\v")
	if !ok || name == "" || strings.Contains(name, ")") || !strings.HasSuffix(others, ")") {
		return "", "", false
	}
	others = others[:len(others)-1]
	depth := 0
	for i := range len(others) {
		switch others[i] {
		case '(':
			depth++
		case ')':
			depth--
		}
		if depth < 0 || depth > 1 {
			return "", "", false
		}
	}
	return name, others, depth == 0
}

// withAliases reads "F508del (c.1521_1523delCTT, p.Phe508del)": every name in it
// must mean the same variant.
func withAliases(s string) (string, bool) {
	name, others, ok := aliases(s)
	if !ok {
		return "", false
	}
	first, ok := cases.KnownVariant(name)
	if !ok {
		return "", false
	}
	for _, part := range strings.FieldsFunc(others, func(r rune) bool { return r == ',' || r == ';' || r == '/' }) {
		if other, ok := cases.KnownVariant(strings.TrimSpace(part)); !ok || other != first {
			return "", false
		}
	}
	return first, true
}

// pieces reads a list of variants. all is false when a piece is not in the table.
func pieces(s string) (names []string, all bool) {
	if got, ok := whole(s); ok {
		return got, true
	}
	all = true
	for _, p := range splitOutside(s) {
		if p = strings.Trim(p, " ,;."); p == "" {
			continue
		}
		got, ok := whole(p)
		if !ok {
			got, ok = joined(p)
		}
		if !ok {
			all = false
			if looksLike.MatchString(p) {
				got = []string{p}
			} else if name, _, ok := aliases(p); ok && looksLike.MatchString(name) {
				got = []string{name}
			}
		}
		names = append(names, got...)
	}
	return names, all
}

// joined reads names joined by semicolons without blanks: the longest entry of the
// table is taken, so that R117H;5T stays one complex allele.
func joined(s string) (names []string, ok bool) {
	parts := strings.Split(s, ";")
	if len(parts) < 2 || len(parts) > 8 {
		return nil, false
	}
	for i := 0; i < len(parts); {
		j := len(parts)
		for ; j > i; j-- {
			if l, known := cases.KnownVariant(strings.Join(parts[i:j], ";")); known {
				names = append(names, l)
				break
			}
		}
		if j == i {
			return nil, false
		}
		i = j
	}
	return names, true
}

// splitOutside splits at separators that stand outside brackets.
func splitOutside(s string) []string {
	depth := 0
	mask := []byte(s)
	for i, c := range mask {
		switch c {
		case '(', '[':
			depth++
			mask[i] = '_'
		case ')', ']':
			depth = max(0, depth-1)
			mask[i] = '_'
		default:
			if depth > 0 {
				mask[i] = '_'
			}
		}
	}
	var out []string
	at := 0
	for _, loc := range strong.FindAllIndex(mask, -1) {
		out = append(out, s[at:loc[0]])
		at = loc[1]
	}
	return append(out, s[at:])
}

// twoHints are parts of which every match of homozygous, compound and twoWords has one.
var twoHints = []string{"hom", "x2", "x 2", "x\t2", "copies", "both", "allelic", "compound", "variants", "mutations", "changes", "alleles"}

// implied looks through the comments for words that mean two alleles which the
// variant results do not both name.
func (g *Genotyping) implied(comments []string) {
	alleles := 0
	for _, n := range g.Names {
		if n != "7T" && n != "9T" {
			alleles++
		}
	}
	if alleles >= 2 || g.Implied != "" {
		if alleles >= 2 {
			g.Implied = ""
		}
		return
	}
	for _, c := range comments {
		for sentence := range sentences(c) {
			low := strings.ToLower(sentence)
			if !slices.ContainsFunc(twoHints, func(h string) bool { return strings.Contains(low, h) }) {
				continue // most sentences, at little cost
			}
			if general.MatchString(sentence) {
				continue
			}
			if homozygous.MatchString(sentence) || twoWords.MatchString(sentence) || compound.MatchString(sentence) {
				g.Implied = "The comment speaks of two alleles (" + Shorten(sentence) + "), but the message does not name both."
				return
			}
		}
	}
}
