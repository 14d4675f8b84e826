// Package measures computes the closure-time measures of a follow-up program:
// how long cases take from birth, and from referral, to the first test and to
// closure, with every open case counted (Kaplan-Meier). It is pure: no clock,
// no files, no network.
//
// The same estimators take any data set of times (ReadData, Data.Analyze), with the
// incidence of each closure reason (Aalen-Johansen), restricted means and the
// log-rank test, so that published data can be compared with published results.
//
// Durations are whole days between civil dates. Limits are two-sided 95 %.
// A quantile of closed cases alone flatters a program, because the slow cases
// are the ones still open; no function here drops an open case.
package measures
