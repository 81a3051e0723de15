package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Silent tells whether nobody has said yet what is wrong: somebody stopped the
// machine first, as one should, and talks afterwards.
func (d Defect) Silent() bool { return d.What == "" }

// Describe says what is wrong with a defect raised without a word, and adds a
// photo where there is none. What was said once stands; a further finding is a
// defect of its own. Its error is a [plain.Problems] for "what", or a
// [plain.Refusal].
func (d Defect) Describe(by procedures.Person, what, photo string, now time.Time) (Defect, error) {
	if !by.Works() {
		return Defect{}, plain.Refuse("", "Only somebody of the crew says what is wrong. Sign in as yourself.")
	}
	if !d.Silent() {
		return Defect{}, plain.Refuse("", "It is said already what is wrong, and that stays. If you found something else, stop the machine again.")
	}
	if !d.Open() {
		return Defect{}, plain.Refuse("", "This is back in service already. Found wrong again, it is a new defect.")
	}
	if now.Before(d.At) {
		return Defect{}, plain.Refuse("", "The clock stands before the time this was raised. Set the clock right first.")
	}
	what = strings.TrimSpace(what)
	var bad plain.Problems
	bad.Unless(worded(what, LongestNote), "what", "what is wrong, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return Defect{}, err
	}
	d.What = what
	if d.Photo == "" {
		d.Photo = photo
	}
	return d, nil
}
