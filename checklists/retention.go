package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// KeepPolicy is for how long the mill keeps the personal values and the photos of
// one sort of record. Years count from the end of the calendar year in which what
// the record is about was over, as 29 CFR 1904.33(a) counts. 0 is for good: the
// zero policy drops nothing. Entries themselves are never dropped.
type KeepPolicy struct {
	Sort   KeepSort            `json:"sort"`
	Values int                 `json:"values"` // years, 0 for good
	Photos int                 `json:"photos"` // years, 0 for good
	Reason string              `json:"reason"`
	By     procedures.PersonID `json:"by"`
	At     time.Time           `json:"at"`
}

// longestKept is the longest period a policy names, in years; whoever means
// longer keeps for good.
const longestKept = 100

// Keep returns the policy as a supervisor signs it at now. A period shorter than
// the sort's floor is refused with the clause behind it. Its error is a
// [plain.Problems] for "sort", "values", "photos" and "reason", or a
// [plain.Refusal].
func (p KeepPolicy) Keep(by procedures.Person, now time.Time) (KeepPolicy, error) {
	if err := maySettle(by); err != nil {
		return KeepPolicy{}, err
	}
	rule, ok := KeepRuleOf(p.Sort)
	p.Reason = strings.TrimSpace(p.Reason)
	var bad plain.Problems
	bad.Unless(ok, "sort", "one of these")
	for _, one := range []struct {
		field string
		years int
	}{{"values", p.Values}, {"photos", p.Photos}} {
		bad.Unless(one.years >= 0 && one.years <= longestKept, one.field, "whole years, %d at most, or 0 to keep for good", longestKept)
	}
	bad.Unless(worded(p.Reason, LongestText), "reason", "why, in at most %d letters", LongestText)
	if err := bad.Err(); err != nil {
		return KeepPolicy{}, err
	}
	for _, years := range []int{p.Values, p.Photos} {
		if years > 0 && years < rule.Floor {
			return KeepPolicy{}, plain.Refuse(rule.Clause, "This sort is kept for %d years at least, counted from the end of the year in which it was over.", rule.Floor)
		}
	}
	p.By, p.At = by.ID, now
	return p, nil
}

// maySettle: what goes for good is settled by a supervisor, not by who stands in.
func maySettle(by procedures.Person) error {
	if by.Role != procedures.Supervisor || !by.Supervises() {
		return plain.Refuse("", "Only a supervisor, and no deputy, settles what is kept and what goes.")
	}
	return nil
}

// Kept is one entry of the record as the rules of keeping see it.
type Kept struct {
	Sort KeepSort // "" for an entry of which nothing may be dropped
	Day  string   // local day on which it happened, "2026-03-02"

	// With are the sorts of what belongs together with it, as an incident does with
	// the defect it raised: it is kept for as long as the longest of them.
	With []KeepSort

	// Over is when what the entry is about was over. It is zero while that is open
	// or in use: then nothing of it is dropped.
	Over time.Time

	// Mentions tells whether the entry is about or names what has that id: a
	// person, a machine, an incident. Nil for one of which that is not known.
	Mentions func(id string) bool
}

// MayGo refuses what no policy and no hand drops: what is of no known sort, open
// or in use, or held. Its error is a [plain.Refusal].
func (k Kept) MayGo(holds []KeepHold) error {
	if _, ok := KeepRuleOf(k.Sort); !ok {
		return plain.Refuse("", "Nothing is dropped of this sort of entry: it says how the record itself was kept.")
	}
	if k.Over.IsZero() {
		return plain.Refuse("", "This is open or still in use, so nothing of it is dropped. Close it first, or wait until something newer stands in its place.")
	}
	for _, h := range holds {
		if h.Covers(k) {
			return plain.Refuse("", "A hold keeps this since %[1]s: %[2]s. A supervisor lifts the hold first.", plain.Day(h.At), h.Reason)
		}
	}
	return nil
}

// floors are the rules that bind k: of its own sort, and of what belongs together
// with it.
func (k Kept) floors() []KeepRule {
	var rules []KeepRule
	for _, sort := range append([]KeepSort{k.Sort}, k.With...) {
		if rule, ok := KeepRuleOf(sort); ok {
			rules = append(rules, rule)
		}
	}
	return rules
}

// Due tells whether what was kept for that many years may be dropped by now: the
// years and the floor of what belongs together with it are over, nothing is open
// and no hold is on it. 0 years is never. zone is the mill's.
func (k Kept) Due(years int, holds []KeepHold, now time.Time, zone *time.Location) bool {
	longest := years
	for _, rule := range k.floors() {
		longest = max(longest, rule.Floor)
	}
	return years > 0 && k.MayGo(holds) == nil && !now.Before(KeptUntil(k.Over, longest, zone))
}

// KeptUntil is the first moment at which something over at that time was kept for
// so many years from the end of its calendar year in the mill's zone.
func KeptUntil(over time.Time, years int, zone *time.Location) time.Time {
	return time.Date(over.In(zone).Year()+1+years, 1, 1, 0, 0, 0, 0, zone)
}

// DropByHand is a supervisor's word that values or photos go for good before or
// beside any policy.
type DropByHand struct {
	Reason string // why
	Rule   string // which rule or request lets it go
}

// Allow refuses to drop something of k by hand. A period that the law names binds
// here as well; one of the mill's own doesn't: what should never have been written
// may go as soon as it is over. Its error is a [plain.Problems] for "reason" and
// "rule", or a [plain.Refusal].
func (d DropByHand) Allow(k Kept, holds []KeepHold, by procedures.Person, now time.Time, zone *time.Location) error {
	if err := maySettle(by); err != nil {
		return err
	}
	if err := k.MayGo(holds); err != nil {
		return err
	}
	for _, rule := range k.floors() {
		until := KeptUntil(k.Over, rule.Floor, zone)
		if !rule.Timed || !now.Before(until) {
			continue
		}
		if rule.Sort != k.Sort {
			return plain.Refuse(rule.Clause, "This belongs to what is kept for %[1]d years at least, counted from the end of the year in which it was over: until %[2]s.", rule.Floor, plain.Day(until))
		}
		return plain.Refuse(rule.Clause, "This sort is kept for %[1]d years at least, counted from the end of the year in which it was over: until %[2]s.", rule.Floor, plain.Day(until))
	}
	return d.Validate()
}

// Validate returns nil or a [plain.Problems] for "reason" and "rule".
func (d DropByHand) Validate() error {
	var bad plain.Problems
	bad.Unless(worded(strings.TrimSpace(d.Reason), LongestText), "reason", "why, in at most %d letters", LongestText)
	bad.Unless(worded(strings.TrimSpace(d.Rule), LongestText), "rule", "which rule or request lets it go, in at most %d letters", LongestText)
	return bad.Err()
}

// dropHour is the hour of the day in the mill's zone at which what is due goes:
// when the fewest write. Common practice, no source.
const dropHour = 1

// NextDropRound is when what is due goes next after now. On the night an hour is
// skipped or repeated it is once all the same.
func NextDropRound(now time.Time, zone *time.Location) time.Time {
	local := now.In(zone)
	next := time.Date(local.Year(), local.Month(), local.Day(), dropHour, 0, 0, 0, zone)
	if !next.After(now) {
		next = time.Date(local.Year(), local.Month(), local.Day()+1, dropHour, 0, 0, 0, zone)
	}
	return next
}
