package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// Gap is something missing, with the clause that asks for it.
type Gap struct {
	Why    plain.Sentence
	Clause string
}

// Edition is one version of a procedure as it matters for who was trained on
// an earlier one.
type Edition struct {
	Procedure ProcedureID
	Version   int
	Wording   bool // its author signed that only words changed; else its substance did
	Kinds     []EnergyKind
	Since     time.Time // when it was put in force
}

// Kinds returns the kinds of energy p controls, each once.
func (p Procedure) Kinds() []EnergyKind {
	var kinds []EnergyKind
	for _, e := range p.Energies {
		if !slices.Contains(kinds, e.Kind) {
			kinds = append(kinds, e.Kind)
		}
	}
	return kinds
}

// TagOnly tells whether p hangs a tag where no lock fits.
func (p Procedure) TagOnly() bool {
	return slices.ContainsFunc(p.stage(Apply), func(s Step) bool {
		d, _ := p.device(s.Device)
		return !d.Lockable
	})
}

// Learned is what is known of how one person was trained.
type Learned struct {
	Person      PersonID
	Trainings   []Training // those of others are passed over
	Editions    []Edition  // of the procedure asked about; an unknown one between counts as of substance
	Inspections []ProcedureInspection
}

// lockingOut returns the trainings to lock out that had been given by now, the
// oldest first.
func (k Learned) lockingOut(now time.Time) []Training {
	var given []Training
	for _, t := range k.Trainings {
		if t.Person == k.Person && t.Level == AuthorizedLevel && !t.On.After(now) {
			given = append(given, t)
		}
	}
	slices.SortStableFunc(given, func(a, b Training) int {
		if c := a.On.Compare(b.On); c != 0 {
			return c
		}
		return a.At.Compare(b.At)
	})
	return given
}

// gapsAsked is one question of whether somebody is trained for p.
type gapsAsked struct {
	Learned
	p     Procedure
	given []Training // to lock out, the oldest first
	on    []Training // those of them on p
	last  Training   // the newest of these
	now   time.Time
}

// Gaps returns what keeps the person from locking out by p at now as far as
// training goes, 29 CFR 1910.147(c)(7): none, and they are trained. That they
// are recorded as authorized is another matter, and needed too.
func (k Learned) Gaps(p Procedure, now time.Time) []Gap { return gapsBy(gapRules(), k.asked(p, now)) }

func (k Learned) asked(p Procedure, now time.Time) gapsAsked {
	a := gapsAsked{Learned: k, p: p, given: k.lockingOut(now), now: now}
	for _, t := range a.given {
		if _, ok := t.names(p.ID); ok {
			a.on = append(a.on, t)
			a.last = t
		}
	}
	return a
}

// Newest returns the newest training to lock out by that procedure and the newest
// version such training went through; false when there was none by now.
func (k Learned) Newest(id ProcedureID, now time.Time) (t Training, version int, ok bool) {
	a := k.asked(Procedure{ID: id}, now)
	return a.last, a.trainedVersion(), len(a.on) > 0
}

func gapsBy(rules []rule[gapsAsked, []Gap], a gapsAsked) []Gap {
	var gaps []Gap
	for _, r := range rules {
		gaps = append(gaps, r.ask(a)...)
	}
	return gaps
}

func gapRules() []rule[gapsAsked, []Gap] {
	return []rule[gapsAsked, []Gap]{
		{"trained on the procedure", gapNever},
		{"training not run out", gapRunOut},
		{"energies covered", gapEnergies},
		{"tags covered", gapTags},
		{"substance unchanged", gapSubstance},
		{"no deviation found since", gapFound},
	}
}

func gapNever(a gapsAsked) []Gap {
	if len(a.on) > 0 {
		return nil
	}
	return []Gap{{plain.Say("never trained on this procedure"), Clause("(c)(7)(i)(A)")}}
}

func gapRunOut(a gapsAsked) []Gap {
	if !a.last.over(a.now) {
		return nil
	}
	return []Gap{{plain.Say("the training ran out on %s", plain.Day(a.last.Expires)), Clause("(c)(7)(iv)")}}
}

// trainedVersion is the newest version the person went through.
func (a gapsAsked) trainedVersion() int {
	newest := 0
	for _, t := range a.on {
		v, _ := t.names(a.p.ID)
		newest = max(newest, v)
	}
	return newest
}

// gapEnergies: a kind of energy that came with a later version is a new hazard;
// any other was never gone through.
func gapEnergies(a gapsAsked) []Gap {
	if len(a.on) == 0 {
		return nil
	}
	var covered, before []EnergyKind
	for _, t := range a.given {
		if !t.over(a.now) {
			covered = append(covered, t.EnergyKinds...)
		}
	}
	known := false
	for _, e := range a.Editions {
		if e.Procedure == a.p.ID && e.Version == a.trainedVersion() {
			before, known = e.Kinds, true
		}
	}
	var gaps []Gap
	for _, kind := range a.p.Kinds() {
		switch {
		case slices.Contains(covered, kind):
		case known && !slices.Contains(before, kind):
			gaps = append(gaps, Gap{plain.Say("a kind of energy that is new since the training: %s", kind.Words()), Clause("(c)(7)(iii)(A)")})
		default:
			gaps = append(gaps, Gap{plain.Say("the training didn't go through this kind of energy: %s", kind.Words()), Clause("(c)(7)(i)(A)")})
		}
	}
	return gaps
}

func gapTags(a gapsAsked) []Gap {
	if len(a.on) == 0 || !a.p.TagOnly() {
		return nil
	}
	for _, t := range a.given {
		if allTagPoints(t.TagPoints) && !t.over(a.now) {
			return nil
		}
	}
	return []Gap{{plain.Say("this procedure uses tags, and the training left out what tags can't do"), Clause("(c)(7)(ii)")}}
}

func gapSubstance(a gapsAsked) []Gap {
	if len(a.on) == 0 {
		return nil
	}
	for version := a.trainedVersion() + 1; version <= a.p.Version; version++ {
		wording := slices.ContainsFunc(a.Editions, func(e Edition) bool {
			return e.Procedure == a.p.ID && e.Version == version && e.Wording
		})
		if !wording {
			return []Gap{{plain.Say("version %[1]d changed what is done; trained on version %[2]d", version, a.trainedVersion()), Clause("(c)(7)(iii)(A)")}}
		}
	}
	return nil
}

func gapFound(a gapsAsked) []Gap {
	if len(a.on) == 0 {
		return nil
	}
	var gaps []Gap
	for _, in := range a.Inspections {
		if in.Procedure != a.p.ID || in.On.After(a.now) || a.retrained(in) {
			continue
		}
		for _, f := range in.Findings {
			if f.Person == a.Person && (f.Kind == Deviation || f.Kind == Knowledge) {
				gaps = append(gaps, Gap{plain.Say("the inspection of %[1]s found, and no training since: %[2]s", plain.Day(in.On), f.Said), Clause("(c)(7)(iii)(B)")})
			}
		}
	}
	return gaps
}

// retrained tells whether the person was trained on the procedure after it was
// inspected; on the same day, when that was entered after the certificate.
func (a gapsAsked) retrained(in ProcedureInspection) bool {
	return slices.ContainsFunc(a.on, func(t Training) bool {
		return t.On.After(in.On) || t.On.Equal(in.On) && t.At.After(in.At)
	})
}

// Affected is who runs a piece of equipment or works where it is serviced,
// 29 CFR 1910.147(b) "affected employee".
type Affected struct {
	Equipment EquipmentID `json:"equipment"`
	People    []PersonID  `json:"people"`
}

// PersonGap is a gap of one person.
type PersonGap struct {
	Person PersonID
	Gap
}

// AffectedGaps returns who of the affected people of eq wasn't trained, as an
// affected or authorized person, on any of its procedures, (c)(7)(i)(B). It is
// for showing: it stands in nobody's way.
func AffectedGaps(eq EquipmentID, affected []Affected, all []Procedure, trainings []Training, now time.Time) []PersonGap {
	var gaps []PersonGap
	for _, a := range affected {
		if a.Equipment != eq {
			continue
		}
		for _, person := range a.People {
			trained := slices.ContainsFunc(trainings, func(t Training) bool {
				return t.Person == person && t.Level != OtherLevel && !t.On.After(now) && !t.over(now) && t.reaches(eq, all)
			})
			if !trained {
				gaps = append(gaps, PersonGap{person, Gap{plain.Say("works at this equipment and wasn't told what its lockout is for and how it is used"), Clause("(c)(7)(i)(B)")}})
			}
		}
	}
	return gaps
}

// reaches tells whether t went through a procedure for eq.
func (t Training) reaches(eq EquipmentID, all []Procedure) bool {
	return slices.ContainsFunc(all, func(p Procedure) bool {
		_, named := t.names(p.ID)
		return named && slices.Contains(p.Equipment, eq)
	})
}

// MayBePresent tells whether somebody was told, at any level, of lockout and
// not to start what is locked, (c)(7)(i)(C). It is enough for being there and
// not for putting a lock on.
func MayBePresent(person PersonID, trainings []Training, now time.Time) bool {
	return slices.ContainsFunc(trainings, func(t Training) bool {
		return t.Person == person && slices.Contains(Levels(), t.Level) && !t.On.After(now) && !t.over(now)
	})
}
