package procedures

import (
	"errors"
	"slices"
	"strconv"

	"stillsaw/procedures/plain"
)

// ApplyTogether applies what one person did in one place, in order: all of it
// or, with an error, nothing. The error is a [plain.Problems] with each act that
// was refused, its clause behind it; Field is the act's position in events,
// from 0, with a dot and the part of it where the refusal is about one: "0.told".
func (l *Lockout) ApplyTogether(events []Event, by Person) error {
	next := *l // Apply makes new what it changes
	var refused plain.Problems
	for i, e := range events {
		err := next.Apply(e, by)
		var refusal *plain.Refusal
		field := strconv.Itoa(i)
		if errors.As(err, &refusal) && refusal.About != "" {
			field += "." + refusal.About
		}
		switch {
		case err == nil:
		case errors.As(err, &refusal) && refusal.Clause != "":
			refused.Unless(false, field, "%s (%s)", refusal.Why, refusal.Clause)
			for _, more := range next.lacksBesides(e, refusal) {
				refused.Unless(false, strconv.Itoa(i)+"."+more.About, "%s (%s)", more.Why, more.Clause)
			}
		case errors.As(err, &refusal):
			refused.Unless(false, field, "%s", refusal.Why)
		default:
			return err
		}
	}
	if err := refused.Err(); err != nil {
		return err
	}
	*l = next
	return nil
}

// Signed tells whether e is an act its doer signs: what goes on towards work,
// what ends it, what takes a lock off, and what gives the machine back or lets
// go of it. Whoever picks up a phone left signed in can do none of these.
func (l Lockout) Signed(e Event) bool {
	step, _ := l.Procedure.step(e.Step)
	switch e.Kind {
	case StepDone:
		return step.Stage == Verify
	case LockApplied, LockRemoved, WorkBegan, WorkEnded, Resumed, Joined, LeftJob, LeftOvernight, Reverified, Rechecked, HandedOver,
		LockTaken, ToldOfLock, TestAsked, Energized, TestEnded, LaterEnd, Restored, Cancelled:
		return true
	}
	return false
}

// Reverification is the event of proving zero again, for somebody who did the
// verify steps in again, and put the control back to off after the tries in
// offBack. The error is a [plain.Problems] with each verify step left out, its
// id as the field.
func (l Lockout) Reverification(again, offBack []StepID) (Event, error) {
	e := Event{Kind: Reverified, OffBack: true}
	var bad plain.Problems
	for _, s := range l.Procedure.stage(Verify) {
		bad.Unless(slices.Contains(again, s.ID), string(s.ID), "do this again: what was at zero before may not be now (%s)", s.Clause)
		if e.Proof == "" || s.Proof == TryStart {
			e.Proof = s.Proof
		}
		if s.Proof == TryStart && !slices.Contains(offBack, s.ID) {
			e.OffBack = false
		}
	}
	return e, bad.Err()
}
