package procedures_test

import (
	"slices"
	"time"

	"pgregory.net/rapid"

	"stillsaw/procedures"
)

const brightwater = "Brightwater Millwrights"

// yard is the mill around a generated history: what it has entered of its
// people, firms, locks and program, and so what the gate decides by.
type yard struct {
	noneEntered bool // no training of anybody yet
	trainings   []procedures.Training
	untrained   map[procedures.PersonID]map[procedures.ProcedureID]time.Time // from when not let in, written down by hand
	exchanged   bool
	program     procedures.Program
	register    []procedures.LockItem
}

// anyYard draws a mill. Ada and Ben are trained on everything, so that somebody
// may begin; each other may lack one procedure, have learned an older version of
// it, or have a training that runs out while they are on the job.
func anyYard(t *rapid.T, mill []procedures.Procedure) yard {
	y := yard{noneEntered: evenly(t, 8) == 0, exchanged: evenly(t, 3) > 0, untrained: map[procedures.PersonID]map[procedures.ProcedureID]time.Time{}}
	y.program.LockColour = "red"
	if evenly(t, 8) > 0 {
		y.program.AbsentOwner = "look, telephone, sign"
	}
	for _, who := range crew()[:5] {
		y.untrained[who.ID] = map[procedures.ProcedureID]time.Time{}
		for _, p := range mill {
			training := procedures.Training{Person: who.ID, Level: procedures.AuthorizedLevel, EnergyKinds: p.Kinds(), Tags: true, TagPoints: procedures.TagPoints(),
				Procedures: []procedures.TrainedOn{{Procedure: p.ID, Version: p.Version}}, On: six.AddDate(0, -1, 0)}
			lacks := evenly(t, 16)
			if who.ID == ada.ID || who.ID == ben.ID || y.noneEntered {
				lacks = 15
			}
			switch lacks {
			case 0:
				y.untrained[who.ID][p.ID] = time.Time{}
				continue
			case 1:
				training.Procedures[0].Version--
				y.untrained[who.ID][p.ID] = time.Time{}
			case 2:
				training.Expires = six.Add(40 * time.Minute)
				y.untrained[who.ID][p.ID] = training.Expires
			}
			if !y.noneEntered {
				y.trainings = append(y.trainings, training)
			}
		}
		if bad := oneOf(t, mill); evenly(t, 4) == 0 { // their lock for the box of one machine is worn
			y.register = append(y.register, procedures.LockItem{Number: string(who.ID) + "-" + string(bad.ID) + "-box", Kind: procedures.KeyedPadlock,
				Colour: "red", Owner: who.ID, OnlyHere: true, Condition: procedures.LockBad})
		}
	}
	return y
}

// standing is what the mill knows of by, as the record loads it.
func (g *game) standing(by procedures.Person) procedures.Standing {
	s := procedures.Standing{Person: by, NoneEntered: g.yard.noneEntered, Program: g.yard.program, Others: g.open(), Plant: g.plant}
	s.Learned = procedures.Learned{Person: by.ID, Trainings: g.yard.trainings}
	if g.yard.exchanged {
		s.Contractors = []procedures.Contractor{{Firm: brightwater, OursGiven: six.AddDate(0, -1, 0), TheirsSeen: six.AddDate(0, -1, 0)}}
	}
	s.Locks = slices.Clone(g.yard.register)
	for _, p := range g.places {
		for _, lock := range p.l.Untold() {
			for i := range s.Locks {
				if procedures.LockNumber(s.Locks[i].Number) == procedures.LockNumber(lock.Number) && s.Locks[i].Owner == lock.Owner {
					s.Locks[i].Untold = p.l.ID
				}
			}
		}
	}
	return s
}

// open are the lockouts under way.
func (g *game) open() []procedures.Lockout {
	var open []procedures.Lockout
	for _, p := range g.places {
		if p.l.Open() {
			open = append(open, p.l)
		}
	}
	return open
}

// turns counts what the gate turned back, by its clause.
func (g *game) turns(err error) bool {
	if err == nil {
		return false
	}
	why, _ := refusal(g.t, err)
	g.outcome.turned[why.Clause]++
	return true
}

// letIn holds an act that passed the gate against what was written down of the
// mill and of the other machines, and registers a lock nobody had before. What
// is entered late happened; only power for a test is never entered past the gate.
func (g *game) letIn(p *place, e procedures.Event) {
	by, puts := person(e.Person), e.Kind == procedures.LockApplied || e.Kind == procedures.Joined
	breaks := func(invariant int, when bool) {
		if when {
			g.outcome.broken = append(g.outcome.broken, invariant)
		}
	}
	if !e.Late && (e.Kind == procedures.Began || e.Kind == procedures.Joined) {
		from, lacks := g.yard.untrained[by.ID][p.p.ID]
		breaks(onlyLetIn, !by.Authorized || lacks && !e.At.Before(from) || by.Firm != "" && !g.yard.exchanged)
	}
	if p.witness != nil && !e.Late {
		in := p.witness.toolsIn()
		breaks(toolsOut, in > 0 && in != e.ToolsOut && (e.Kind == procedures.TestAsked || e.Kind == procedures.StepDone && e.Tools && p.at(e.Step, procedures.InspectArea)))
	}
	for _, other := range g.places {
		breaks(onlyLetIn, !e.Late && (puts || e.Kind == procedures.Began) && other.witness.untold[by.ID])
		if other == p {
			continue
		}
		breaks(othersSafe, !e.Late && other.witness.powered && comes(e) && slices.ContainsFunc(other.p.Equipment, func(id procedures.EquipmentID) bool {
			return slices.Contains(reach[p.p.ID], id)
		}))
		_, twice := other.witness.on[e.Lock]
		breaks(othersSafe, !e.Late && puts && twice)
		breaks(othersSafe, e.Kind == procedures.Energized && len(other.witness.on) > 0 && slices.ContainsFunc(p.p.Equipment, func(id procedures.EquipmentID) bool {
			return slices.Contains(reach[other.p.ID], id)
		}))
		breaks(othersSafe, !e.Late && e.Kind == procedures.StepDone && p.at(e.Step, procedures.Restore) && other.locksOneOf(p.p))
	}
	if puts && g.yard.ownerOf(e.Lock) == "" {
		g.yard.register = append(g.yard.register, procedures.LockItem{Number: e.Lock, Kind: procedures.KeyedPadlock, Colour: "red", Owner: by.ID, OnlyHere: true, Condition: procedures.LockGood})
	}
}

// counts puts the tools into an act, as who counts them: in with the work, out
// with whoever leaves, all of them before a test or the release, and one in eight
// is miscounted.
func (g *game) counts(p *place, e *procedures.Event, by procedures.PersonID) {
	switch e.Kind {
	case procedures.WorkBegan, procedures.Joined, procedures.Reverified:
		e.ToolsIn = max(0, evenly(g.t, 8)-4)
	case procedures.LeftJob:
		e.ToolsOut = p.witness.tools[by] * evenly(g.t, 2)
	case procedures.TestAsked, procedures.StepDone:
		if in := p.witness.toolsIn(); e.Tools && in > 0 {
			e.ToolsOut = in
			if evenly(g.t, 8) == 0 {
				e.ToolsOut--
			}
		}
	}
}

func (y *yard) ownerOf(number string) procedures.PersonID {
	item, _ := procedures.FindLock(y.register, number)
	return item.Owner
}

// at tells whether a step is of that stage.
func (p *place) at(id procedures.StepID, stage procedures.Stage) bool {
	return slices.ContainsFunc(p.p.Steps, func(s procedures.Step) bool { return s.ID == id && s.Stage == stage })
}

// locksOneOf tells whether a lock of this lockout is on a device of p's.
func (other *place) locksOneOf(p procedures.Procedure) bool {
	for _, lock := range other.witness.on {
		if slices.ContainsFunc(p.Devices, func(d procedures.Device) bool { return d.ID == lock.Device }) {
			return true
		}
	}
	return false
}

// comes tells whether somebody comes to a machine by e, or goes to work at it.
func comes(e procedures.Event) bool {
	return slices.Contains([]procedures.EventKind{procedures.Began, procedures.Joined, procedures.Reverified, procedures.WorkBegan}, e.Kind) || e.Kind == procedures.HandedOver && !e.ToEnd
}
