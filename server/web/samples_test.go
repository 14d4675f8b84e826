package web_test

import "strings"

// Cases of the tests, all invented. Today is 5 March 2026.
const (
	// reached the family; QNS on both arms on day 24; a repeat is due.
	docQNS = `{"document":"dunlin-case/1","infant":{"given":"Tobias","family":"Oyelaran","sex":"male","born":"2026-01-21","gestation":"36w5d","birth_weight_g":2310,"weights":[{"on":"2026-02-14","g":3020}]},
"referral":{"on":"2026-01-30","route":"screen","screen":{"collected":"2026-01-22","accession":"26-0431957","irt_ng_ml":96.4}},
"genotype":{"reported":"2026-01-30","scope":"panel","variants":[{"name":"F508del","phase":"unknown"}]},
"contacts":[{"on":"2026-01-30","with":"primary-care","by":"phone","reached":true,"outcome":"talked, understood"},{"on":"2026-01-30","with":"family","by":"phone","reached":true,"outcome":"talked, understood"}],
"sweat_tests":[{"on":"2026-02-14","site":"alder-bay","collector":"tubing","arms":[{"side":"left","minutes":30,"amount_ul":8},{"side":"right","minutes":30,"amount_ul":11}]}],
"family":{"guardians":[{"given":"Ruth","family":"Oyelaran","relation":"mother","phones":[{"number":"555-0187"}],"letters":true}],"language":"en"},
"flags":[{"kind":"no-voicemail"}]}`
	// two CF-causing variants, nobody told.
	docTwoVariants = `{"document":"dunlin-case/1","infant":{"given":"Noor","family":"Mbeki-Larsson","sex":"female","born":"2026-02-20","gestation":"39w0d"},
"referral":{"on":"2026-03-02","route":"screen"},
"genotype":{"reported":"2026-03-02","scope":"panel","variants":[{"name":"F508del","phase":"unknown"},{"name":"G542X","phase":"unknown"}]}}`
	// nobody told yet, due on the day of the list.
	docNew = `{"document":"dunlin-case/1","infant":{"given":"Ida","family":"Sorrel-White","sex":"female","born":"2026-02-18","gestation":"40w0d","birth_weight_g":3400},
"referral":{"on":"2026-03-04","route":"screen"}}`
	// told and booked ahead: not on the list.
	docBooked = `{"document":"dunlin-case/1","infant":{"given":"Ezra","family":"Vanterpool","sex":"male","born":"2026-02-12","gestation":"39w0d","birth_weight_g":3300,"weights":[{"on":"2026-02-24","g":3500}]},
"referral":{"on":"2026-02-20","route":"screen"},
"contacts":[{"on":"2026-02-20","with":"primary-care","by":"phone","reached":true},{"on":"2026-02-20","with":"family","by":"phone","reached":true}],
"bookings":[{"on":"2026-03-06","at":"09:30","site":"alder-bay","state":"booked","changed":"2026-02-21"}]}`
)

// doc is a case with some words replaced, in pairs.
func doc(base string, pairs ...string) string { return strings.NewReplacer(pairs...).Replace(base) }
