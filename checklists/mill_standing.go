package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// MillStanding is what of a mill is told to who looks after several: numbers and words
// of the program. Beside the mill's name nothing stands in it that anybody typed, and
// nobody's name: machines are told by their kind, holds by theirs. What more leaves
// the mill is for its own people to decide.
type MillStanding struct {
	Mill     string        `json:"mill"`
	MayRun   int           `json:"may_run"` // machines, as all to Unknown
	RunCheck int           `json:"run_check"`
	Held     int           `json:"held"`
	Unknown  int           `json:"not_known"`
	Holds    []MachineHeld `json:"holds,omitempty"` // of each machine that is held, in the plant's order
	Stop     int           `json:"stop"`            // open defects that stop
	Mend     int           `json:"mend"`            // open defects to mend by a day
	Overdue  int           `json:"overdue"`         // lists whose time is over, or of which that is not known
	Entries  int64         `json:"entries"`         // in the record
	Last     time.Time     `json:"last,omitzero"`   // when the newest of them was made
}

// MachineHeld is a machine that is held, and why: each kind once, the most serious first.
type MachineHeld struct {
	Kind procedures.EquipmentKind `json:"kind"`
	By   []HoldKind               `json:"by"`
}

// StandingOf is how the mill of the facts stands, by what [Ready] answers for its
// machines; entries are those in its record.
func StandingOf(f Facts, entries int64, now time.Time) MillStanding {
	s := MillStanding{Mill: f.Mill.Name, Entries: entries, Last: f.LastEntry}
	for _, r := range Ready(f, now) {
		switch r.Status {
		case MayRun:
			s.MayRun++
		case RunCheckOnly:
			s.RunCheck++
		case Held:
			s.Held++
			held := MachineHeld{}
			if e, known := f.Plant.Find(r.Equipment); known {
				held.Kind = e.Kind
			}
			for _, h := range r.Holds {
				if !slices.Contains(held.By, h.Kind) {
					held.By = append(held.By, h.Kind)
				}
			}
			s.Holds = append(s.Holds, held)
		default:
			s.Unknown++
		}
	}
	for _, d := range f.Defects {
		switch {
		case !d.Open():
		case d.Severity == Stop:
			s.Stop++
		default:
			s.Mend++
		}
	}
	for _, l := range f.Lists {
		if due := f.Due(l, now); due.Status == IsLate || due.Status == DueUnknown {
			s.Overdue++
		}
	}
	return s
}

// Status is the least good answer among the machines. A mill with none is not known.
func (s MillStanding) Status() Status {
	switch {
	case s.Held > 0:
		return Held
	case s.Unknown > 0:
		return NotKnown
	case s.RunCheck > 0:
		return RunCheckOnly
	case s.MayRun > 0:
		return MayRun
	}
	return NotKnown
}

// Stopped tells whether a machine is held by more than a check, a signature or a
// return to service that is still to come.
func (s MillStanding) Stopped() bool {
	return slices.ContainsFunc(s.Holds, func(m MachineHeld) bool {
		return slices.ContainsFunc(m.By, func(k HoldKind) bool { return barsRunCheck(Hold{Kind: k}) })
	})
}

// Words is the kind of hold in words, with nothing of the one hold.
func (k HoldKind) Words() plain.Sentence {
	switch k {
	case HeldByDue:
		return plain.Say("a check is due")
	case HeldUnchecked:
		return plain.Say("a stop item is not checked")
	case HeldByDefect:
		return plain.Say("a defect that stops")
	case HeldByReturn:
		return plain.Say("mended, not returned to service")
	case HeldByLockout:
		return plain.Say("a lockout")
	case HeldByDeparture:
		return plain.Say("a departure from the rule")
	case HeldByClock:
		return plain.Say("the clock stands behind the record")
	case HeldUnread:
		return plain.Say("the lists or the equipment are not in order")
	case HeldUnsigned:
		return plain.Say("a check waits for its signature")
	case HeldByFinding:
		return plain.Say("a stop found in a walk under way")
	case HeldByBlade:
		return plain.Say("the saw that is on")
	}
	return plain.Say("not known")
}
