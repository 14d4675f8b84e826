package demo

import (
	"fmt"
	"math/rand/v2"

	"dunlin/cases"
)

// person is an invented infant with its family, as the laboratory knows them.
type person struct {
	family, given string
	girl          bool
	born          cases.Day
	bornAt        string // HHMM
	weeks         int
	birthWeightG  int
	plurality     int
	order         int
	record        string
	motherRecord  string
	mother        mother
	phone         string // 55501xx
	street        string
	place         place
	language      string
	hospital      hospital
	care          practice
}

type mother struct{ given, family, maiden string }

type place struct{ name, county, postal string }

type hospital struct{ name, oid string }

type practice struct{ name, practice, phone string }

func (p person) sexCode() string {
	if p.girl {
		return "F"
	}
	return "M"
}

var languages = map[string]string{"en": "English", "es": "Spanish"}

var (
	girls = []string{"Ada", "Noor", "Lucía", "Mei", "Amara", "Ingrid", "Zofia", "Leilani", "Priya", "Soledad", "Freya",
		"Yara", "Nadia", "Ximena", "Thandi", "Aiko", "Carmen", "Elif", "Marisol", "Brigid", "Ruth", "Anouk", "Ilse",
		"Dalia", "Paloma", "Signe", "Hana", "Beatriz", "Ottilie", "Wanjiru"}
	boys = []string{"Tobias", "Mateo", "Idris", "Hugo", "Kenji", "Rafael", "Kofi", "Anders", "Emil", "Joaquín", "Ravi",
		"Declan", "Tomás", "Malik", "Sione", "Luka", "Andrés", "Bao", "Owen", "Farid", "Isaac", "Pim", "Rafferty",
		"Ezra", "Nicolás", "Bo", "Oisín", "Tariq", "Jonah", "Lolo"}
	mothers = []string{"Ana", "Ruth", "Miriam", "Grace", "Fatima", "Elena", "Hye-jin", "Kerstin", "Rosa", "Tamar",
		"Chidinma", "Lakshmi", "Nora", "Pilar", "Salma", "Teuila", "Vera", "Yolanda", "Agnes", "Mirela"}
	// English-speaking and Spanish-speaking families; the names are combined at
	// random and belong to nobody.
	englishFamilies = []string{"Wrenfield", "Okonjo-Hale", "Halvorsen", "Tamasese", "Pascoe", "Quillon", "Trevanion",
		"Fenwick-Ade", "Larsson-Moyo", "Kovalenko", "Sorrel-White", "Pham-Oakes", "Abernathy-Osei", "Vanterpool",
		"Drummond", "Oyelaran", "Nakamura-Bell", "Szabo", "Haddad", "Lindqvist", "Kaur-Finch", "Banerjee", "Petrossian",
		"O'Dowd", "Whitcombe", "Kealoha", "Tran-Ellery", "Mensah", "Demir", "Brannock", "Castellane", "Eriksen-Dube",
		"Farrow & Lin", "Goldwater-Singh", "Hwang", "Ilves", "Jankovic", "Kirwan", "Lapointe", "Marchetti", "Nwosu",
		"Orlov", "Polgrean", "Rautio", "Stavros", "Tindall", "Ueda", "Vidmar", "Yilmaz", "Zeleny"}
	spanishFamilies = []string{"Ibarra Solís", "Montoya", "Aguilar", "Villarreal", "Núñez", "Solano", "Reyes-Holt",
		"Delgado Ruiz", "Quiroga", "Barrientos", "Peñaloza", "Zamudio", "Cárdenas", "Escalante", "Urrutia"}
	maidens = []string{"Ashdown", "Bellamy", "Corcoran", "Dahl", "Espino", "Fujita", "Garrick", "Hollis", "Iversen", "Joshi"}
	streets = []string{"Plover Lane", "Heron Street", "Saltmarsh Road", "Tern Court", "Dune Walk", "Mussel Alley",
		"Estuary Drive", "Cordgrass Way", "Oyster Row", "Pickleweed Place"}
	places = []place{{"Alder Bay", "Alder Bay", "00012"}, {"Heron Point", "Alder Bay", "00014"}, {"Saltmarsh", "Saltmarsh", "00017"},
		{"Tern Valley", "Saltmarsh", "00021"}, {"Marlow Creek", "Marlow", "00023"}}
	hospitals = []hospital{{"Tern Valley Hospital", "2.16.840.1.113883.19.57.1"},
		{"Saltmarsh Birth Center", "2.16.840.1.113883.19.57.2"}, {"North Spit Hospital", "2.16.840.1.113883.19.57.3"},
		{"Heron Point Hospital", "2.16.840.1.113883.19.57.4"}}
	practices = []practice{{"Dr. Juniper Averill", "Sandpiper Family Practice", "5550150"},
		{"Dr. Osric Fenn", "Harbor Road Pediatrics", "5550151"}, {"Dr. Paz Olmedo", "Cannery Street Clinic", "5550152"},
		{"Dr. Linnea Strand", "Lighthouse Children's Doctors", "5550153"}, {"Dr. Bram Adeyemi-Cole", "Estuary Health", "5550154"}}
)

// newPerson invents the n-th infant, born on the given day at term. The same n
// always gives the same person.
func newPerson(n int, born cases.Day) person {
	rng := rand.New(rand.NewPCG(uint64(n), 0xA1DE2))
	pick := func(list []string) string { return list[rng.IntN(len(list))] }
	p := person{born: born, plurality: 1, order: 1, girl: rng.IntN(2) == 0, language: "en",
		weeks: 38 + rng.IntN(4), birthWeightG: 2700 + 10*rng.IntN(130),
		bornAt:       fmt.Sprintf("%02d%02d", rng.IntN(24), rng.IntN(60)),
		record:       fmt.Sprintf("%07d", 4100000+n*37),
		motherRecord: fmt.Sprintf("%07d", 5200000+n*41),
		phone:        fmt.Sprintf("55501%02d", n%50),
		street:       fmt.Sprintf("%d %s", 2+rng.IntN(180), pick(streets)),
		place:        places[rng.IntN(len(places))],
		hospital:     hospitals[rng.IntN(len(hospitals))],
		care:         practices[rng.IntN(len(practices))]}
	p.family = englishFamilies[n%len(englishFamilies)]
	if n%5 == 3 {
		p.language, p.family = "es", spanishFamilies[n/5%len(spanishFamilies)]
	}
	p.mother = mother{pick(mothers), p.family, pick(maidens)}
	p.given = pick(boys)
	if p.girl {
		p.given = pick(girls)
	}
	if n%13 == 7 { // the hospital had no name yet
		p.given = "BABYBOY"
		if p.girl {
			p.given = "BABYGIRL"
		}
	}
	return p
}

// early makes the infant preterm.
func (p person) early(weeks, grams int) person {
	p.weeks, p.birthWeightG = weeks, grams
	return p
}

// later is a time "HHMM" eleven minutes on, on the same day.
func later(at string) string {
	var hour, minute int
	fmt.Sscanf(at, "%2d%2d", &hour, &minute)
	total := min(hour*60+minute+11, 23*60+59)
	return fmt.Sprintf("%02d%02d", total/60, total%60)
}

// twin gives the second of twins with the first's family.
func (p person) twin(given string, girl bool) (first, second person) {
	first, second = p, p
	first.plurality, first.order = 2, 1
	second.plurality, second.order = 2, 2
	second.given, second.girl = given, girl
	second.record = p.record + "2"
	second.bornAt = later(p.bornAt)
	second.birthWeightG -= 130
	return first, second
}
