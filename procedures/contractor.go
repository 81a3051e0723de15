package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// Contractor is a firm from outside whose people work under lock here, and the
// exchange of procedures with it, 29 CFR 1910.147(f)(2). Days are given as the
// moment they begin in the mill's zone.
type Contractor struct {
	ID           string     `json:"id"`
	Firm         string     `json:"firm"`                 // as [Person.Firm] names it
	OursGiven    time.Time  `json:"ours_given,omitzero"`  // our procedures given to them; zero: not yet
	TheirsSeen   time.Time  `json:"theirs_seen,omitzero"` // theirs seen by us
	Restrictions string     `json:"restrictions"`         // what theirs asks of our people
	Briefed      []PersonID `json:"briefed"`              // our people who were told
	By           PersonID   `json:"by"`
	At           time.Time  `json:"at"`
}

// Keep returns c as by enters it at now. Its errors are a [plain.Problems] for
// the fields "firm", "ours_given", "theirs_seen" and "restrictions", or a
// [plain.Refusal].
func (c Contractor) Keep(by Person, others []Contractor, now time.Time) (Contractor, error) {
	if !by.Supervises() {
		return Contractor{}, plain.Refuse(Clause("(f)(2)(i)"), "A supervisor or deputy exchanges procedures with a firm from outside.")
	}
	c.Firm, c.By, c.At = strings.TrimSpace(c.Firm), by.ID, now
	var bad plain.Problems
	bad.Unless(c.Firm != "" && len(c.Firm) <= longestName, "firm", "the firm's name")
	other, known := FindContractor(others, c.Firm)
	bad.Unless(!known || other.ID == c.ID, "firm", "a firm that isn't entered yet")
	bad.Unless(!c.OursGiven.After(now), "ours_given", "today or before")
	bad.Unless(!c.TheirsSeen.After(now), "theirs_seen", "today or before")
	bad.Unless(len(c.Restrictions) <= longestText, "restrictions", "in fewer words")
	if err := bad.Err(); err != nil {
		return Contractor{}, err
	}
	return c, nil
}

// FindContractor returns the firm of that name.
func FindContractor(all []Contractor, firm string) (Contractor, bool) {
	for _, c := range all {
		if strings.EqualFold(strings.TrimSpace(c.Firm), strings.TrimSpace(firm)) {
			return c, true
		}
	}
	return Contractor{}, false
}

// BriefingGaps returns which affected people of eq weren't told what a
// contractor's procedure asks of them, (f)(2)(ii). It is for showing.
func (c Contractor) BriefingGaps(eq EquipmentID, affected []Affected) []PersonGap {
	var gaps []PersonGap
	for _, a := range affected {
		for _, person := range a.People {
			if a.Equipment == eq && !slices.Contains(c.Briefed, person) {
				gaps = append(gaps, PersonGap{person, Gap{plain.Say("works at this equipment and wasn't told what %s asks of our people", c.Firm), Clause("(f)(2)(ii)")}})
			}
		}
	}
	return gaps
}
