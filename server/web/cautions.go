package web

// The cautions of the protocol page and of the pages that need them. They defer
// to local protocol and licensed practice.
const (
	cautionNotDiagnosis = "Dunlin sorts work. It is not a diagnosis and not medical advice: a named clinician decides, by the local protocol and licensed practice."
	cautionTwoVariants  = "Two CF-causing variants: call the CF center and primary care now. Age or weight never delays that call, and care does not wait for the sweat test."
	cautionSaltLoss     = "Salt loss: an infant with CF can lose salt and become dehydrated before any diagnosis, above all in heat, fever or vomiting. Poor feeding, vomiting, listlessness, poor weight gain or wheeze: medical care today, without waiting for the appointment."
	cautionScreen       = "A normal screen, or a normal IRT with meconium ileus, does not rule out CF. A sweat chloride in the lowest class makes CF unlikely, not impossible."
	cautionCollection   = "No collection over broken or inflamed skin, no current across the chest, none in an oxygen-rich enclosure. Ask first about an implanted device or seizures. Both electrodes on the same limb."
	cautionReaction     = "A blister or burn is rare. It must be recorded, seen by a clinician the same day, and reported."
	cautionFamilies     = "Most infants with an out-of-range screen do not have CF. Letters stay calm and name no result, variant or diagnosis."
	cautionLetters      = "No letter goes to the family of an infant who died, was declined, moved, or is under a custody flag."
	cautionThresholds   = "Race and sex never change a value of the protocol."
	cautionUnderSixty   = "A value under the CF range alone does not send an infant home: children found late had been sent home on one. Look at variants, repeats and symptoms."
	cautionPrivacy      = "Genetic and newborn data: as little as needed in letters, and seen only by those whose work needs it."
)

// allCautions are shown on the protocol page.
var allCautions = []string{cautionNotDiagnosis, cautionTwoVariants, cautionSaltLoss, cautionScreen, cautionCollection,
	cautionReaction, cautionFamilies, cautionLetters, cautionThresholds, cautionUnderSixty, cautionPrivacy}

// testDayCautions are shown where a test is booked or recorded.
var testDayCautions = []string{
	"Ask the parent for the infant's full name and birth date. Twins: one infant in the room at a time; label before you leave the cot.",
	"Weigh the infant on the day. A weight estimate only plans the date.",
	cautionCollection,
	"Do not test an infant who is unwell, dehydrated or swollen. Ask the doctor.",
	cautionReaction,
}

// programChoices are choices of this project that the program's clinicians must
// sign before use.
var programChoices = []string{
	"A later test in the lowest class never undoes a test in the CF range: it is checked.",
	"Two intermediate tests on different days end the repeats and wait for the sequencing report.",
	"An intermediate test followed by one in the lowest class is read by the later test.",
	"Two CF-causing alleles with two tests in the lowest class go to a person.",
	"All variants in cis count as one allele.",
	"Lost to follow-up needs documented tries since the family was last reached, over the days, means and letter of the values above.",
	"The due days of steps and clocks.",
}
