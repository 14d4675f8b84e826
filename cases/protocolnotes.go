package cases

// ProtocolNote says what one protocol value means and where its default is from.
type ProtocolNote struct {
	Name  string // as in settings and case documents
	Title string // for people
	Unit  string
	Group string // "Who can be tested", "When things are due", "How a test is read", "Closing and reports",
	// "Matching what arrives", "Proposing places", "Letters"
	Source string // published source, common practice, or choice of this project
	Seen   bool   // false: from memory or a project choice; to be checked before it is relied on
}

// Groups of protocol values, in the order shown.
const (
	groupReady  = "Who can be tested"
	groupDue    = "When things are due"
	groupRead   = "How a test is read"
	groupClosed = "Closing and reports"
	groupMatch  = "Matching what arrives"
	groupPlan   = "Proposing places"
	groupMail   = "Letters"
)

// ProtocolNotes lists every protocol value in the order shown. No full guideline
// was read end to end: "seen" means its abstract, statements or table. Every value
// is the program's own clinicians' to sign.
var ProtocolNotes = []ProtocolNote{
	{"min_age_days", "Least age", "days", groupReady, "2 weeks: LeGrys et al., J Pediatr 2007;151:85-89 as taught in a laboratory course; Farrell et al. 2017 says after 10 days", true},
	{"min_weight_g", "Least weight", "g", groupReady, "2 kg: Farrell et al., J Pediatr 2017;181S:S4-S15 words it above 2 kg; French guidance 2010 asks 3 kg", true},
	{"weight_strictly_above", "Weight must be above the least, not at it", "", groupReady, "Choice of this project: at least 2 kg", false},
	{"min_corrected_gestation", "Least corrected gestation", "weeks and days", groupReady, "36 weeks: Farrell et al. 2017; Eng et al. 2005; Michigan 2011 found 39 weeks better", true},
	{"require_both_arms", "Both arms are expected", "", groupReady, "Farrell et al. 2017: test both sides in screened newborns", true},
	{"first_test_by_days", "First test by age", "days", groupDue, "Farrell et al. 2017: ideally within 4 weeks", true},
	{"alert_untested_days", "Supervisor told when untested at age", "days", groupDue, "58 days: European guidance 2018, from memory", false},
	{"determination_by_days", "Determination by age", "days", groupDue, "Choice of this project; 60 days is the mark of McColley et al. 2020", false},
	{"tell_primary_care_working_days", "Primary care told within", "working days", groupDue, "Choice of this project; England: laboratory to center within 1 working day", false},
	{"reach_family_working_days", "Family reached within", "working days", groupDue, "Choice of this project", false},
	{"book_within_days", "Test booked within", "days of referral", groupDue, "Arkansas: within 1 week of the result; choice of this project", true},
	{"qns_repeat_days", "Repeat after QNS", "days", groupDue, "As soon as practicable (laboratory course citing the CF Foundation); 7 days is a choice of this project", false},
	{"qns_escalate_after", "Think of genotype and elastase after", "QNS tests", groupDue, "Swiss comparison (PMID 26826912); 2 is a choice of this project", false},
	{"intermediate_repeat_days", "Repeat after intermediate", "days", groupDue, "From memory; no guideline number was seen", false},
	{"intermediate_from_days", "Repeat after intermediate, not before", "days", groupDue, "From memory; no guideline number was seen", false},
	{"intermediate_until_days", "Repeat after intermediate, not after", "days", groupDue, "From memory; no guideline number was seen", false},
	{"genotype_wait_days", "Sequencing report expected within", "days", groupDue, "Choice of this project", false},
	{"contact_plan", "Contact plan: steps to reach a family", "", groupDue, "Choice of this project; its pieces are practice in print: telephone, certified mail, nurse's visit (Maryland), letters and calls, then a visit (Bavaria), at least 3 attempts (Ohio)", false},
	{"holidays", "Days nobody works", "", groupDue, "5 U.S.C. 6103(a) as observed, unless the program gives its own list", true},
	{"min_amount_ul", "Least sweat, tubing", "µL in the base time", groupRead, "15 µL in 30 minutes: laboratory course, four catalogues; UK 18 µL", true},
	{"min_amount_mg", "Least sweat, pad", "mg in the base time", groupRead, "75 mg in 30 minutes on gauze or filter paper: laboratory course; Eng et al. 2005", true},
	{"amount_base_min", "Base time of the least amount", "minutes", groupRead, "30 minutes: laboratory course", true},
	{"amount_scales_down", "Least amount shrinks below the base time", "", groupRead, "UK practice: 15 µL in 25 minutes; off by default", true},
	{"max_collection_min", "Longest collection", "minutes", groupRead, "30 minutes: laboratory course", true},
	{"intermediate_from", "Intermediate from", "mmol/L", groupRead, "30 at any age: Farrell et al. 2017", true},
	{"cf_from", "In the CF range from", "mmol/L", groupRead, "60: Farrell et al. 2017", true},
	{"cf_strictly_above", "CF range starts above, not at, the limit", "", groupRead, "UK wording: above 60; off by default", true},
	{"older_from_days", "Older infants' band from age", "days", groupRead, "RCPA and UK: after 6 months; off by default (Farrell et al. 2017 removed the age split)", true},
	{"older_intermediate_from", "Intermediate from, older infants", "mmol/L", groupRead, "40: RCPA manual", true},
	{"implausible_above", "Held and verified above", "mmol/L", groupRead, "160: from memory; held, never refused", false},
	{"agree_within_low", "Arms agree within, lower values", "mmol/L", groupRead, "10: from memory; Mackay et al. 2008 on spread between arms", false},
	{"agree_within_high", "Arms agree within, higher values", "mmol/L", groupRead, "15: from memory", false},
	{"agree_split_at", "Lower and higher values part at a mean of", "mmol/L", groupRead, "60: from memory", false},
	{"conductivity_refer_from", "Conductivity asks for chloride from", "mmol/L", groupRead, "50: from memory; wording only, conductivity closes nothing", false},
	{"lost_min_attempts", "Lost to follow-up: attempts on different days", "", groupClosed, "Choice of this project; no national number found", false},
	{"lost_min_routes", "Lost to follow-up: different means", "", groupClosed, "Choice of this project", false},
	{"lost_min_days", "Lost to follow-up: days since the first attempt", "days", groupClosed, "Choice of this project", false},
	{"lost_look_months", "Look again at unreached cases at age", "months", groupClosed, "National indicator counts at 12 months; Virginia tracks to 6 months", true},
	{"crms_retest_months", "CRMS/CFSPID re-tests at age", "months", groupClosed, "Until age 8: Green et al., Pediatrics 2024;153(5); ages from memory", false},
	{"qns_benchmark_young", "QNS benchmark, up to 3 months", "share", groupClosed, "10 %: CF Foundation as quoted by Shenoy et al. 2021", true},
	{"qns_benchmark_older", "QNS benchmark, older", "share", groupClosed, "5 %: laboratory course", true},
	{"small_number_below", "Counts below this are not shown outside", "", groupClosed, "CMS cell-size policy (2024): no cell of 1 to 10", true},
	{"matching.certain_from", "Sum of weights that may attach by itself", "", groupMatch, "Choice of this project: 2^18 to 1 among 4,000 infants; two independent identifiers must agree too, nothing differ, and no twin be possible", false},
	{"matching.review_from", "Sum of weights that a person looks at", "", groupMatch, "Choice of this project: even odds among 4,000 infants", false},
	{"matching.name_agrees_from", "Names agree from a similarity of", "", groupMatch, "Similarity: Winkler, US Census Bureau RR94/05 (1994); the limit is a choice of this project", false},
	{"matching.name_differs_below", "Names differ below a similarity of", "", groupMatch, "Choice of this project; between both limits the weight goes in proportion", false},
	{"matching.birth_weight_within_g", "Birth weights agree within", "g", groupMatch, "Choice of this project", false},
	{"matching.birth_date", "Birth date", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program; u is one day of a year of births", false},
	{"matching.sex", "Sex", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program", false},
	{"matching.surname", "Surname", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program", false},
	{"matching.mother_surname", "Mother's surname", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program", false},
	{"matching.mother_given_name", "Mother's given name", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program", false},
	{"matching.mother_birth_date", "Mother's birth date", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program; u is one day of 22 years", false},
	{"matching.phone", "Phone, last seven digits", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program", false},
	{"matching.birth_facility", "Birth place", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program", false},
	{"matching.birth_order", "Birth order", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program. A differing order always goes to a person, whatever the sum", false},
	{"matching.birth_weight", "Birth weight", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program", false},
	{"matching.postal_code", "Postal code", "", groupMatch, "Form: Fellegi and Sunter, J Am Stat Assoc 1969;64:1183-1210; m and u illustrative, to be measured by the program", false},
	{"planning.urgency_two_variants", "Urgency with two variants", "", groupPlan, "Choice of this project, for the medical director to set", false},
	{"planning.urgency_repeat", "Urgency of a repeat", "", groupPlan, "Choice of this project, for the medical director to set", false},
	{"planning.urgency_one_variant", "Urgency with one variant", "", groupPlan, "Choice of this project, for the medical director to set", false},
	{"planning.urgency_no_variant", "Urgency with no variant known", "", groupPlan, "Choice of this project, for the medical director to set", false},
	{"planning.cost_day_waited", "Cost of a day waited, times urgency", "", groupPlan, "Choice of this project, for the medical director to set", false},
	{"planning.cost_day_late", "Cost of a day past the due day, times urgency", "", groupPlan, "Choice of this project, for the medical director to set", false},
	{"planning.cost_unplaced", "Cost of staying without a place, times urgency", "", groupPlan, "Choice of this project, for the medical director to set", false},
	{"planning.cost_km_per_point", "Way that weighs as much as a cost of 1", "km", groupPlan, "Choice of this project, for the medical director to set", false},
	{"mailing.reminder_from_working_days", "Reminder made from, before the test", "working days", groupMail, "McLean et al., Patient Prefer Adherence 2016;10:479-499: every kind of reminder helps attendance; the days are a choice of this project", false},
	{"mailing.reminder_until_working_days", "Reminder made until, before the test; nearer a letter comes too late", "working days", groupMail, "Choice of this project: how long a letter takes is the program's to know", false},
	{"mailing.reminder_after_working_days", "Reminder not sooner after the letter of the appointment than", "working days", groupMail, "Choice of this project", false},
	{"mailing.doctor_result_days", "Result still owed to primary care after closing", "days", groupMail, "Choice of this project", false},
	{"mailing.call_within_days", "A family not reached is asked to call within", "days", groupMail, "Choice of this project", false},
}
