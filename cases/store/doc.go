// Package store keeps everything of one program in one file: cases with their
// indexes and audit trail, letters, outgoing messages, received documents, items
// for review, day lists, accounts, sessions, the ledger of jobs and settings. It
// implements cases.Store and cases.Ledger, and is the only package that knows how.
//
// # Buckets
//
//	meta                 schema, created, release, fingerprints, end of the audit trail
//	cases                <id>                                     -> record
//	  .due               <overdue_from><id>                          open cases and look-agains
//	  .open              <referred><id>                              cases that are not closed
//	  .closed            <closed><id>
//	  .retest            <day to look again><id>                     closed as CRMS/CFSPID
//	  .milestones        <referred><born><words>\0<numbers>\0<id>     what measures count; see markkey.go
//	  .booked            <site>\0<day><time>\0<reference>\0<id>    bookings that take a place
//	  .name              <folded family>\0<folded given>\0<born><id> from each word of the family names
//	  .given             <folded given>\0<folded family>\0<born><id> from each word of the given names
//	  .born              <born><id>
//	  .record            <record number>\0<id>
//	  .accession         <accession>\0<id>
//	  .external          <source>\0<their number>\0<id>
//	  .reference         <reference>\0                            -> id      (unique)
//	audit                <number>                                 -> <hash> <entry>
//	  .case              <case id><number>
//	  .time              <time><number>
//	access               <number>                                 -> <hash> <line>  who saw what
//	  .time              <time><number>
//	  .person            <sign-in name>\0<time><number>
//	  .infant            <reference>\0<time><number>
//	  .lists             <sha-256 of list>                        -> references, one a line
//	  .member            <reference>\0<sha-256 of list>
//	  .list              <sha-256 of list><time><number>
//	  .waiting           <number>                                   break-glass without a review
//	letters              <id>                                     -> record
//	  .once              <case id>\0<kind>\0<occasion>\0          -> id      (unique: made once)
//	  .number            <printed number>\0                       -> id      (unique)
//	  .case              <case id>\0<id>
//	  .state             <state>\0<id>
//	outgoing             <id>                                     -> record  (messages by e-mail and text)
//	  .once              <case id>\0<kind>\0<occasion>\0<channel>\0 -> id (unique: queued once)
//	  .number            <number>\0                               -> id      (unique)
//	  .case              <case id>\0<id>
//	  .state             <state>\0<id>
//	received             <sha-256>                                -> record
//	  .raw               <sha-256>                                -> the bytes as they came, for ever
//	  .time              <time><sha-256>
//	review               <id>                                     -> record  (every item, waiting or not)
//	  .outcome           <outcome>\0<time><id>
//	  .waiting           <0 top, 1 others><due><id>
//	  .key               <clinical key>\0<id>
//	  .document          <sha-256>\0<id>
//	  .case              <case id>\0<id>
//	mail                 <mailbox>\0<validity><number>        -> record  (messages dealt with)
//	days                 <day>                                    -> record
//	people               <sign-in name>                           -> record
//	settings             <name>                                   -> record
//	jobs                 <name>\0<slot, UTC, seconds>             -> record
//	once                 <sha-256 of the form token>              -> record
//	  .expires           <time><sha-256>
//	sessions             <sha-256 of the cookie's token>          -> record
//	  .expires           <time><sha-256>
//	numbers              <name>                                   -> record  (running numbers)
//
// Keys are text: days are YYYY-MM-DD, times UTC to the millisecond, identifiers
// 26 characters that sort by time. A field of variable width ends with a zero
// byte. A record is one line: format number, revision, SHA-256, JSON. The hash
// covers bucket and key too, is compared at every read, and finds a flipped byte,
// which the file format itself does not.
//
// # Promises
//
// One transaction writes a case, its indexes and a hash-chained audit entry, with
// one disk sync; a refusal leaves nothing behind. Records are written by put
// alone, which takes index keys from a decoded copy of what it wrote. Which release
// or protocol built the indexes is remembered, and they are built anew when either
// differs. A store that was not closed is checked before it is used again. After a
// disk error other than a full disk nothing more is written.
//
// # Adding to it
//
// A new index is one line in its table's declaration. A change of its key
// function raises its version. A change of a record that old releases could not
// read, or of a bucket, is a step appended to steps, with a small file written by
// the release before it in testdata.
package store
