package fhir

// Resources of HL7 FHIR R4 with the elements that a bundle uses. ResourceType is set
// when a resource is added to a bundle.

// Bundle is one case as a collection of resources.
type Bundle struct {
	ResourceType string  `json:"resourceType"`
	ID           string  `json:"id,omitempty"`
	Type         string  `json:"type"`
	Timestamp    string  `json:"timestamp,omitempty"`
	Entry        []Entry `json:"entry"`
}

// Entry is one resource with its address in the bundle.
type Entry struct {
	FullURL  string `json:"fullUrl"`
	Resource any    `json:"resource"`
}

// Organization is the program, a laboratory or a practice.
type Organization struct {
	ResourceType string         `json:"resourceType"`
	Name         string         `json:"name,omitempty"`
	Telecom      []ContactPoint `json:"telecom,omitempty"`
	Address      []Address      `json:"address,omitempty"`
}

// Location is a test site.
type Location struct {
	ResourceType string `json:"resourceType"`
	Name         string `json:"name,omitempty"`
}

// Practitioner is the infant's doctor.
type Practitioner struct {
	ResourceType string         `json:"resourceType"`
	Name         []HumanName    `json:"name,omitempty"`
	Telecom      []ContactPoint `json:"telecom,omitempty"`
	Address      []Address      `json:"address,omitempty"`
}

// Patient is the infant.
type Patient struct {
	ResourceType         string       `json:"resourceType"`
	Extension            []Extension  `json:"extension,omitempty"`
	Identifier           []Identifier `json:"identifier,omitempty"`
	Name                 []HumanName  `json:"name,omitempty"`
	Gender               string       `json:"gender,omitempty"`
	BirthDate            string       `json:"birthDate,omitempty"`
	BirthDateMore        *Extended    `json:"_birthDate,omitempty"`
	DeceasedDateTime     string       `json:"deceasedDateTime,omitempty"`
	Address              []Address    `json:"address,omitempty"`
	MultipleBirthBoolean *bool        `json:"multipleBirthBoolean,omitempty"`
	MultipleBirthInteger int          `json:"multipleBirthInteger,omitempty"`
	GeneralPractitioner  []Reference  `json:"generalPractitioner,omitempty"`
	ManagingOrganization *Reference   `json:"managingOrganization,omitempty"`
}

// RelatedPerson is the mother, or a person who decides for the infant.
type RelatedPerson struct {
	ResourceType  string            `json:"resourceType"`
	Identifier    []Identifier      `json:"identifier,omitempty"`
	Patient       *Reference        `json:"patient"`
	Relationship  []CodeableConcept `json:"relationship,omitempty"`
	Name          []HumanName       `json:"name,omitempty"`
	Telecom       []ContactPoint    `json:"telecom,omitempty"`
	BirthDate     string            `json:"birthDate,omitempty"`
	Address       []Address         `json:"address,omitempty"`
	Communication []SpokenLanguage  `json:"communication,omitempty"`
}

// Condition is the reason for referral, or what a named person decided.
type Condition struct {
	ResourceType       string           `json:"resourceType"`
	ClinicalStatus     *CodeableConcept `json:"clinicalStatus,omitempty"`
	VerificationStatus *CodeableConcept `json:"verificationStatus,omitempty"`
	Code               *CodeableConcept `json:"code,omitempty"`
	Subject            *Reference       `json:"subject"`
	RecordedDate       string           `json:"recordedDate,omitempty"`
	Recorder           *Reference       `json:"recorder,omitempty"`
	Asserter           *Reference       `json:"asserter,omitempty"`
	Note               []Annotation     `json:"note,omitempty"`
}

// EpisodeOfCare is the case.
type EpisodeOfCare struct {
	ResourceType         string             `json:"resourceType"`
	Identifier           []Identifier       `json:"identifier,omitempty"`
	Status               string             `json:"status"`
	StatusHistory        []EpisodeStatus    `json:"statusHistory,omitempty"`
	Diagnosis            []EpisodeDiagnosis `json:"diagnosis,omitempty"`
	Patient              *Reference         `json:"patient"`
	ManagingOrganization *Reference         `json:"managingOrganization,omitempty"`
	Period               *Period            `json:"period,omitempty"`
	CareManager          *Reference         `json:"careManager,omitempty"`
}

// EpisodeStatus is a status that the case had for a time.
type EpisodeStatus struct {
	Status string  `json:"status"`
	Period *Period `json:"period"`
}

// EpisodeDiagnosis leads to a condition of the case.
type EpisodeDiagnosis struct {
	Condition *Reference `json:"condition"`
}

// ServiceRequest asks for a sweat test within a window.
type ServiceRequest struct {
	ResourceType     string           `json:"resourceType"`
	Status           string           `json:"status"`
	Intent           string           `json:"intent"`
	Code             *CodeableConcept `json:"code,omitempty"`
	Subject          *Reference       `json:"subject"`
	OccurrencePeriod *Period          `json:"occurrencePeriod,omitempty"`
	AuthoredOn       string           `json:"authoredOn,omitempty"`
	Requester        *Reference       `json:"requester,omitempty"`
	ReasonReference  []Reference      `json:"reasonReference,omitempty"`
}

// Appointment is a booking. One without a recorded time says that it is not known.
type Appointment struct {
	ResourceType      string           `json:"resourceType"`
	Status            string           `json:"status"`
	CancelationReason *CodeableConcept `json:"cancelationReason,omitempty"`
	Description       string           `json:"description,omitempty"`
	Start             string           `json:"start,omitempty"`
	StartMore         *Extended        `json:"_start,omitempty"`
	End               string           `json:"end,omitempty"`
	EndMore           *Extended        `json:"_end,omitempty"`
	Comment           string           `json:"comment,omitempty"`
	BasedOn           []Reference      `json:"basedOn,omitempty"`
	Participant       []Participant    `json:"participant"`
	RequestedPeriod   []Period         `json:"requestedPeriod,omitempty"`
}

// Participant is who takes part in an appointment.
type Participant struct {
	Actor  *Reference `json:"actor"`
	Status string     `json:"status"`
}

// Specimen is a blood-spot card or the sweat of one arm.
type Specimen struct {
	ResourceType        string           `json:"resourceType"`
	Identifier          []Identifier     `json:"identifier,omitempty"`
	AccessionIdentifier *Identifier      `json:"accessionIdentifier,omitempty"`
	Status              string           `json:"status,omitempty"`
	Type                *CodeableConcept `json:"type,omitempty"`
	Subject             *Reference       `json:"subject,omitempty"`
	Request             []Reference      `json:"request,omitempty"`
	Collection          *Collection      `json:"collection,omitempty"`
	Note                []Annotation     `json:"note,omitempty"`
}

// Collection is how a specimen was taken: minutes, and microliters or milligrams.
type Collection struct {
	CollectedDateTime string           `json:"collectedDateTime,omitempty"`
	CollectedPeriod   *Period          `json:"collectedPeriod,omitempty"`
	Duration          *Quantity        `json:"duration,omitempty"`
	Quantity          *Quantity        `json:"quantity,omitempty"`
	Method            *CodeableConcept `json:"method,omitempty"`
	BodySite          *CodeableConcept `json:"bodySite,omitempty"`
}

// Observation is one value, or the word that there is none and why.
type Observation struct {
	ResourceType         string            `json:"resourceType"`
	BasedOn              []Reference       `json:"basedOn,omitempty"`
	Status               string            `json:"status"`
	Category             []CodeableConcept `json:"category,omitempty"`
	Code                 *CodeableConcept  `json:"code"`
	Subject              *Reference        `json:"subject,omitempty"`
	EffectiveDateTime    string            `json:"effectiveDateTime,omitempty"`
	Performer            []Reference       `json:"performer,omitempty"`
	ValueQuantity        *Quantity         `json:"valueQuantity,omitempty"`
	ValueCodeableConcept *CodeableConcept  `json:"valueCodeableConcept,omitempty"`
	ValueString          string            `json:"valueString,omitempty"`
	DataAbsentReason     *CodeableConcept  `json:"dataAbsentReason,omitempty"`
	Note                 []Annotation      `json:"note,omitempty"`
	Method               *CodeableConcept  `json:"method,omitempty"`
	Specimen             *Reference        `json:"specimen,omitempty"`
	ReferenceRange       []ReferenceRange  `json:"referenceRange,omitempty"`
}

// DiagnosticReport gathers the observations of a screen, a genotype or a sweat test.
type DiagnosticReport struct {
	ResourceType      string            `json:"resourceType"`
	Identifier        []Identifier      `json:"identifier,omitempty"`
	BasedOn           []Reference       `json:"basedOn,omitempty"`
	Status            string            `json:"status"`
	Category          []CodeableConcept `json:"category,omitempty"`
	Code              *CodeableConcept  `json:"code"`
	Subject           *Reference        `json:"subject,omitempty"`
	EffectiveDateTime string            `json:"effectiveDateTime,omitempty"`
	Performer         []Reference       `json:"performer,omitempty"`
	Specimen          []Reference       `json:"specimen,omitempty"`
	Result            []Reference       `json:"result,omitempty"`
	Conclusion        string            `json:"conclusion,omitempty"`
}

// Task is the step that is owed next.
type Task struct {
	ResourceType   string           `json:"resourceType"`
	Status         string           `json:"status"`
	BusinessStatus *CodeableConcept `json:"businessStatus,omitempty"`
	Intent         string           `json:"intent"`
	Priority       string           `json:"priority,omitempty"`
	Code           *CodeableConcept `json:"code,omitempty"`
	Description    string           `json:"description,omitempty"`
	Focus          *Reference       `json:"focus,omitempty"`
	For            *Reference       `json:"for,omitempty"`
	LastModified   string           `json:"lastModified,omitempty"`
	Requester      *Reference       `json:"requester,omitempty"`
	Owner          *Reference       `json:"owner,omitempty"`
	Restriction    *Restriction     `json:"restriction,omitempty"`
}

// Restriction bounds a task; the end of its period is the day it is due.
type Restriction struct {
	Period *Period `json:"period,omitempty"`
}

// Communication is a letter or message that left: which, when and to whom, not what it
// said.
type Communication struct {
	ResourceType string            `json:"resourceType"`
	Status       string            `json:"status"`
	StatusReason *CodeableConcept  `json:"statusReason,omitempty"`
	Medium       []CodeableConcept `json:"medium,omitempty"`
	Subject      *Reference        `json:"subject,omitempty"`
	Sent         string            `json:"sent,omitempty"`
	Recipient    []Reference       `json:"recipient,omitempty"`
	Sender       *Reference        `json:"sender,omitempty"`
	Payload      []Payload         `json:"payload,omitempty"`
}

// Payload names what was sent.
type Payload struct {
	ContentString string `json:"contentString,omitempty"`
}

// Provenance says who exported the case, and when.
type Provenance struct {
	ResourceType string           `json:"resourceType"`
	Target       []Reference      `json:"target"`
	Recorded     string           `json:"recorded"`
	Activity     *CodeableConcept `json:"activity,omitempty"`
	Agent        []Agent          `json:"agent"`
}

// Agent is who did something, for whom.
type Agent struct {
	Who        *Reference `json:"who"`
	OnBehalfOf *Reference `json:"onBehalfOf,omitempty"`
}
