package cases

// Erasure is what the audit trail keeps of something erased: when, by whom and under
// which rule is said by its entry and here, what it was about is not. The numbers of
// the audit entries whose content is gone, with the sum of their hashes, let the check
// tell an erased entry from one that somebody removed.
type Erasure struct {
	Rule        string `json:"rule"` // why it might go, in words that name nobody
	ProposedBy  string `json:"proposed_by,omitempty"`
	ConfirmedBy string `json:"confirmed_by,omitempty"`

	Cases     int `json:"cases"`
	Letters   int `json:"letters,omitempty"`
	Messages  int `json:"messages,omitempty"`
	Items     int `json:"items,omitempty"`
	Documents int `json:"documents,omitempty"`
	Shared    int `json:"documents_shared,omitempty"` // kept, since they name other infants too
	ListLines int `json:"list_lines,omitempty"`       // of kept overdue lists

	Entries []uint64 `json:"entries,omitempty"` // audit entries without their content, in order
	Sum     string   `json:"sum,omitempty"`     // hex SHA-256 of their numbers and hashes

	Lines    []uint64 `json:"lines,omitempty"` // the same of the access log
	LinesSum string   `json:"lines_sum,omitempty"`
}
