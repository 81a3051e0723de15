package procedures

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// MeasurementsCounted is how many of the newest measurements a coast time
// follows from. Common practice, no source: brake and bearings change, and one
// quick stop must not shorten a wait.
const MeasurementsCounted = 3

// CoastMeasured is one measurement of how long something takes to stand still.
type CoastMeasured struct {
	Energy  EnergyID  `json:"energy"`
	Seconds float64   `json:"seconds"` // from the stop to the mark seen still
	By      PersonID  `json:"by"`
	At      time.Time `json:"at"`
	How     string    `json:"how"` // stopwatch from the stand, blade on, no cant
}

type measuredAsked struct {
	plant Plant
	m     CoastMeasured
}

// Validate returns nil or a [plain.Problems] for "energy", "seconds", "by",
// "at" and "how".
func (m CoastMeasured) Validate(p Plant) error {
	return problemsBy(measuredRules(), measuredAsked{p, m})
}

func measuredRules() []rule[measuredAsked, plain.Problems] {
	return []rule[measuredAsked, plain.Problems]{
		{"something that turns", func(a measuredAsked) plain.Problems {
			return want(a.plant.energy(Energy{ID: a.m.Energy}).Kind == Rotation, "energy", plain.Say("something of this mill that turns"))
		}},
		{"a time", func(a measuredAsked) plain.Problems {
			return want(a.m.Seconds > 0 && a.m.Seconds <= CoastMost.Seconds(), "seconds", plain.Say("the seconds it took to stand still, more than none and at most %s", CoastMost))
		}},
		{"who, when and how", func(a measuredAsked) plain.Problems {
			var bad plain.Problems
			bad.Unless(a.m.By != "", "by", "who measured it")
			bad.Unless(!a.m.At.IsZero(), "at", "when it was measured")
			bad.Unless(!blank(a.m.How) && len(a.m.How) <= longestName, "how", "how it was measured, in a few words")
			return bad
		}},
	}
}

// Enter returns m to be kept, entered by by at now. Its error is what
// [CoastMeasured.Validate] finds, with "by" for somebody who isn't of the mill and
// "at" for a time to come, or a [plain.Refusal] for who is neither authorized to
// lock out nor supervises: a shorter time shortens the wait before a hand goes
// in, and only the longest of the last three counts.
func (m CoastMeasured) Enter(by Person, p Plant, crew []Person, now time.Time) (CoastMeasured, error) {
	if !by.Supervises() && !(by.Works() && by.Authorized) {
		return CoastMeasured{}, plain.Refuse(Clause("(d)(5)(i)"), "A coast time is entered by somebody authorized to lock out, or by the supervisor or the deputy.")
	}
	m.How = strings.TrimSpace(m.How)
	var bad plain.Problems
	bad.Add("", m.Validate(p))
	known := slices.ContainsFunc(crew, func(one Person) bool { return one.ID == m.By })
	bad.Unless(m.By == "" || known, "by", "somebody of this mill")
	bad.Unless(!m.At.After(now), "at", "not later than now")
	if err := bad.Err(); err != nil {
		return CoastMeasured{}, err
	}
	return m, nil
}

// MeasuredCoast is the coast time that follows from a history in any order: the
// longest of the last three measurements of that energy; 0 when there is none.
func MeasuredCoast(history []CoastMeasured, energy EnergyID) time.Duration {
	var own []CoastMeasured
	for _, m := range history {
		if m.Energy == energy {
			own = append(own, m)
		}
	}
	slices.SortStableFunc(own, func(a, b CoastMeasured) int { return a.At.Compare(b.At) })
	var longest time.Duration
	for _, m := range own[max(0, len(own)-MeasurementsCounted):] {
		longest = max(longest, time.Duration(m.Seconds*float64(time.Second)))
	}
	return longest
}

// Measured returns the plant with each coast time that follows from history;
// what was never measured keeps its own.
func (p Plant) Measured(history []CoastMeasured) Plant {
	p = slices.Clone(p)
	for i := range p {
		p[i].Energies = slices.Clone(p[i].Energies)
		for j := range p[i].Energies {
			e := &p[i].Energies[j]
			if coast := MeasuredCoast(history, e.ID); coast > 0 && e.Kind == Rotation {
				e.Coast = coast
			}
		}
	}
	return p
}

// ShortWait is a step of a procedure that waits less than the coast time now
// measured asks for.
type ShortWait struct {
	Procedure ProcedureID
	Version   int
	Step      StepID
	Energy    EnergyID
	Has, Asks time.Duration
}

// Words says what is to be done.
func (w ShortWait) Words() plain.Sentence {
	return plain.Say("It waits %[1]g s and what is measured now asks for %[2]g s: renew the procedure, 29 CFR 1910.147(d)(5)(i).", w.Has.Seconds(), w.Asks.Seconds())
}

// ShortWaits returns the steps of the procedures that wait less than a quarter
// more than the coast time in the plant: those procedures are to be renewed.
// A wait that is only longer than it need be is none of them.
func (p Plant) ShortWaits(written ...Procedure) []ShortWait {
	var short []ShortWait
	for _, procedure := range written {
		for _, s := range procedure.Steps {
			e := p.energy(Energy{ID: s.Energy})
			if e.Kind != Rotation || e.Coast <= 0 || s.Stage != Relieve && s.Wait == 0 {
				continue
			}
			if asks := CoastWait(e.Coast, 0); s.Wait < asks {
				short = append(short, ShortWait{procedure.ID, procedure.Version, s.ID, s.Energy, s.Wait, asks})
			}
		}
	}
	return short
}
