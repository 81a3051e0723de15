package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// KeepHoldID names one hold.
type KeepHoldID string

// KeepHold keeps everything about a person, a machine, one thing or a range of days,
// whatever the policies say: after an injury, for a claim, while somebody asks.
// What is named must all fit; what is not named fits everything.
type KeepHold struct {
	ID        KeepHoldID             `json:"id"`
	Person    procedures.PersonID    `json:"person,omitzero"`
	Equipment procedures.EquipmentID `json:"equipment,omitzero"`
	Subject   string                 `json:"subject,omitzero"` // id of an incident, a defect, a lockout …
	From      string                 `json:"from,omitzero"`    // local day, "2026-03-02"; "" for any before
	Until     string                 `json:"until,omitzero"`   // local day, itself held; "" for any after
	Reason    string                 `json:"reason"`
	By        procedures.PersonID    `json:"by"`
	At        time.Time              `json:"at"`

	LiftedBy   procedures.PersonID `json:"lifted_by,omitzero"`
	LiftedAt   time.Time           `json:"lifted_at,omitzero"`
	LiftReason string              `json:"lift_reason,omitzero"`
}

// On tells whether the hold was not lifted.
func (h KeepHold) On() bool { return h.LiftedAt.IsZero() }

// Covers tells whether the hold is on and keeps k. Where it is not known what k
// mentions, it is kept.
func (h KeepHold) Covers(k Kept) bool {
	if !h.On() || h.From != "" && k.Day < h.From || h.Until != "" && k.Day > h.Until {
		return false
	}
	for _, id := range []string{string(h.Person), string(h.Equipment), h.Subject} {
		if id != "" && k.Mentions != nil && !k.Mentions(id) {
			return false
		}
	}
	return true
}

// Set returns the hold as a supervisor or deputy sets it at now. Keeping more is
// never dangerous, so a deputy may. Its error is a [plain.Problems] for "person",
// "from", "until" and "reason", or a [plain.Refusal].
func (h KeepHold) Set(id KeepHoldID, by procedures.Person, now time.Time) (KeepHold, error) {
	if !by.Supervises() {
		return KeepHold{}, plain.Refuse("", "Only a supervisor or deputy may do this; ask one to sign in.")
	}
	set := KeepHold{ID: id, Person: h.Person, Equipment: h.Equipment, Subject: strings.TrimSpace(h.Subject), From: h.From, Until: h.Until, Reason: strings.TrimSpace(h.Reason), By: by.ID, At: now}
	var bad plain.Problems
	bad.Unless(set.Person != "" || set.Equipment != "" || set.Subject != "" || set.From != "" || set.Until != "", "person", "a person, a machine, one thing or a range of days to keep everything about")
	bad.Unless(len(set.Subject) <= LongestText, "subject", "at most %d letters", LongestText)
	bad.Unless(set.From == "" || isDay(set.From), "from", "a day, such as 2026-03-02")
	bad.Unless(set.Until == "" || isDay(set.Until) && set.Until >= set.From, "until", "a day, no earlier than the first")
	bad.Unless(worded(set.Reason, LongestText), "reason", "why, in at most %d letters", LongestText)
	if err := bad.Err(); err != nil {
		return KeepHold{}, err
	}
	return set, nil
}

// Lift ends the hold: the policies count for what it kept from now on. Its error
// is a [plain.Problems] for "reason", or a [plain.Refusal].
func (h KeepHold) Lift(by procedures.Person, reason string, now time.Time) (KeepHold, error) {
	if err := maySettle(by); err != nil {
		return KeepHold{}, err
	}
	if !h.On() {
		return KeepHold{}, plain.Refuse("", "This hold is lifted already.")
	}
	reason = strings.TrimSpace(reason)
	var bad plain.Problems
	bad.Unless(worded(reason, LongestText), "reason", "why, in at most %d letters", LongestText)
	if err := bad.Err(); err != nil {
		return KeepHold{}, err
	}
	h.LiftedBy, h.LiftedAt, h.LiftReason = by.ID, now, reason
	return h, nil
}

func isDay(text string) bool {
	_, err := time.Parse(time.DateOnly, text)
	return err == nil
}
