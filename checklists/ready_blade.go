package checklists

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// HeldByBlade: the saw reported fitted may not be on the spindle, or saws are
// reported and none is on.
const HeldByBlade HoldKind = "blade"

// holdByBlade holds every head saw while the saw reported fitted is out of use,
// cracked to its limit or marked for less than the spindle's speed, while none is
// reported fitted at a mill that reports it, and while what was read off the saw
// since speaks against it. A mill that has never reported a saw fitted keeps no
// such register; a saw that is out of use holds there too, once it was read off
// the spindle.
func (f Facts) holdByBlade(found holdMap, now time.Time) {
	var last BladeAct
	for _, a := range f.BladeActs {
		if (a.Work == BladeFitted || a.Work == BladeTakenOff) && !a.On.Before(last.On) {
			last = a
		}
	}
	on, some := FittedBlade(Blades(f.Blades, f.BladeActs))
	hold := func(h Hold) {
		h.Kind = HeldByBlade
		if h.Since.After(now) {
			h.Since = time.Time{}
		}
		for _, e := range f.Plant {
			if e.Kind == procedures.HeadSaw {
				h.From = e.ID
				found.put(f.Plant.ReachedByStop(e.ID), h)
			}
		}
	}
	f.holdByReading(hold, on, some, last.On, now)
	if last.Blade == "" {
		return
	}
	if !some {
		hold(Hold{Since: last.On, By: last.By, Ref: string(last.Blade), Reason: plain.Say("No saw is reported fitted."), Clears: plain.Say("Whoever fits the next saw reports it in the saw register.")})
		return
	}
	for _, gap := range on.Against(f.Mill.SetUp.SpindleSpeed) {
		hold(Hold{Since: on.Fitted, By: last.By, Ref: string(on.ID), Reason: plain.Say("Saw %[1]s is reported fitted. %[2]s", on.Serial, gap.Why),
			Clears: plain.Say("The saw is taken off under lockout, and one that may be fitted is put on and reported.")})
	}
}

// bladeEvents are the changes and filings that follow from the saw register: a
// saw fitted, and one filed while it was on.
func (f Facts) bladeEvents() []Event {
	saw := procedures.EquipmentID("")
	for _, e := range f.Plant {
		if e.Kind == procedures.HeadSaw {
			saw = e.ID
			break
		}
	}
	var all []Event
	for _, s := range Blades(f.Blades, f.BladeActs) {
		on := false
		for _, a := range s.Acts {
			e := Event{Equipment: saw, Happened: a.On, Note: s.Serial, By: a.By, At: a.At}
			switch {
			case a.Work == BladeFitted:
				on, e.Kind = true, BladeChange
			case a.Work == BladeTakenOff:
				on = false
			case a.Work == BladeFiled && on:
				e.Kind = Filing
			}
			if e.Kind != "" {
				all = append(all, e)
			}
		}
	}
	return all
}
