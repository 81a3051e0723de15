// Package lift holds the rules of a lift: what a piece of timber weighs at the
// heaviest it could reasonably be, what each part of the rigging bears of it,
// and whether the lift may be made.
//
// The way through it is [Piece] to [Weigh], and [Lift] to [Check]. Everything
// is pure: the same values in give the same verdict out, and the time is one of
// those values. Lengths are metres, masses kilograms, angles degrees from the
// horizontal, moisture is water over oven-dry mass as a fraction.
//
// The zero value of every state is "unknown", and whatever is unknown is a
// NO-GO that names it. A verdict compares numbers that people typed in. It does
// not examine wood or steel, and does not replace the maker's instructions, the
// local code or a qualified person.
package lift
