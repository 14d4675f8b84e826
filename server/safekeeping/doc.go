// Package safekeeping keeps back-ups of a store in a folder, and restores them.
//
// A back-up is a snapshot that was checked in full as a scratch file beside the
// store, then written to the folder, mostly encrypted with age (the open format
// age-encryption.org/v1) to the program's public keys, read back and compared. A
// manifest beside it says what it holds. Each encrypted file is also encrypted to a
// key that is made for it, kept in memory and forgotten: with it the file is
// decrypted once more from the folder and compared byte by byte, without the
// program's private key ever being on this machine.
//
// Files in the folder, for a store named program.db:
//
//	program-20261125T193541Z.db.age   the back-up; .db where it is not encrypted
//	program-20261125T193541Z.json     its manifest: time, hash, counts, end of the audit trail
//	program.sent                      the journal of sent messages; see Restore
//
// Names tell the time and nothing of any infant. Nothing in a folder is deleted but
// files with a manifest of ours.
package safekeeping
