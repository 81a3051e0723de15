package server

import (
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// lockout says what one event of a lockout reported; never that a machine is safe.
func (t teller) lockout(act store.LockoutAct) plain.Sentence {
	p := t.procedures[act.Procedure][act.Version]
	return plain.Say("%[1]s: %[2]s", p.Title, lockoutAct(p, act.Event))
}

func lockoutAct(p procedures.Procedure, e procedures.Event) plain.Sentence {
	switch e.Kind {
	case procedures.Began:
		return plain.Say("lockout begun for %s", e.Note)
	case procedures.StepDone:
		return stepSaid(p, e)
	case procedures.LockApplied:
		return plain.Say("lock %[1]s reported on %[2]s", e.Lock, deviceSaid(p, e.Device))
	case procedures.Joined:
		return plain.Say("joined, own lock %[1]s reported on %[2]s", e.Lock, deviceSaid(p, e.Device))
	case procedures.WorkBegan:
		return plain.Say("work begun")
	case procedures.LaterEnd:
		return plain.Say("expected end put off to %s", e.Until)
	case procedures.WorkEnded:
		if e.Clear {
			return plain.Say("called off before any work, nobody reported in the machine")
		}
		return plain.Say("work ended")
	case procedures.LeftJob:
		return plain.Say("own lock reported off, signed off the job")
	case procedures.LeftOvernight:
		return plain.Say("own lock left on, on purpose, until %s", e.Until)
	case procedures.Reverified:
		return plain.Say("zero proven again")
	case procedures.Rechecked:
		return plain.Say("proven at zero again: %s", stepText(p, e.Step))
	case procedures.HandedOver:
		if e.ToEnd {
			return plain.Say("takes the lockout to its end, for somebody who is not here")
		}
		return plain.Say("took the lockout over and answers for it")
	case procedures.LockTaken:
		return plain.Say("lock %s reported taken off for its owner, who is not here", e.Lock)
	case procedures.ToldOfLock:
		return plain.Say("knows that the own lock was taken off")
	case procedures.TestAsked:
		return plain.Say("tools and people reported out for a test")
	case procedures.Energized:
		return plain.Say("power reported on for a test, run from %s", e.Where)
	case procedures.Resumed:
		return plain.Say("back to work from the release, to be proven at zero again first")
	case procedures.TestEnded:
		if e.Over {
			return plain.Say("test reported ended and the work done, no lock on")
		}
		return plain.Say("test reported ended, isolation begins again")
	case procedures.LockRemoved:
		return plain.Say("lock %[1]s reported off %[2]s by its owner", e.Lock, deviceSaid(p, e.Device))
	case procedures.Restored:
		return plain.Say("reported back in service")
	case procedures.Cancelled:
		return plain.Say("cancelled before any lock")
	}
	return plain.Say("an act this Stillsaw is too old to name")
}

func deviceSaid(p procedures.Procedure, id procedures.DeviceID) plain.Sentence {
	if label := deviceLabel(p, id); label != "" {
		return plain.Say("%s", label)
	}
	return plain.Say("the box with the keys")
}

func stepText(p procedures.Procedure, id procedures.StepID) string {
	for _, s := range p.Steps {
		if s.ID == id {
			return s.Text
		}
	}
	return string(id)
}

func stepSaid(p procedures.Procedure, e procedures.Event) plain.Sentence {
	for _, s := range p.Steps {
		if s.ID == e.Step {
			return plain.Say("%[1]s, reported done: %[2]s", s.Stage.Words(), s.Text)
		}
	}
	return plain.Say("a step reported done")
}
