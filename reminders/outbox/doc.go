// Package outbox sends what waits to go out by e-mail or text: notices to families who
// agreed to them, and letters or word of them to doctors and clinics.
//
// A message is queued in the store in the same transaction as what it is about
// (cases.QueueMessage) and sent by Worker. No protocol for mail or text lets two
// machines agree for certain that a message was taken: when the answer to its last byte
// is lost, the sender cannot know. Dunlin chooses never to send twice without saying so.
// Before the server is asked, the message is written down as sending; after a crash, or
// an answer that never came, it is uncertain, a person looks, and only that person can
// have it sent again. Everything that is known not to have been taken is tried again
// with growing pauses, or given up when the server says so for good.
//
// Before each attempt the case is read and assessed again: a message that must not go
// any more is held.
//
// This package alone imports go-mail. It uses the library to connect, to secure the
// connection and to write the message, and takes the steps of the dialog itself, since
// what is certain differs from step to step.
package outbox
