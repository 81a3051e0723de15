package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Ready answers for every piece of equipment but the site whether it may run,
// in the plant's order, with every hold on it: its own and those that travel
// along links. Nothing that is not known, missing or contradictory ends in MAY
// RUN: no list that covers it, an unknown zone, a plant with a gap, a clock
// behind the newest entry all hold.
//
// RUN CHECK ONLY means that a run check in force covers it and nothing holds it
// but checks still due, not done or not signed, or a mended defect that waits for
// its return. It is leave for the named person of that run check and nobody else.
func Ready(f Facts, now time.Time) []Readiness {
	holds := f.holds(now)
	var all []Readiness
	for _, e := range f.Plant {
		if e.Kind == procedures.Site {
			continue
		}
		r := Readiness{Equipment: e.ID, Status: Held, Holds: tidyHolds(holds[e.ID])}
		r.RunCheck = f.runCheckOf(e.ID, now)
		switch {
		case len(r.Holds) == 0:
			r.Status = MayRun
		case r.RunCheck != nil && !slices.ContainsFunc(r.Holds, barsRunCheck):
			r.Status = RunCheckOnly
		}
		if r.Status != RunCheckOnly {
			r.RunCheck = nil
		}
		all = append(all, r)
	}
	return all
}

// barsRunCheck tells whether a machine may not even be turned for checking
// under that hold.
func barsRunCheck(h Hold) bool {
	switch h.Kind {
	case HeldByDue, HeldUnchecked, HeldByReturn, HeldUnsigned:
		return false
	}
	return true
}

// runCheckOf returns the newest run check in force that covers the equipment.
func (f Facts) runCheckOf(id procedures.EquipmentID, now time.Time) *RunCheck {
	var last *RunCheck
	for i := range f.RunChecks {
		r := &f.RunChecks[i]
		if r.Person != "" && r.inForce(now) && slices.Contains(r.Equipment, id) && !f.ended(*r, id, now) && (last == nil || !r.From.Before(last.From)) {
			last = r
		}
	}
	return last
}

// holdMap collects holds by the equipment they are on.
type holdMap map[procedures.EquipmentID][]Hold

func (m holdMap) put(on []procedures.EquipmentID, h Hold) {
	for _, id := range on {
		m[id] = append(m[id], h)
	}
}

// holds derives every hold on every piece of equipment, the site's own among them.
func (f Facts) holds(now time.Time) holdMap {
	found := make(holdMap, len(f.Plant))
	f.holdByKnowledge(found, now)
	f.holdByLockouts(found)
	f.holdByDefects(found, now)
	f.holdByDepartures(found)
	f.holdByBlade(found, now)
	f.holdByLists(found, now)
	f.holdByUnsigned(found, now)
	return found
}

func (f Facts) everything() []procedures.EquipmentID {
	every := make([]procedures.EquipmentID, 0, len(f.Plant))
	for _, e := range f.Plant {
		every = append(every, e.ID)
	}
	return every
}

// holdByKnowledge holds everything while the facts themselves can't be relied on.
func (f Facts) holdByKnowledge(found holdMap, now time.Time) {
	if f.ClockBehind(now) {
		found.put(f.everything(), Hold{Kind: HeldByClock, Since: f.LastEntry,
			Reason: plain.Say("The clock of the computer stands before the newest entry, of %s.", f.LastEntry),
			Clears: plain.Say("Set the clock of the computer right. If it is right and ran ahead before, a supervisor or the deputy opens The clock, looks at what was entered meanwhile, and signs that the clock is right now.")})
	}
	if err := f.Plant.Validate(); err != nil {
		found.put(f.everything(), Hold{Kind: HeldUnread,
			Reason: plain.Say("The equipment of the mill is not described in full: %s", err.Error()),
			Clears: plain.Say("The supervisor puts the equipment in order.")})
	}
}

func (f Facts) holdByLockouts(found holdMap) {
	for _, l := range f.Lockouts {
		on := l.LocksOn()
		if !l.Open() && len(on) == 0 {
			continue
		}
		h := Hold{Kind: HeldByLockout, Since: l.Begun, By: l.BegunBy(), Ref: string(l.ID),
			Reason: plain.Say("A lockout was begun on %s (%s). No lock is reported on yet.", l.Begun, l.Task),
			Clears: plain.Say("It is carried on to back in service, or called off.")}
		if len(l.Locks) > 0 {
			h.Reason = plain.Say("A lockout was begun on %s (%s). No lock is reported on now.", l.Begun, l.Task)
			h.Clears = plain.Say("The one who answers for it puts the machine back in service.")
		}
		if len(on) > 0 {
			h.Reason = plain.Say("Reported locked out since %s (%s); locks reported on: %d.", l.Begun, l.Task, len(on))
			h.Clears = plain.Say("Each takes their own lock off, and the one who answers for it puts the machine back in service.")
		}
		named := slices.Concat(l.Procedure.Equipment, l.Procedure.Holds)
		if len(named) == 0 {
			named = []procedures.EquipmentID{""} // not known what: reaches everything
		}
		for _, id := range named { // its own hold comes first, so that it is the one shown
			h.From = id
			found.put([]procedures.EquipmentID{id}, h)
		}
		for _, id := range named {
			h.From = id
			found.put(f.Plant.ReachedByLockout(id), h)
		}
	}
}

func (f Facts) holdByDefects(found holdMap, now time.Time) {
	for _, d := range f.Defects {
		if !d.StopsNow(now) {
			continue
		}
		what := plain.Say("%s", d.What)
		if d.What == "" {
			what = plain.Say("stopped, with nothing more said")
		}
		h := Hold{Kind: HeldByDefect, From: d.Equipment, Since: d.At, By: d.By, Ref: string(d.ID),
			Reason: plain.Say("Defect: %s", what),
			Clears: plain.Say("It is mended, and then returned to service by another person.")}
		if f.Mill.SingleHanded {
			h.Clears = plain.Say("It is mended, and then returned to service: by another person or, working alone, by the mender after a check of the item, a run check and photos.")
		}
		if d.Severity == Mend {
			h.Reason = plain.Say("Defect: %s. It was to be mended by %s.", what, d.MendBy)
		}
		if d.AwaitsReturn() {
			h.Kind, h.Since, h.By = HeldByReturn, d.MendedAt, d.MendedBy
			h.Reason = plain.Say("Mended, not yet returned to service: %s", what)
			h.Clears = plain.Say("Somebody other than the mender looks at it and returns it to service.")
			if f.Mill.SingleHanded {
				h.Clears = plain.Say("Somebody other than the mender returns it to service; working alone, the mender, after a check of the item, a run check and photos.")
			}
		}
		found.put(f.Plant.ReachedByStop(d.Equipment), h)
	}
}

func (f Facts) holdByDepartures(found holdMap) {
	for _, d := range f.Departures {
		if !d.Open() {
			continue
		}
		found.put(f.Plant.ReachedByStop(d.Equipment), Hold{
			Kind: HeldByDeparture, From: d.Equipment, Since: d.At, By: d.By, Ref: string(d.ID),
			Reason: plain.Say("Departure from the rule on %s: %s", d.Happened, d.What),
			Clears: plain.Say("A supervisor closes the departure with a reason.")})
	}
}

// seriousness orders holds: first what can mean a person in the machine.
func (k HoldKind) seriousness() int {
	return slices.Index([]HoldKind{HeldByLockout, HeldByDeparture, HeldByDefect, HeldByFinding, HeldByBlade, HeldByClock, HeldUnread,
		HeldByReturn, HeldUnsigned, HeldUnchecked, HeldByDue}, k)
}

// tidyHolds returns each hold once, the most serious first, then the oldest.
func tidyHolds(holds []Hold) []Hold {
	type same struct {
		kind   HoldKind
		from   procedures.EquipmentID
		ref    string
		reason string
	}
	seen := make(map[same]bool, len(holds))
	var once []Hold
	for _, h := range holds {
		key := same{h.Kind, h.From, h.Ref, h.Reason.String()}
		if h.Kind == HeldByDue || h.Kind == HeldByLockout || h.Kind == HeldUnsigned {
			key.from = "" // one list that is due is one thing to do, and so is one lockout or one signature, wherever it holds
		}
		if !seen[key] {
			seen[key] = true
			once = append(once, h)
		}
	}
	slices.SortStableFunc(once, func(a, b Hold) int {
		if order := a.Kind.seriousness() - b.Kind.seriousness(); order != 0 {
			return order
		}
		return a.Since.Compare(b.Since)
	})
	return once
}
