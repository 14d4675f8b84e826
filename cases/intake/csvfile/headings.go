package csvfile

import "strings"

// synonyms maps headings, folded to letters and digits, to the column they mean.
// The words are those of line lists of our own; a sender's own words are added
// here when its list is first read.
var synonyms = map[string]string{}

func init() {
	for col, words := range map[string]string{
		"referred":      "referral_date date_of_referral referred_on date_referred referred",
		"card":          "card_serial card_number card_no serial serial_number barcode bar_code nbs_card filter_paper_number form_number specimen_card kit_number",
		"accession":     "accession accession_number accession_no lab_number laboratory_number specimen_number specimen_id sample_number sample_id lab_id",
		"mrn":           "mrn medical_record_number record_number hospital_number infant_mrn baby_mrn patient_id",
		"last":          "infant_last last_name lastname surname family_name infant_last_name baby_last baby_last_name infant_family patient_last_name last",
		"first":         "infant_first first_name firstname given_name infant_first_name baby_first baby_first_name infant_given patient_first_name first",
		"name":          "infant_name baby_name patient_name infant name",
		"dob":           "dob date_of_birth birth_date birthdate born infant_dob baby_dob",
		"birth_time":    "birth_time time_of_birth tob born_at",
		"sex":           "sex gender infant_sex",
		"order":         "birth_order order twin_order multiple_order",
		"plurality":     "plurality multiple multiple_birth number_born",
		"weight_g":      "birth_weight_g birthweight_g birth_weight_grams bw_g weight_g birth_weight_in_grams",
		"weight_kg":     "birth_weight_kg birthweight_kg bw_kg weight_kg",
		"weight":        "birth_weight birthweight bw weight",
		"gestation":     "gest_age_wk gestation gestational_age gest_age ga ga_weeks gestation_weeks gestational_age_weeks weeks gest_age_weeks",
		"irt":           "irt_ng_ml irt irt_result irt_value irt_ngml irt_1 trypsinogen immunoreactive_trypsinogen",
		"variant1":      "cftr_variant_1 variant_1 variant1 mutation_1 mutation1 allele_1 cftr_1 cftr1",
		"variant2":      "cftr_variant_2 variant_2 variant2 mutation_2 mutation2 allele_2 cftr_2 cftr2",
		"variants":      "cftr_variants variants mutations genotype cftr dna dna_result cftr_result cftr_variant cftr_mutations",
		"result":        "nbs_interpretation interpretation cf_interpretation cf_result result nbs_result screen_result screening_result cf_screen cf_nbs_result result_text",
		"code":          "interpretation_code result_code cf_code nbs_code loinc_answer answer_code",
		"comment":       "comment comments note notes remark remarks cf_comment",
		"collected":     "collected collection_date date_collected specimen_date collected_on collection_datetime",
		"received":      "received received_date date_received",
		"reported":      "reported reported_date report_date date_reported result_date",
		"quality":       "specimen_quality quality specimen_status",
		"laboratory":    "laboratory lab lab_name sender sending_facility",
		"mother_last":   "mother_last mothers_last mother_last_name mothers_last_name mother_surname maternal_last mom_last",
		"mother_first":  "mother_first mothers_first mother_first_name mothers_first_name mother_given maternal_first mom_first",
		"mother":        "mother mother_name mothers_name mom_name",
		"mother_mrn":    "mother_mrn mothers_mrn maternal_mrn mom_mrn",
		"mother_dob":    "mother_dob mothers_dob maternal_dob mother_birth_date mother_date_of_birth",
		"guardian":      "guardian guardian_name legal_guardian",
		"phone":         "guardian_phone phone telephone parent_phone mother_phone contact_phone phone_number phone_1 home_phone",
		"phone2":        "phone_2 second_phone alternate_phone cell cell_phone mobile other_phone",
		"email":         "email e_mail guardian_email",
		"address":       "address street street_address home_address mailing_address address_1 guardian_address",
		"city":          "city town",
		"state":         "state region province",
		"county":        "county parish county_parish county_of_residence residence_county county_name home_county",
		"zip":           "zip zip_code postal postal_code postcode",
		"language":      "language preferred_language home_language",
		"care":          "pcp_name pcp primary_care primary_care_provider provider physician doctor pediatrician pcp_physician",
		"practice":      "practice pcp_practice clinic practice_name",
		"care_phone":    "pcp_phone provider_phone practice_phone pcp_telephone clinic_phone",
		"facility":      "birth_facility birth_hospital hospital facility place_of_birth birth_place submitter",
		"died":          "died date_of_death deceased death_date",
		"test":          "test test_name analyte analyte_name disorder condition panel panel_name test_description assay",
		"test_message":  "test_message processing",
		"transfusion":   "transfusion transfused last_transfusion transfusion_date",
		"second_screen": "screen_number specimen_type reason",
	} {
		for w := range strings.FieldsSeq(words) {
			synonyms[foldHeading(w)] = col
		}
	}
}

func foldHeading(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// columns maps each known column to its place; names keeps the headings as sent.
type columns struct {
	at    map[string]int
	again map[string][]int // further columns of the same meaning
	odd   []int            // columns that are not known
	names []string
	known int
}

// headings reads a heading row. Of two headings with the same meaning the first is
// read; see rowReader.besides.
func headings(cells []string) columns {
	c := columns{at: map[string]int{}, again: map[string][]int{}, names: cells}
	for i, h := range cells {
		col, ok := synonyms[foldHeading(h)]
		if !ok {
			c.odd = append(c.odd, i)
			continue
		}
		if _, twice := c.at[col]; twice {
			c.again[col] = append(c.again[col], i)
			continue
		}
		c.at[col] = i
		c.known++
	}
	return c
}

// enough says whether the row can be the heading of a line list of infants: it
// names a birth date or a name, and a result or a number.
func (c columns) enough() bool {
	has := func(cols ...string) bool {
		for _, col := range cols {
			if _, ok := c.at[col]; ok {
				return true
			}
		}
		return false
	}
	return c.known >= 3 && has("dob", "last", "name") && has("result", "code", "irt", "card", "mrn", "accession", "variant1", "variants")
}
