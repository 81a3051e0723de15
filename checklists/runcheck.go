package checklists

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// RunCheckLasts is how long a run check lasts. Common practice, no source: long
// enough to walk the running items of one machine, short enough not to saw with.
const RunCheckLasts = 30 * time.Minute

// AllowRunCheck gives one named person leave to turn equipment for checking it,
// from now for [RunCheckLasts]: before a shift, for the items that need it
// running, or for a mended defect that waits for its return. The run check
// covers also what turns along with the equipment, and the site's own items.
//
// draft holds the answers of a walk under way on list; list is zero when there
// is none. They count for that version of the list and no other. What was signed
// for the present shift or period counts for its own list. Nothing answered
// before an event counts for a list that the event calls for.
//
// It is refused, with a [plain.Refusal] that names what is missing, while any
// lockout, stop defect, departure or doubt about the facts holds any of these,
// and until every stop item done locked out or stopped is answered OK for all
// of them and for the site, in every list in force that holds any of them until
// it is done or that is over its time, and those left unchecked in any other.
func AllowRunCheck(id RunCheckID, f Facts, list List, draft []Answer, equipment []procedures.EquipmentID, by procedures.Person, now time.Time) (RunCheck, error) {
	if !by.Works() {
		return RunCheck{}, plain.Refuse("", "Only somebody of the crew runs a machine for checking. Sign in as yourself.")
	}
	covered, err := f.turnsWith(equipment)
	if err != nil {
		return RunCheck{}, err
	}
	holds := f.holds(now)
	for _, e := range covered {
		for _, h := range tidyHolds(holds[e]) {
			if barsRunCheck(h) {
				return RunCheck{}, plain.Refuse("", "No run check while %s is held. %s %s", f.nameOf(e), h.Reason, h.Clears)
			}
		}
	}
	if missing := f.notReady(list, draft, covered, now); len(missing) > 0 {
		return RunCheck{}, plain.Refuse("", "Before it is turned, these are answered OK first: %s", strings.Join(missing, ", "))
	}
	return RunCheck{ID: id, Equipment: covered, Person: by.ID, From: now, Until: now.Add(RunCheckLasts)}, nil
}

// turnsWith is the equipment asked for, in the plant's order, with everything
// that runs along with it and the site.
func (f Facts) turnsWith(equipment []procedures.EquipmentID) ([]procedures.EquipmentID, error) {
	wanted := make(map[procedures.EquipmentID]bool)
	for _, id := range equipment {
		e, known := f.Plant.Find(id)
		if !known || e.Kind == procedures.Site {
			return nil, plain.Refuse("", "Say which machine is to be turned. The mill as a whole is not one.")
		}
		for _, reached := range f.Plant.ReachedByStop(id) {
			wanted[reached] = true
		}
	}
	if len(wanted) == 0 {
		return nil, plain.Refuse("", "Say which machine is to be turned.")
	}
	var covered []procedures.EquipmentID
	for _, e := range f.Plant {
		if wanted[e.ID] || e.Kind == procedures.Site {
			covered = append(covered, e.ID)
		}
	}
	return covered, nil
}

func (f Facts) nameOf(id procedures.EquipmentID) string {
	if e, known := f.Plant.Find(id); known && e.Name != "" {
		return e.Name
	}
	return string(id)
}

// notReady names the items that have to be answered OK before the equipment is
// turned and are not, in the list walked and in every other that holds any of
// it: all its items, or those left unchecked where nothing else of it holds.
func (f Facts) notReady(walked List, draft []Answer, covered []procedures.EquipmentID, now time.Time) []string {
	if walked.ID != "" && !walked.inForce(now) {
		return []string{"a list in force"}
	}
	asked := f.newest(now, func(s Schedule) bool { return s.Holds || s.HoldsLate })
	isWalked := func(l List) bool { return l.ID == walked.ID && l.Version == walked.Version }
	known := func(l List) bool { return l.ID == walked.ID }
	if walked.ID != "" && !slices.ContainsFunc(asked, known) {
		newest := walked // it holds nothing itself; what it asks is asked all the same
		for _, l := range f.Lists {
			if l.ID == walked.ID && l.inForce(now) && l.Version > newest.Version {
				newest = l
			}
		}
		asked = append(asked, newest)
	}
	var missing []string
	for _, l := range asked {
		var answers []Answer
		if isWalked(l) {
			answers = draft
		}
		for _, item := range f.notOK(l, known(l), answers, covered, now) {
			if isWalked(l) {
				missing = append(missing, string(item))
				continue
			}
			missing = append(missing, fmt.Sprintf("%s (%s, %d)", item, l.Title, l.Version))
		}
	}
	return missing
}

// notOK is the items of one list that keep the equipment from being turned.
func (f Facts) notOK(list List, walked bool, draft []Answer, covered []procedures.EquipmentID, now time.Time) []ItemID {
	state := f.Due(list, now)
	whole := state.Status != NotCalled && (walked || list.Schedule.Holds || state.holds(list.Schedule))
	given := make(map[ItemID]Answer)
	if !whole || state.Status == IsDone {
		signed, last := f.lastGone(list, state, now)
		if last == nil {
			return nil
		}
		given = signed
	}
	for item, answer := range latest(draft, now) {
		if fresh(list, f.Mill, answer.At, now) && !state.calledSince(answer.At) {
			given[item] = answer
		}
	}
	askings := list.Askings(given)
	var missing []ItemID
	for _, item := range list.Asks() {
		if !slices.Contains(covered, item.Equipment) {
			continue
		}
		answer, answered := given[item.ID]
		stops := answer.Result == Found && answer.Severity != Mend
		needed := item.Severity != Mend && item.State != Running && askings[item.ID] != NotAsked
		switch {
		case !whole && (answer.Result == OK || answer.Result == Found && !stops):
		case answered && item.stands(answer) == nil && answer.Result == OK:
		case stops && f.settled(list.ID, answer):
		case needed || stops:
			missing = append(missing, item.ID)
		}
	}
	return missing
}

// calledSince tells whether something happened after that moment that calls for
// the list and is not answered.
func (state DueState) calledSince(at time.Time) bool {
	return len(state.Calls) > 0 && at.Before(state.Calls[len(state.Calls)-1].Happened)
}

// settled tells whether the defect found at an item of the list was signed and
// is mended or back in service since: while one stands open unmended, the holds
// refuse.
func (f Facts) settled(list ListID, found Answer) bool {
	same := func(a Answer) bool { return a.Item == found.Item && a.By == found.By && a.At.Equal(found.At) }
	for _, in := range f.Inspections {
		if in.List == list && slices.ContainsFunc(in.Answers, same) {
			return true
		}
	}
	for _, am := range f.Amendments {
		if am.List == list && slices.ContainsFunc(am.Answers, same) {
			return true
		}
	}
	return false
}

// ended tells whether a run check is over before its time: by the signature of
// the inspection it was given for, or interrupted on that equipment.
func (f Facts) ended(r RunCheck, id procedures.EquipmentID, now time.Time) bool {
	signed := func(in Inspection) bool { return in.ID == r.Inspection && !in.At.IsZero() && !in.At.After(now) }
	return r.Inspection != "" && slices.ContainsFunc(f.Inspections, signed) || f.interrupted(r, id, now)
}

// interrupted tells whether a lockout or a stop on that equipment, or one that
// reaches it, stood at any moment after the run check was given: that ends it
// for good, also once the lockout is over and the stop mended. No run check is
// given while one stands, so any that lasted past its beginning came after it.
func (f Facts) interrupted(r RunCheck, id procedures.EquipmentID, now time.Time) bool {
	for _, l := range slices.Concat(f.Lockouts, f.LockoutsOver) {
		if f.lockReaches(l, id) && (l.Open() || lastAct(l).After(r.From)) {
			return true
		}
	}
	for _, d := range slices.Concat(f.Defects, f.DefectsOver) {
		if d.stoppedAfter(r.From, now) && slices.Contains(f.Plant.ReachedByStop(d.Equipment), id) {
			return true
		}
	}
	return false
}

func (f Facts) lockReaches(l procedures.Lockout, id procedures.EquipmentID) bool {
	named := slices.Concat(l.Procedure.Equipment, l.Procedure.Holds)
	for _, e := range named {
		if e == id || slices.Contains(f.Plant.ReachedByLockout(e), id) {
			return true
		}
	}
	return len(named) == 0
}

// lastAct is when the last thing was done in a lockout.
func lastAct(l procedures.Lockout) time.Time {
	last := l.Begun
	for _, e := range l.Events {
		if e.At.After(last) {
			last = e.At
		}
	}
	return last
}
