package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Aside is who said of a walk that it is not to be signed, when and why.
type Aside struct {
	By     procedures.PersonID `json:"by"`
	At     time.Time           `json:"at"`
	Reason string              `json:"reason"`
}

// SetAside is a walk finished without contact of which somebody said that it is not
// to be signed, with everything that was answered. It releases nothing: what the
// list checks is held until somebody has gone through it anew and signed, and what
// was found in it stands as defects.
type SetAside struct {
	Unsigned
	Given []Answer `json:"given"`
}

// IsAside tells whether somebody said that the walk is not to be signed.
func (u Unsigned) IsAside() bool { return u.Aside != Aside{} }

// SetAside says that the walk is not to be signed, and makes a defect of everything
// found in it that is not known already, by whoever found it. list is the version it
// went by; gone are stops found at items that version asks no more; open are the
// defects as they stand. Its errors are a [plain.Refusal] for somebody who may not
// sign it either, or a [plain.Problems] for "reason".
func (u Unsigned) SetAside(list List, answers []Answer, gone []FoundUnsigned, reason string, by procedures.Person, ids func() string, open []Defect, now time.Time) (SetAside, []Defect, error) {
	if u.IsAside() {
		return SetAside{}, nil, plain.Refuse("", "Somebody said already that this check is not to be signed. Load the page again.")
	}
	if err := u.MayAnswer(by); err != nil {
		return SetAside{}, nil, err
	}
	var bad plain.Problems
	bad.Unless(worded(reason, LongestNote), "reason", "why it is not to be signed, in at most %d letters", LongestNote)
	if err := bad.Err(); err != nil {
		return SetAside{}, nil, err
	}
	u.Aside = Aside{By: by.ID, At: now, Reason: reason}
	found := defectsOf(list, answers, u.Inspection, ids, open)
	for _, s := range gone {
		found = append(found, Defect{ID: DefectID(ids()), Equipment: s.Equipment, Inspection: u.Inspection, List: s.List, Item: s.Item, What: s.What, Severity: Stop, By: s.By, At: s.At})
	}
	for i := range found {
		if found[i].At.IsZero() { // of a walk begun anew: seen no later than that
			found[i].At = u.Began
		}
	}
	u.Answers = len(answers)
	return SetAside{Unsigned: u, Given: answers}, found, nil
}

// goneThrough tells whether a walk that is not to be signed holds no more: somebody
// has signed the list since.
func (u Unsigned) goneThrough(in Inspection) bool {
	return u.IsAside() && !u.Aside.At.IsZero() && in.Signer != "" && in.At.After(u.Aside.At)
}

// holdAside is the hold of a walk that is not to be signed.
func (f Facts) holdAside(u Unsigned) Hold {
	return Hold{Kind: HeldUnsigned, Since: u.At, By: u.Aside.By, Ref: string(u.Inspection),
		Reason: plain.Say("Checked without contact by %[1]s, not to be signed, says %[2]s: %[3]s", f.personNamed(u.By), f.personNamed(u.Aside.By), u.Title),
		Clears: plain.Say("Somebody goes through the list anew and signs.")}
}
