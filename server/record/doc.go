// Package record is the append-only record of a mill: what an entry is, how it
// becomes the bytes that are hashed, the Merkle log over those bytes, and the
// check that nothing was touched since. It is the pure part: rows, locks and
// commits are the store's; this package takes and gives values.
//
// # An entry
//
// An [Envelope] says who did what to which thing and when; its body is one of
// the program's versioned body structs. [Seal] turns it into a leaf: the
// canonical JSON (RFC 8785) of
//
//	{"actor":…,"at":"2026-03-02T12:04:05.678Z","body":{…},"format":"stillsaw-entry-1",
//	 "happened":…,"happenedOffset":…,"id":…,"kind":…,"mill":…,"offset":-300,
//	 "personal":["/name"],"phone":…,"phoneOffset":…,"seq":41,"subject":…,"version":1}
//
// "happened" and "happenedOffset" are there only when the entry was made late,
// "phone" and "phoneOffset" only when the phone told its own clock, "personal"
// only when the body holds a personal field. [Read] accepts exactly
// the bytes Seal writes: another order, spacing, spelling of a number or an
// unknown member is refused, so one entry has one leaf and one hash.
//
// # Personal fields
//
// Names, notes and reasons are declared [Personal] in the body struct. In the
// leaf each is replaced by a commitment
//
//	{"sealed":"sha256:<64 lowercase hex digits>"}
//
// whose digest is
//
//	SHA-256("stillsaw personal value 1\n" ‖ salt ‖ value)
//
// with a fresh salt of 32 random bytes for every field and the value in UTF-8.
// Salt and value form an [Opening], kept apart from the leaf: whoever holds it
// can show the value, and once it is gone the leaf still proves everything
// else and gives nothing of the value away, not even whether it was empty.
//
// What in a leaf is a commitment is said by the envelope's list "personal" of
// JSON pointers (RFC 6901) into the body and by nothing else. That list is
// written from the Go types, so no text, map or raw JSON a user supplies can
// pass for a commitment; an object that merely looks like one is plain data.
//
// How many elements a list has and which parts of a body are present is not
// hidden, only what stands in the personal fields.
//
// A photo stands in a leaf as the plain SHA-256 of its bytes, without a salt: a
// picture, unlike a name or a note, can't be found by trying, and its digest is
// what the photo is kept and asked for by. Whoever has the very same file can
// tell that it was named.
//
// # The log
//
// Leaves are hashed and joined as in RFC 6962 by golang.org/x/mod/sumdb/tlog;
// the hashes are stored under tlog's numbering. [Frontier] is the right edge
// kept in memory by a writer, [Head] what a log says of itself at one size,
// and [Verify] recomputes everything and names what was touched.
package record
