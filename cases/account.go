package cases

import "time"

// Account is a person who may sign in.
type Account struct {
	ID   string `json:"id"` // sign-in name: the work email in lower case
	Name string `json:"name"`
	Role Role   `json:"role"`
	// Sites are the keys of the test sites that a nurse works at; empty is every site.
	// Other roles are bound to no site.
	Sites    []string `json:"sites,omitempty"`
	Hash     string   `json:"hash"` // argon2id; "" until the person has chosen a password
	Disabled bool     `json:"disabled,omitempty"`
	// Short marks a password of fewer than 15 characters, which is good only together
	// with a second factor.
	Short    bool          `json:"short,omitempty"`
	Link     *AccountLink  `json:"link,omitempty"`
	Factor   *SecondFactor `json:"factor,omitempty"`
	Devices  []KnownDevice `json:"devices,omitempty"`
	Failed   int           `json:"failed,omitempty"` // failures from unknown devices since the last good sign-in from one
	FailedAt int64         `json:"failed_at,omitempty"`
	SignedIn int64         `json:"signed_in,omitempty"` // last good sign-in, Unix seconds
}

// AccountLink is a single-use link with which a person chooses a password. The link
// itself is shown once, when it is made.
type AccountLink struct {
	Hash    string    `json:"hash"` // hex SHA-256 of at least 128 random bits
	Expires time.Time `json:"expires"`
	By      string    `json:"by"` // who made it
}

// SecondFactor is what a person shows besides the password: codes by time (RFC 6238),
// or one of the recovery codes.
type SecondFactor struct {
	Secret string    `json:"secret"` // base32, 160 random bits
	Step   int64     `json:"step"`   // the last step of 30 s whose code was used; none is used twice
	Codes  []string  `json:"codes"`  // hex SHA-256 of each recovery code not used yet
	Since  time.Time `json:"since"`
}

// KnownDevice is a browser from which the person signed in before. Failures from
// elsewhere do not keep it out.
type KnownDevice struct {
	Hash     string `json:"hash"`    // hex SHA-256 of the token in its cookie
	Expires  int64  `json:"expires"` // Unix seconds
	Failed   int    `json:"failed,omitempty"`
	FailedAt int64  `json:"failed_at,omitempty"`
}

// Invited tells whether the person has not chosen a password yet.
func (a Account) Invited() bool { return a.Hash == "" }

// AtSite tells whether the account may work at a test site: it is bound to none, or to
// that one.
func (a Account) AtSite(site string) bool {
	for _, s := range a.Sites {
		if s == site {
			return true
		}
	}
	return len(a.Sites) == 0
}
