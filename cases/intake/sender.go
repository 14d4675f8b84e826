package intake

import (
	"encoding/json"
	"fmt"
	"strings"

	"dunlin/cases"
)

// Sender is what the program knows of one laboratory or hospital that sends
// referrals or results. Its choices win over the program's for what it sends.
type Sender struct {
	Name             string            `json:"name"`
	Signs            []string          `json:"signs,omitempty"` // as it signs: MSH-4, MSH-3, a mail address, a domain (@lab.example), a key's name
	DateOrder        DateOrder         `json:"date_order,omitempty"`
	CommaDecimals    bool              `json:"comma_decimals,omitempty"`
	OpenOnRepeatCard *bool             `json:"open_on_repeat_card,omitempty"` // nil: the program's choice
	Charset          string            `json:"charset,omitempty"`             // of what declares none (HL7 table 0211 or an IANA name)
	Codes            map[string]string `json:"codes,omitempty"`               // its own result codes, each with the LOINC code it means
	Contact          string            `json:"contact,omitempty"`             // whom to ask, and how
	Email            string            `json:"email,omitempty"`               // where lists of faults go
	ConfirmedBy      string            `json:"confirmed_by,omitempty"`        // who compared a real message with what was read
	ConfirmedOn      cases.Day         `json:"confirmed_on,omitempty"`
}

// signs reports whether the sender signs with one of the names. A domain fits every
// address of it.
func (s *Sender) signs(names []string) bool {
	for _, own := range append([]string{s.Name}, s.Signs...) {
		for _, n := range names {
			if n == "" || own == "" {
				continue
			}
			if strings.EqualFold(n, own) || own[0] == '@' && strings.HasSuffix(strings.ToLower(n), strings.ToLower(own)) {
				return true
			}
		}
	}
	return false
}

// SenderOf finds the sender that signs with one of the names.
func (s *Settings) SenderOf(names ...string) (Sender, bool) {
	for i := range s.Senders {
		if s.Senders[i].signs(names) {
			return s.Senders[i], true
		}
	}
	return Sender{}, false
}

// For gives the settings as they hold for who signs with one of the names.
func (s Settings) For(names ...string) Settings {
	from, ok := s.SenderOf(names...)
	if !ok {
		return s
	}
	if from.DateOrder != "" {
		s.DateOrder = from.DateOrder
	}
	s.CommaDecimals = s.CommaDecimals || from.CommaDecimals
	if from.OpenOnRepeatCard != nil {
		s.OpenOnRepeatCard = *from.OpenOnRepeatCard
	}
	if from.Charset != "" {
		s.Charset = from.Charset
	}
	s.Codes = from.Codes
	return s
}

// sendersSetting is where the store keeps the senders.
const sendersSetting = "senders"

// Senders reads the senders that the program knows.
func Senders(r cases.Reader) ([]Sender, error) {
	raw, ok, err := r.Setting(sendersSetting)
	if err != nil || !ok {
		return nil, err
	}
	var out []Sender
	if err := json.Unmarshal(raw, &out); err != nil {
		return nil, fmt.Errorf("setting %s: %w", sendersSetting, err)
	}
	return out, nil
}

// PutSenders writes the senders.
func PutSenders(w cases.Writer, list []Sender) error {
	raw, err := json.Marshal(list)
	if err != nil {
		return err
	}
	return w.PutSetting(sendersSetting, raw)
}
