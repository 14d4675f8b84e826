package cases

import "regexp"

// DiagnosisCode is an ICD-10-CM code that a person who closes a case may choose for a
// determination. The program never chooses one.
type DiagnosisCode struct {
	As, Code, Title string
}

// DiagnosisCodes are the codes offered, in order. E84.11, Z14.1 and E88.9 (named for
// CRMS/CFSPID in a textbook chapter, Machogu and Ren) were seen in published lists; the
// others, and the wording of their titles, are from memory. Which of the two codes for
// CRMS/CFSPID is used differs between programs.
var DiagnosisCodes = []DiagnosisCode{
	{"cf", "E84.0", "Cystic fibrosis with pulmonary manifestations"},
	{"cf", "E84.11", "Meconium ileus in cystic fibrosis"},
	{"cf", "E84.19", "Cystic fibrosis with other intestinal manifestations"},
	{"cf", "E84.8", "Cystic fibrosis with other manifestations"},
	{"cf", "E84.9", "Cystic fibrosis, unspecified"},
	{crmsCFSPID, "E88.9", "Metabolic disorder, unspecified"},
	{crmsCFSPID, "E88.89", "Other specified metabolic disorders"},
	{"carrier", "Z14.1", "Cystic fibrosis carrier"},
}

// DiagnosisTitle is the title of a code that is offered; "" for any other.
func DiagnosisTitle(code string) string {
	for _, k := range DiagnosisCodes {
		if k.Code == code {
			return k.Title
		}
	}
	return ""
}

// CodeFits tells whether the code is one of those offered for a determination.
func CodeFits(as, code string) bool {
	for _, k := range DiagnosisCodes {
		if k.As == as && k.Code == code {
			return true
		}
	}
	return false
}

// diagnosisForm is the form of an ICD-10-CM code (from memory): a letter, two
// characters, and after a point up to four more.
var diagnosisForm = regexp.MustCompile(`^[A-Z][0-9][0-9A-Z](\.[0-9A-Z]{1,4})?$`)

// codeFaults refuses a code that has not the form of one, or stands with a closure that
// says nothing of the infant's health.
func (k *Closure) codeFaults(l *faultList, i int) {
	switch {
	case k.Code == "":
	case !diagnosisForm.MatchString(k.Code):
		l.add("is not an ICD-10-CM code, like E84.9", "closures[%d].diagnosis_code", i)
	case !KnownOutcome(k.As) || k.As == "not-affected":
		l.add("a closing as "+k.As+" has no diagnosis code", "closures[%d].diagnosis_code", i)
	}
}
