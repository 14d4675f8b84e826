package main

import (
	"errors"
	"time"
)

// signInConfig says how long a session lasts.
type signInConfig struct {
	IdleMinutes  int `json:"idle_minutes"`  // without use
	LongestHours int `json:"longest_hours"` // in any case
}

func defaultSignIn() signInConfig { return signInConfig{IdleMinutes: 15, LongestHours: 10} }

// Bounds of a session: NIST SP 800-63B-4 (from memory) wants a new sign-in after 24 hours
// and after 1 hour without use, for two factors.
const (
	mostIdleMinutes  = 60
	mostLongestHours = 24
)

func (s signInConfig) check() (errs []error) {
	if s.IdleMinutes < 5 || s.IdleMinutes > mostIdleMinutes {
		errs = append(errs, errors.New("sign_in.idle_minutes must be 5 to 60"))
	}
	if s.LongestHours < 1 || s.LongestHours > mostLongestHours {
		errs = append(errs, errors.New("sign_in.longest_hours must be 1 to 24"))
	}
	return errs
}

func (s signInConfig) idle() time.Duration     { return time.Duration(s.IdleMinutes) * time.Minute }
func (s signInConfig) absolute() time.Duration { return time.Duration(s.LongestHours) * time.Hour }
