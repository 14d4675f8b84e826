// Package mllp listens for HL7 version 2 messages over the minimal lower layer
// protocol and answers each when it is stored.
//
// Outside loopback it speaks TLS 1.2 or later and demands a client certificate of
// the program's own authority; the certificate's name is the sender. A message is
// acknowledged only after Receive returned: AA means stored and readable by a
// person, AE that it cannot be read, AR that it is not taken here or could not be
// stored. A message whose end never came is kept as a part and not answered, so
// that the sender sends it again. Nothing of a message but its number is logged.
package mllp
