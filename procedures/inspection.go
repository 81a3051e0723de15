package procedures

import (
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"stillsaw/procedures/plain"
)

// ProcedureInspectionID names one periodic inspection of a procedure.
type ProcedureInspectionID string

// FindingKind says what sort of thing an inspection of a procedure found wrong.
type FindingKind string

const (
	Deviation FindingKind = "deviation" // the procedure wasn't followed
	Knowledge FindingKind = "knowledge" // somebody didn't know it well enough
	WrongText FindingKind = "text"      // the procedure is wrong
	WrongGear FindingKind = "hardware"  // locks, tags, isolators, blocks
)

// FindingKinds returns every kind, in the order a form offers them.
func FindingKinds() []FindingKind { return []FindingKind{Deviation, Knowledge, WrongText, WrongGear} }

// Words names the kind.
func (k FindingKind) Words() plain.Sentence {
	switch k {
	case Deviation:
		return plain.Say("the procedure wasn't followed")
	case Knowledge:
		return plain.Say("somebody didn't know it well enough")
	case WrongText:
		return plain.Say("the procedure is wrong")
	case WrongGear:
		return plain.Say("locks, tags, isolators or blocks")
	}
	return plain.Say("not known")
}

// Finding is one thing found wrong and the action that follows from it,
// 29 CFR 1910.147(c)(6)(i)(B).
type Finding struct {
	Said   string      `json:"said"`
	Kind   FindingKind `json:"kind"`
	Person PersonID    `json:"person"` // whose deviation or gap in knowledge; trained again before the next lockout
	Owner  PersonID    `json:"owner"`  // who sees to it
	Due    time.Time   `json:"due"`
}

// Review is the inspector going over a person's responsibilities with them,
// alone or with others, (c)(6)(i)(C); or when that follows for somebody away.
type Review struct {
	Person   PersonID  `json:"person"`
	On       time.Time `json:"on,omitzero"`
	FollowUp time.Time `json:"follow_up,omitzero"` // away: the day it is made up for
}

// ProcedureInspection certifies that a procedure was inspected, (c)(6)(ii).
// Once signed it stays as it is; a later one stands beside it. Days are given
// as the moment they begin in the mill's zone.
type ProcedureInspection struct {
	ID        ProcedureInspectionID `json:"id"`
	Procedure ProcedureID           `json:"procedure"`
	Version   int                   `json:"version"`
	Equipment []EquipmentID         `json:"equipment"`
	Watched   LockoutID             `json:"watched"`            // the lockout that was watched, "" when it was gone through without one
	ShownBy   PersonID              `json:"shown_by,omitzero"`  // without one: the authorized person who showed every step at the machine
	WhyLater  string                `json:"why_later,omitzero"` // why the day of the inspection is after the end of what was watched
	On        time.Time             `json:"on"`
	Inspector PersonID              `json:"inspector"` // "" for one from outside
	Outside   string                `json:"outside"`   // name of an authorized person from outside
	Firm      string                `json:"firm"`      // whom that one works for
	Reviewed  []Review              `json:"reviewed"`  // authorized people
	Affected  []Review              `json:"affected"`  // affected people, where tags are used
	TagLimits []TagPoint            `json:"tag_limits"`
	Findings  []Finding             `json:"findings"`
	By        PersonID              `json:"by"` // who signed the entry: the inspector, or a supervisor for one from outside
	At        time.Time             `json:"at"`
}

// InspectionFacts is what a certificate is held against.
type InspectionFacts struct {
	Mill      string    // its own name: nobody from outside works for it
	Procedure Procedure // the version inspected
	People    []Person
	Trainings []Training
	Affected  []Affected
	Editions  []Edition // of the procedure; an unknown one between counts as of substance
	Watched   *Lockout  // the lockout watched, nil without one
	Used      []Lockout // lockouts by the procedure since the last inspection
}

// AuthorizedFor returns the mill's own people who may lock out by p as far as
// anybody said: recorded as authorized and, once the mill has entered any
// training, trained on some version of it. A gap since takes nobody off.
func AuthorizedFor(p Procedure, people []Person, trainings []Training) []PersonID {
	var ids []PersonID
	for _, one := range people {
		if !one.Works() || !one.Authorized || one.Firm != "" {
			continue
		}
		trained := slices.ContainsFunc(trainings, func(t Training) bool {
			_, named := t.names(p.ID)
			return named && t.Person == one.ID && t.Level == AuthorizedLevel
		})
		if trained || len(trainings) == 0 {
			ids = append(ids, one.ID)
		}
	}
	return ids
}

// Participants returns everybody who was on the job, had a lock on it or reported
// anything in it, each once: the electrician who measured, and the supervisor who
// took a lock off, used the procedure too.
func (l Lockout) Participants() []PersonID {
	var ids []PersonID
	for _, m := range l.Members {
		if !slices.Contains(ids, m.Person) {
			ids = append(ids, m.Person)
		}
	}
	for _, lock := range l.Locks {
		if !slices.Contains(ids, lock.Owner) {
			ids = append(ids, lock.Owner)
		}
	}
	for _, took := range l.Took() {
		if !slices.Contains(ids, took) {
			ids = append(ids, took)
		}
	}
	return ids
}

// MayHaveWatched tells whether l shows how the procedure is used: it went by the
// version inspected, or by one from which only words changed since, and came as far
// as a proof at zero.
func (f InspectionFacts) MayHaveWatched(l Lockout) bool {
	return l.Procedure.ID == f.Procedure.ID && f.sameWork(l.Procedure.Version) &&
		slices.ContainsFunc(l.Events, func(e Event) bool {
			s, _ := l.Procedure.step(e.Step)
			return e.Kind == StepDone && s.Stage == Verify
		})
}

// sameWork tells whether nothing but words changed since that version.
func (f InspectionFacts) sameWork(version int) bool {
	for ; version < f.Procedure.Version; version++ {
		wording := slices.ContainsFunc(f.Editions, func(e Edition) bool {
			return e.Procedure == f.Procedure.ID && e.Version == version+1 && e.Wording
		})
		if !wording {
			return false
		}
	}
	return version == f.Procedure.Version
}

// certified is a certificate about to be signed.
type certified struct {
	InspectionFacts
	in  ProcedureInspection
	by  Person
	now time.Time
}

func (f InspectionFacts) person(id PersonID) (Person, bool) {
	i := slices.IndexFunc(f.People, func(p Person) bool { return p.ID == id })
	if i < 0 {
		return Person{}, false
	}
	return f.People[i], true
}

// AffectedHere returns the affected people of the procedure's equipment who
// haven't left, each once: where tags are used it is gone over with them too,
// 29 CFR 1910.147(c)(6)(i)(D).
func (f InspectionFacts) AffectedHere() []PersonID {
	var ids []PersonID
	for _, a := range f.Affected {
		if !slices.Contains(f.Procedure.Equipment, a.Equipment) {
			continue
		}
		for _, id := range a.People {
			if p, ok := f.person(id); ok && !p.Left && !slices.Contains(ids, id) {
				ids = append(ids, id)
			}
		}
	}
	return ids
}

// Certify returns in signed by by at now, 29 CFR 1910.147(c)(6)(ii). Its error
// is a [plain.Refusal] for an inspector who may not be one, else a
// [plain.Problems] for the fields "watched", "equipment", "on", "why_later", "shown_by",
// "outside", "firm", "tag_limits", "reviewed." and "affected." followed by the person, and
// "findings." followed by the finding's number from 1 and its field.
func (in ProcedureInspection) Certify(f InspectionFacts, by Person, now time.Time) (ProcedureInspection, error) {
	in.Procedure, in.Version, in.By, in.At = f.Procedure.ID, f.Procedure.Version, by.ID, now
	in.Watched = ""
	if f.Watched != nil {
		in.Watched = f.Watched.ID
	}
	c := certified{f, in, by, now}
	if err := refusedBy(inspectorRules(), c); err != nil {
		return ProcedureInspection{}, err
	}
	if err := problemsBy(certificateRules(), c); err != nil {
		return ProcedureInspection{}, err
	}
	return in, nil
}

func inspectorRules() []rule[certified, error] {
	clause := Clause("(c)(6)(i)(A)")
	return []rule[certified, error]{
		{"own signature", func(c certified) error {
			if c.in.Inspector == "" && !c.by.Supervises() {
				return plain.Refuse(clause, "What somebody from outside inspected is entered by a supervisor or deputy.")
			}
			if c.in.Inspector != "" && c.in.Inspector != c.by.ID {
				return plain.Refuse(clause, "Whoever inspected signs it. Sign in as yourself.")
			}
			return nil
		}},
		{"inspector authorized", func(c certified) error {
			p, _ := c.person(c.in.Inspector)
			if c.in.Inspector != "" && (!p.Works() || !p.Authorized) {
				return plain.Refuse(clause, "Only somebody recorded as authorized to lock out inspects a procedure.")
			}
			return nil
		}},
		{"inspector not on the job", func(c certified) error {
			if c.Watched == nil || c.in.Inspector == "" || !slices.Contains(c.Watched.Participants(), c.in.Inspector) {
				return nil
			}
			return plain.Refuse(clause, "Who was on the lockout can't be the one who inspects it. %s", c.who())
		}},
		{"inspector not the only user", func(c certified) error {
			others := len(c.Used) == 0 && len(c.toReview()) > 0
			for _, l := range c.Used {
				others = others || slices.ContainsFunc(l.Participants(), func(id PersonID) bool { return id != c.in.Inspector })
			}
			if c.in.Inspector == "" || others {
				return nil
			}
			return plain.Refuse(clause, "Nobody else uses this procedure, and its only user can't inspect it. %s", c.who())
		}},
	}
}

// MayInspect returns nil when by may inspect the procedure, the refusal that
// [ProcedureInspection.Certify] would give otherwise.
func (f InspectionFacts) MayInspect(by Person) error {
	return refusedBy(inspectorRules(), certified{InspectionFacts: f, in: ProcedureInspection{Inspector: by.ID}, by: by})
}

// who could inspect instead.
func (c certified) who() plain.Sentence {
	for _, p := range c.People {
		if p.Works() && p.Authorized && p.ID != c.in.Inspector && (c.Watched == nil || !slices.Contains(c.Watched.Participants(), p.ID)) {
			return plain.Say("Another authorized person does: %s.", p.Name)
		}
	}
	return plain.Say("There is no other authorized person here: bring one in from outside, and enter their name and firm.")
}

func certificateRules() []rule[certified, plain.Problems] {
	return []rule[certified, plain.Problems]{
		{"machine named", func(c certified) plain.Problems {
			return want(len(c.in.Equipment) > 0 && !slices.ContainsFunc(c.in.Equipment, func(id EquipmentID) bool { return !slices.Contains(c.Procedure.Equipment, id) }),
				"equipment", plain.Say("the equipment it was inspected at, of this procedure, 29 CFR 1910.147(c)(6)(ii)"))
		}},
		{"date given", func(c certified) plain.Problems {
			return want(!c.in.On.IsZero() && !c.in.On.After(c.now), "on", plain.Say("the day of the inspection, today or before, 29 CFR 1910.147(c)(6)(ii)"))
		}},
		{"day of what was watched", dayProblems},
		{"watched by this version", func(c certified) plain.Problems {
			return want(c.Watched == nil || c.MayHaveWatched(*c.Watched), "watched",
				plain.Say("a lockout by this version, or by one from which only words changed since, that came to a proof at zero; else none, and somebody shows every step at the machine, 29 CFR 1910.147(c)(6)(i)"))
		}},
		{"watched or shown", func(c certified) plain.Problems {
			if c.Watched != nil {
				return nil
			}
			met := slices.ContainsFunc(c.in.Reviewed, func(r Review) bool { return r.Person == c.in.ShownBy && !r.On.IsZero() })
			return want(met && slices.Contains(c.toReview(), c.in.ShownBy), "shown_by",
				plain.Say("the authorized person who showed every step at the machine, and with whom it was gone over: without a lockout to watch the inspector sees it done by somebody else, 29 CFR 1910.147(c)(6)(i)(A)"))
		}},
		{"outsider is none of the crew", outsiderProblems},
		{"inspector named", func(c certified) plain.Problems {
			if c.in.Inspector != "" {
				return want(c.in.Outside == "" && c.in.Firm == "", "outside", plain.Say("nothing here when one of the crew inspected"))
			}
			return append(want(!blank(c.in.Outside) && len(c.in.Outside) <= longestName, "outside", plain.Say("the name of the authorized person who inspected, 29 CFR 1910.147(c)(6)(ii)")),
				want(!blank(c.in.Firm) && len(c.in.Firm) <= longestName, "firm", plain.Say("whom they work for"))...)
		}},
		{"employees included", func(c certified) plain.Problems {
			return want(slices.ContainsFunc(c.in.Reviewed, func(r Review) bool { return !r.On.IsZero() }), "reviewed", plain.Say("whom it was gone over with, 29 CFR 1910.147(c)(6)(ii)"))
		}},
		{"each authorized person reviewed", func(c certified) plain.Problems {
			return c.reviews("reviewed.", c.toReview(), c.in.Reviewed, plain.Say("the day it was gone over with them, or the day that follows for somebody away, 29 CFR 1910.147(c)(6)(i)(C)"))
		}},
		{"each affected person reviewed where tags are used", func(c certified) plain.Problems {
			if !c.Procedure.TagOnly() {
				return nil
			}
			return c.reviews("affected.", c.AffectedHere(), c.in.Affected, plain.Say("the day it was gone over with them, or the day that follows for somebody away: this procedure uses tags, 29 CFR 1910.147(c)(6)(i)(D)"))
		}},
		{"limits of tags where they are used", func(c certified) plain.Problems {
			return want(!c.Procedure.TagOnly() || allTagPoints(c.in.TagLimits), "tag_limits", plain.Say("all six: what tags can't do is gone over too, 29 CFR 1910.147(c)(6)(i)(D)"))
		}},
		{"each finding an action", findingProblems},
	}
}

// dayProblems holds the day of the inspection against the lockout that was
// watched: not before it began, and after its end only with a reason.
func dayProblems(c certified) plain.Problems {
	if c.Watched == nil || c.in.On.IsZero() {
		return nil
	}
	ended := c.Watched.Ended
	if c.Watched.Open() {
		ended = c.now
	}
	return append(want(c.Watched.Begun.Before(c.in.On.AddDate(0, 0, 1)), "on", plain.Say("the day of the lockout that was watched, or a later one: it began %s", plain.Day(c.Watched.Begun))),
		want(!c.in.On.After(ended) || !blank(c.in.WhyLater) && len(c.in.WhyLater) <= longestText, "why_later", plain.Say("why it was inspected on a later day than the lockout was watched"))...)
}

// outsiderProblems refuses as somebody from outside whoever is of the crew: they
// sign their own inspection, or use the procedure and may not inspect it.
func outsiderProblems(c certified) plain.Problems {
	if c.in.Inspector != "" {
		return nil
	}
	crew := slices.ContainsFunc(c.People, func(p Person) bool { return !p.Left && sameName(p.Name, c.in.Outside) })
	return append(want(!crew, "outside", plain.Say("somebody who isn't of this mill: a person of that name is entered here, and signs in to inspect, 29 CFR 1910.147(c)(6)(i)(A)")),
		want(blank(c.in.Firm) || !sameName(c.in.Firm, c.Mill), "firm", plain.Say("another firm than this mill: its own people aren't from outside"))...)
}

// sameName compares names as people read them: without regard to capitals, or to
// blanks and stops between the words.
func sameName(a, b string) bool {
	words := func(s string) string {
		return strings.ToLower(strings.Join(strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " "))
	}
	return words(a) == words(b)
}

// toReview are the authorized people but for the inspector, who knows.
func (c certified) toReview() []PersonID {
	return slices.DeleteFunc(AuthorizedFor(c.Procedure, c.People, c.Trainings), func(id PersonID) bool { return id == c.in.Inspector })
}

func (c certified) reviews(field string, people []PersonID, given []Review, said plain.Sentence) plain.Problems {
	var bad plain.Problems
	for _, id := range people {
		done := slices.ContainsFunc(given, func(r Review) bool {
			met := !r.On.IsZero() && !r.On.After(c.now)
			follows := r.On.IsZero() && r.FollowUp.After(c.in.On)
			return r.Person == id && (met || follows)
		})
		bad = append(bad, want(done, field+string(id), said)...)
	}
	return bad
}

func findingProblems(c certified) plain.Problems {
	var bad plain.Problems
	for i, f := range c.in.Findings {
		field := "findings." + strconv.Itoa(i+1) + "."
		bad = append(bad, want(!blank(f.Said) && len(f.Said) <= longestText, field+"said", plain.Say("what was found"))...)
		bad = append(bad, want(slices.Contains(FindingKinds(), f.Kind), field+"kind", plain.Say("a kind from the list"))...)
		owner, ok := c.person(f.Owner)
		bad = append(bad, want(ok && owner.Works(), field+"owner", plain.Say("who of the crew sees to it, 29 CFR 1910.147(c)(6)(i)(B)"))...)
		bad = append(bad, want(!f.Due.Before(c.in.On) && !f.Due.IsZero(), field+"due", plain.Say("by when, 29 CFR 1910.147(c)(6)(i)(B)"))...)
		_, named := c.person(f.Person)
		bad = append(bad, want(named || f.Kind == WrongText || f.Kind == WrongGear, field+"person", plain.Say("whose: they are trained again before their next lockout, 29 CFR 1910.147(c)(7)(iii)(B)"))...)
	}
	return bad
}
