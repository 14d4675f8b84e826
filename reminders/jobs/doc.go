// Package jobs decides when the program's own work runs: the 06:00 list and
// letters, and what later comes to it. The cron library is an alarm clock and
// nothing else. Every firing, the start of the program and every quarter of an
// hour call Runner.Tick, which looks in the ledger for what has run, and runs the
// newest slot that was missed. A slot runs once, whoever wakes first.
package jobs
