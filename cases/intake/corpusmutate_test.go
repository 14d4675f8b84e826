package intake_test

import (
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases/intake"
)

// mutation changes a message. harmless ones leave every result as it was said, so that
// a screen out of range must still reach a case or a person, and every infant in it.
type mutation struct {
	name string
	do   func(r *rand.Rand, raw string) string
}

var zSegments = []string{"ZNB|1|note", "ZZZ", "ZPI|1^2&3~4|\\F\\", "Z01|||", "NTE|1||See the manual.", "NTE|1||Normal", "SFT|x|1", "PV2|||x"}

// after works on the segments behind the header.
func after(f func(r *rand.Rand, s []string) []string) func(*rand.Rand, string) string {
	return func(r *rand.Rand, raw string) string {
		s := lines(raw)
		if len(s) < 2 {
			return raw
		}
		return message(append(s[:1:1], f(r, s[1:])...)...)
	}
}

var mutations = []mutation{
	{"delete", after(func(r *rand.Rand, s []string) []string {
		i := r.IntN(len(s))
		return append(append([]string{}, s[:i]...), s[i+1:]...)
	})},
	{"double", after(func(r *rand.Rand, s []string) []string {
		i, j := r.IntN(len(s)), r.IntN(len(s)+1)
		return append(append(append([]string{}, s[:j]...), s[i]), s[j:]...)
	})},
	{"reorder", after(func(r *rand.Rand, s []string) []string {
		s = append([]string{}, s...)
		i, j := r.IntN(len(s)), r.IntN(len(s))
		s[i], s[j] = s[j], s[i]
		return s
	})},
	{"inject", after(func(r *rand.Rand, s []string) []string {
		j := r.IntN(len(s) + 1)
		return append(append(append([]string{}, s[:j]...), zSegments[r.IntN(len(zSegments))]), s[j:]...)
	})},
	{"line ends", func(r *rand.Rand, raw string) string {
		var b strings.Builder
		for _, l := range lines(raw) {
			b.WriteString(l + []string{"\r", "\n", "\r\n", "\n\r", "\r\r", " \r"}[r.IntN(6)])
		}
		return b.String()
	}},
	{"trailing separators", after(func(r *rand.Rand, s []string) []string {
		s = append([]string{}, s...)
		s[r.IntN(len(s))] += strings.Repeat("|", 1+r.IntN(40))
		return s
	})},
	{"frame", func(r *rand.Rand, raw string) string { return "\x0b" + raw + "\x1c\r" }},
	{"mark", func(r *rand.Rand, raw string) string { return "\ufeff" + raw }},
	{"another before", func(r *rand.Rand, raw string) string { return message(msh("ADT^A08", "2.3", 1), pid(7)) + raw }},
	{"truncate", func(r *rand.Rand, raw string) string { return raw[:r.IntN(len(raw)+1)] }},
	{"byte", func(r *rand.Rand, raw string) string {
		b := []byte(raw)
		for range 1 + r.IntN(4) {
			b[r.IntN(len(b))] = byte(r.IntN(256))
		}
		return string(b)
	}},
	{"insert bytes", func(r *rand.Rand, raw string) string {
		i := r.IntN(len(raw))
		return raw[:i] + []string{"\x00", "\r", "\n", "|", "^", "~", "\\", "&", "\x0b", "\x1c", "\xff", "\u202e", "MSH|", "\rPID|1"}[r.IntN(14)] + raw[i:]
	}},
}

var everything = []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}

// added are the mutations that only add or that change the form: "delete" may take the
// answer away, the last three anything.
var added = []int{1, 2, 3, 4, 5, 6, 7, 8}

// TestMutations: whatever is done to a message, there is no panic, at least one item,
// counters that add up and bytes that were kept; and noise added to a report out of
// range never makes it one in range.
func TestMutations(t *testing.T) {
	s := newStand(t)
	var seeds []sample
	for _, m := range corpus() {
		if len(m.raw) > 0 && len(m.raw) < 8<<10 && len(m.before) == 0 {
			seeds = append(seeds, m)
		}
	}
	outs := outOfRange()
	drawn(t, 12, func(t *testing.T, seed uint64) {
		r := rand.New(rand.NewPCG(seed, 1))
		for range 20 {
			m := seeds[r.IntN(len(seeds))] // anything to anything
			raw, done := changed(r, m.raw, everything)
			got := s.try(t, m.set, raw)
			sound(t, &got, raw)
			report(t, seed, m.id+done, raw, &got)

			raw, done = changed(r, outs[r.IntN(len(outs))], added)
			got = s.try(t, intake.Settings{}, raw)
			sound(t, &got, raw)
			if !strings.Contains(got.outcomes(), "opened") && !strings.Contains(got.outcomes(), "review") {
				t.Errorf("out of range became %s", got.outcomes())
			}
			report(t, seed, done, raw, &got)
		}
	})
}

// changed does one to four of the given mutations.
func changed(r *rand.Rand, raw string, which []int) (out, done string) {
	for range 1 + r.IntN(4) {
		if len(raw) == 0 {
			break
		}
		k := mutations[which[r.IntN(len(which))]]
		raw, done = k.do(r, raw), done+", "+k.name
	}
	return raw, done
}

func report(t *testing.T, seed uint64, what, raw string, got *tried) {
	t.Helper()
	if t.Failed() {
		t.Fatalf("seed %d, %s: %q\n%s\n%s", seed, what, raw, got.outcomes(), got.text())
	}
}

// outOfRange are reports out of range in several styles, each of one infant.
func outOfRange() []string {
	return []string{
		panel(140, interp(aOut)),
		panel(141, measured("NM", cIRT, "118.4", "ng/mL", "<60", "H"), obx("ST", cVar, "F508del"), interp(aNow)),
		panel(142, obx("ST", cInterp, "Abnormal")),
		panel(143, interp("LA9663-1^Inconclusive^LN")),
		message(flat(head(144), []string{obx("CWE", cPos, "LA22202-8^Cystic fibrosis^LN")}, otherPanel(144, aIn))...),
		message(oru(145), pid(145), obr(145, "NBS^Newborn Screen^L"), obx("ST", "CF^Cystic fibrosis^L", "ABNORMAL")),
		message(oru(146), pid(146), obr(146, "NBS^Newborn Screen^L"), nte("Cystic fibrosis: OUT OF RANGE")),
	}
}

// drawn runs a test on fixed seeds, so that it says the same each time, and on as many
// random ones as DUNLIN_SEEDS says.
func drawn(t *testing.T, fixed int, f func(t *testing.T, seed uint64)) {
	t.Helper()
	for seed := range uint64(fixed) {
		f(t, seed+1)
	}
	more, _ := strconv.Atoi(os.Getenv("DUNLIN_SEEDS"))
	for range more {
		f(t, rand.Uint64())
	}
	t.Logf("%d fixed seeds, %d random ones", fixed, more)
}

// twoInfants are two infants in one message, both out of range and each with a variant; the
// results are numbered as the standard says, or each has the number 1.
func twoInfants(numbered bool) string {
	two := "1"
	if numbered {
		two = "2"
	}
	var all []string
	for i, v := range []string{"F508del", "G551D"} {
		n := 150 + i
		all = append(all, pid(n), nk1(n), orc(n), obr(n, cCF), obx("ST", cVar, v), strings.Replace(interp(aOut), "OBX|1", "OBX|"+two, 1))
	}
	return message(append([]string{oru(150)}, all...)...)
}

// TestNoneShared: noise in a message with two infants, or the loss of any one of its
// segments, or of the head of the second infant with what stands beside it, gives no
// infant a variant of the other without a person.
func TestNoneShared(t *testing.T) {
	s := newStand(t)
	drawn(t, 12, func(t *testing.T, seed uint64) {
		r := rand.New(rand.NewPCG(seed, 2))
		for range 12 {
			s.noneShared(t, seed, r)
		}
	})
}

// loss draws segments to be lost: any one, or several behind each other that take the
// second PID and leave results of both infants. Without numbers of the results, nothing
// tells what is left when the first infant's answer goes with the whole second head. The
// second infant's variant stays, so that there is something to be mixed up.
func loss(r *rand.Rand, l []string, numbered bool) (from, to int) {
	from = 1 + r.IntN(len(l)-1)
	if r.IntN(2) == 0 {
		return from, from + 1
	}
	const answer, second = 6, 7 // the first answer, the second PID
	if from = second; numbered {
		from = answer + r.IntN(2)
	}
	return from, second + 1 + r.IntN(len(l)-second-2)
}

// noneShared tries one drawing of TestNoneShared.
func (s *stand) noneShared(t *testing.T, seed uint64, r *rand.Rand) {
	t.Helper()
	numbered := r.IntN(2) == 0
	raw, lost := twoInfants(numbered), ""
	if r.IntN(3) > 0 { // on the way
		l := lines(raw)
		from, to := loss(r, l, numbered)
		lost = strings.Join(l[from:to], " ")
		raw = message(append(l[:from:from], l[to:]...)...)
	}
	for range r.IntN(3) {
		raw = mutations[[]int{3, 4, 5}[r.IntN(3)]].do(r, raw)
	}
	got := s.try(t, intake.Settings{}, raw)
	for _, c := range got.cases {
		if c.Genotype == nil {
			continue
		}
		own := map[string]string{babies[150%len(babies)].family: "F508del", babies[151%len(babies)].family: "G551D"}[c.Infant.Family]
		for _, v := range c.Genotype.Variants {
			if v.Name != own {
				t.Errorf("seed %d: %s has %s, without %q in %q", seed, c.Infant.Family, v.Name, lost, raw)
				return
			}
		}
	}
	if len(got.Items) < 2 && got.outcomes() != "review" { // one that cannot be divided
		t.Errorf("seed %d: %s, of two infants, without %q in %q", seed, got.outcomes(), lost, raw)
	}
}
