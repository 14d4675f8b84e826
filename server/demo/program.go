package demo

// Site is an invented place of sweat tests; Key is what bookings and tests hold.
type Site struct{ Key, Name, Address, Phone, Note string }

// Sites lists the places of tests.
var Sites = []Site{
	{"alder-bay", "Alder Bay CF Clinic", "40 Harbor Road, Alder Bay", "555-0160", "Use the blue door on Harbor Road. Parking is free."},
	{"heron-point", "Heron Point Hospital, children's desk", "2 Heron Street, Heron Point", "555-0161", "Ask for the sweat test at the children's desk."},
	{"tern-valley", "Tern Valley Hospital", "118 Tern Court, Tern Valley", "555-0162", "Main entrance, first floor."},
	{"marlow-creek", "Marlow Creek Clinic", "9 Cordgrass Way, Marlow Creek", "555-0163", ""},
}

// Facts are what letters say of the invented program.
type Facts struct {
	Name      string
	Return    []string // return address
	Contact   string   // whom families call
	Phone     string
	Hours     string
	Emergency string
}

// Program is the program of the scenario.
var Program = Facts{
	Name:      "Alder Bay newborn screening follow-up",
	Return:    []string{"Newborn follow-up", "1 Harbor Road", "Alder Bay AB 00012"},
	Contact:   "Wren Castellano",
	Phone:     "555-0142",
	Hours:     "Monday to Friday, from 8 in the morning to 4 in the afternoon",
	Emergency: "911",
}
