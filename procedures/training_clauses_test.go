package procedures

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/procedures/plain"
)

// clauseRow is one row of the clause table: what of 29 CFR 1910.147 it is, the
// test that shows it with known answers, and every rule that enforces it with an
// act against it. Rules are looked at one by one: with the rule the act is
// refused, on a copy of the rules without it the act passes.
type clauseRow struct {
	clause, test string
	broken       []brokenRule
}

type brokenRule struct {
	name    string
	refused func(without string) bool
}

func without[C, R any](rules []rule[C, R], name string) []rule[C, R] {
	return slices.DeleteFunc(slices.Clone(rules), func(r rule[C, R]) bool { return r.name == name })
}

func trainingBroken(name string, t Training, by Person) brokenRule {
	return brokenRule{name, func(left string) bool {
		asked := trainingAsked{t, by, shiftDay}
		return refusedBy(without(trainerRules(), left), asked) != nil || problemsBy(without(trainingRules(), left), asked) != nil
	}}
}

func gapBroken(name string, k Learned, p Procedure) brokenRule {
	return brokenRule{name, func(left string) bool { return len(gapsBy(without(gapRules(), left), k.asked(p, shiftDay))) > 0 }}
}

func certificateBroken(name string, c certified) brokenRule {
	return brokenRule{name, func(left string) bool {
		return refusedBy(without(inspectorRules(), left), c) != nil || problemsBy(without(certificateRules(), left), c) != nil
	}}
}

func lockBroken(name string, item LockItem) brokenRule {
	return brokenRule{name, func(left string) bool {
		return refusedBy(without(lockRules(), left), lockAsked{item, annOp, redLocks()}) != nil
	}}
}

func programBroken(name string, p Program) brokenRule {
	return brokenRule{name, func(left string) bool {
		return problemsBy(without(programRules(), left), programAsked{p, crewOfTwo(), nil}) != nil
	}}
}

func gateBroken(name string, a gateAsked) brokenRule {
	return brokenRule{name, func(left string) bool { return refusedBy(without(gateRules(), left), a) != nil }}
}

func besideBroken(name string, a besideAsked) brokenRule {
	return brokenRule{name, func(left string) bool { return len(gapsOf(without(besideRules(), left), a)) > 0 }}
}

func lightBroken(name string, a lightAsked) brokenRule {
	return brokenRule{name, func(left string) bool { return !lightsBy(without(lightRules(), left), a).Ready() }}
}

// trainingClauses is the part of the clause table that training, inspection,
// locks, contractors, program and gate answer.
func trainingClauses() []clauseRow {
	p := hoistProcedure()
	good := goodTraining(p)
	changed := func(change func(*Training)) Training { t := goodTraining(p); change(&t); return t }
	cert := func(change func(*certified)) certified { c := goodCertificate(p); change(&c); return c }
	item := func(change func(*LockItem)) LockItem { l := goodLock(); change(&l); return l }
	program := func(change func(*Program)) Program { q := redLocks(); change(&q); return q }
	gate := func(change func(*gateAsked)) gateAsked {
		a := gateAsked{Standing: goodStanding(p), p: p, joins: true, goes: true, now: shiftDay}
		change(&a)
		return a
	}
	learned := func(trainings ...Training) Learned { return Learned{Person: annOp.ID, Trainings: trainings} }
	light := func(change func(*lightAsked)) lightAsked {
		a := lightAsked{p: p, trained: []Learned{learned(good)}, due: InspectionDue{State: DueLater}, now: shiftDay}
		change(&a)
		return a
	}
	return []clauseRow{
		{"(a)(1)(ii)(A)–(E)", "TestLawChangesWhatIsPrintedAndNothingElse", []brokenRule{
			programBroken("law", program(func(p *Program) { p.Law = "" }))}},
		{"(a)(3)(i)", "TestProgramSaysWhatTheRuleAsksFor", []brokenRule{
			programBroken("scope", program(func(p *Program) { p.Scope = " " })),
			programBroken("who is in charge", program(func(p *Program) { p.InCharge = "nobody" })),
			programBroken("affected people of this mill", program(func(p *Program) { p.Affected = []Affected{{Equipment: "gone"}} }))}},
		{"(b) affected employee", "TestAffectedPersonWithoutTrainingShowsAsAGap", nil},
		{"(b) authorized employee", "TestNobodyBeginsWithoutTrainingAndTheSupervisorsWord", []brokenRule{
			gateBroken("authorized", gate(func(a *gateAsked) { a.Person.Authorized = false })),
			gateBroken("trained", gate(func(a *gateAsked) { a.Learned.Trainings = nil }))}},
		{"(c)(1)", "TestProcedureShowsItsThreeLights", []brokenRule{
			lightBroken("written", light(func(a *lightAsked) { a.p.Version = 0 })),
			lightBroken("trained", light(func(a *lightAsked) { a.trained = nil })),
			lightBroken("inspected", light(func(a *lightAsked) { a.due = InspectionDue{} }))}},
		{"(c)(5)(i)", "TestLockNobodyHasIsRegisteredAtFirstUse", nil},
		{"(c)(5)(ii)", "TestLockThatMayNotBeUsedIsRefusedWithItsClause", []brokenRule{
			lockBroken("not retired", item(func(l *LockItem) { l.Retired = shiftDay })),
			lockBroken("for energy control only", item(func(l *LockItem) { l.OnlyHere = false }))}},
		{"(c)(5)(ii)(A)(1)", "TestLockThatMayNotBeUsedIsRefusedWithItsClause", []brokenRule{
			lockBroken("in good condition", item(func(l *LockItem) { l.Condition = "" }))}},
		{"(c)(5)(ii)(B)", "TestLockThatMayNotBeUsedIsRefusedWithItsClause", []brokenRule{
			lockBroken("of the mill's colour", item(func(l *LockItem) { l.Colour = "blue" })),
			programBroken("one look of locks and tags", program(func(p *Program) { p.LockColour = "" }))}},
		{"(c)(5)(ii)(C)(1)", "TestTieIsNoLock", []brokenRule{
			lockBroken("substantial", item(func(l *LockItem) { l.Kind = Combination }))}},
		{"(c)(5)(ii)(D)", "TestLockThatMayNotBeUsedIsRefusedWithItsClause", []brokenRule{
			lockBroken("own lock", item(func(l *LockItem) { l.Owner = benOp.ID })),
			gateBroken("own good lock", gate(func(a *gateAsked) { a.locks = []string{"B-1"} }))}},
		{"(c)(6)(i)", "TestInspectionFallsDueAYearAfterTheLast", []brokenRule{
			lightBroken("inspected", light(func(a *lightAsked) {
				a.due = NextInspection(p.ID, shiftDay.AddDate(0, 0, -366), nil, []time.Time{shiftDay.AddDate(0, 0, -1)}, shiftDay)
			}))}},
		{"(c)(6)(i) infrequent use", "TestProcedureNotUsedForAYearIsInspectedAtItsNextUse", nil},
		{"(c)(6)(i)(A)", "TestOnlyAnotherAuthorizedPersonInspects", []brokenRule{
			certificateBroken("own signature", cert(func(c *certified) { c.by = samSup })),
			certificateBroken("inspector authorized", cert(func(c *certified) { c.in.Inspector, c.by = "cal", calOp })),
			certificateBroken("inspector not on the job", cert(func(c *certified) { c.Watched.Members = append(c.Watched.Members, Member{Person: benOp.ID}) })),
			certificateBroken("outsider is none of the crew", cert(func(c *certified) {
				c.in.Inspector, c.by, c.in.Outside, c.in.Firm = "", samSup, "Ben", "Firth Safety"
				c.in.Reviewed = append(c.in.Reviewed, Review{Person: benOp.ID, On: c.in.On})
			})),
			certificateBroken("watched or shown", cert(func(c *certified) { c.Watched = nil })),
			certificateBroken("watched by this version", cert(func(c *certified) { c.Watched.Procedure.Version-- })),
			certificateBroken("watched by this version", cert(func(c *certified) { c.Watched.Events = c.Watched.Events[:1] })),
			certificateBroken("inspector not on the job", cert(func(c *certified) {
				c.Watched.Events = append(c.Watched.Events, Event{Kind: LockTaken, Person: benOp.ID})
			})),
			certificateBroken("inspector not the only user", cert(func(c *certified) { c.Used = []Lockout{{Members: []Member{{Person: benOp.ID}}}} }))}},
		{"(c)(6)(i)(B)", "TestFindingBecomesAnAction", []brokenRule{
			certificateBroken("each finding an action", cert(func(c *certified) { c.in.Findings = []Finding{{Said: "worn hasp", Kind: WrongGear}} }))}},
		{"(c)(6)(i)(C)", "TestCertificateNeedsEveryAuthorizedPersonReviewed", []brokenRule{
			certificateBroken("each authorized person reviewed", cert(func(c *certified) { c.in.Reviewed[0].Person = "sam" }))}},
		{"(c)(6)(i)(D)", "TestCertificateForTagsNeedsAffectedPeopleAndLimits", []brokenRule{
			certificateBroken("each affected person reviewed where tags are used", tagCertificate(func(c *certified) { c.in.Affected = nil })),
			certificateBroken("limits of tags where they are used", tagCertificate(func(c *certified) { c.in.TagLimits = c.in.TagLimits[:5] }))}},
		{"(c)(6)(ii)", "TestCertificateIsRefusedWithOneOfItsFourContentsMissing", []brokenRule{
			certificateBroken("machine named", cert(func(c *certified) { c.in.Equipment = nil })),
			certificateBroken("date given", cert(func(c *certified) { c.in.On = time.Time{} })),
			certificateBroken("day of what was watched", cert(func(c *certified) { c.Watched.Begun = shiftDay.AddDate(0, 0, 1) })),
			certificateBroken("inspector named", cert(func(c *certified) { c.in.Inspector, c.by, c.in.Outside = "", samSup, "Jo Firth" })),
			certificateBroken("employees included", cert(func(c *certified) {
				c.in.Reviewed = []Review{{Person: annOp.ID, FollowUp: shiftDay.AddDate(0, 0, 7)}}
			}))}},
		{"(c)(7)(i)", "TestTrainingSaysWhoWhatAndWhen", []brokenRule{
			trainingBroken("person and level", changed(func(t *Training) { t.Level = "" }), samSup),
			trainingBroken("procedures named", changed(func(t *Training) { t.Procedures = nil }), samSup)}},
		{"(c)(7)(i)(A)", "TestNobodyBeginsWithoutEveryEnergyKindCovered", []brokenRule{
			trainingBroken("energies listed", changed(func(t *Training) { t.EnergyKinds = nil }), samSup),
			gapBroken("trained on the procedure", learned(), p),
			gapBroken("energies covered", learned(changed(func(t *Training) { t.EnergyKinds = t.EnergyKinds[1:] })), p)}},
		{"(c)(7)(i)(B)", "TestAffectedPersonWithoutTrainingShowsAsAGap", nil},
		{"(c)(7)(i)(C)", "TestBeingToldIsEnoughForPresenceAndNotForALock", []brokenRule{
			gapBroken("trained on the procedure", learned(changed(func(t *Training) { t.Level = OtherLevel })), p)}},
		{"(c)(7)(ii)(A)–(F)", "TestTagTrainingNeedsAllSixPoints", []brokenRule{
			trainingBroken("six tag points", changed(func(t *Training) { t.Tags, t.TagPoints = true, TagPoints()[:5] }), samSup),
			gapBroken("tags covered", learned(good), tagProcedure())}},
		{"(c)(7)(iii)(A)", "TestChangeOfSubstanceUntrainsAndOfWordingDoesNot", []brokenRule{
			gapBroken("substance unchanged", learned(good), version(p, 2))}},
		{"(c)(7)(iii)(B)", "TestFindingSuspendsUntilRetrained", []brokenRule{
			gapBroken("no deviation found since", Learned{Person: annOp.ID, Trainings: []Training{good}, Inspections: []ProcedureInspection{found(p, Deviation)}}, p)}},
		{"(c)(7)(iii)(C)", "TestTrainingSaysWhoWhatAndWhen", []brokenRule{
			trainingBroken("retraining says what", changed(func(t *Training) { t.Again, t.Covered = true, "" }), samSup)}},
		{"(c)(7)(iv)", "TestTrainingSaysWhoWhatAndWhen", []brokenRule{
			trainingBroken("dates", changed(func(t *Training) { t.On = shiftDay.AddDate(0, 0, 1) }), samSup),
			trainingBroken("trainer", changed(func(t *Training) { t.Trainer = "" }), samSup),
			trainingBroken("a supervisor enters training", changed(func(t *Training) { t.Level = AffectedLevel }), annOp),
			trainingBroken("a deputy makes nobody authorized", good, depOp),
			gapBroken("training not run out", learned(changed(func(t *Training) { t.Expires = shiftDay }), goodAffected()), justTrained(p))}},
		{"(c)(8)", "TestNobodyBeginsWithoutTrainingAndTheSupervisorsWord", []brokenRule{
			gateBroken("authorized", gate(func(a *gateAsked) { a.Person.Left = true }))}},
		{"(e)(3) Exception", "TestAbsentPersonsLockStaysWhereNoProcedureIsWritten", []brokenRule{
			gateBroken("absent owner's procedure written", gate(func(a *gateAsked) { a.takes, a.Program.AbsentOwner = true, "" }))}},
		{"(e)(3)(iii)", "TestNobodyGoesToWorkBeforeBeingToldOfTheOwnLock", []brokenRule{
			gateBroken("told of the own lock", gate(func(a *gateAsked) { a.Locks[0].Untold = "l0" }))}},
		{"(f)(1)(ii)", "TestNoPowerForATestWhileAnotherLockoutHasALockOn", []brokenRule{
			gateBroken("no lock of another lockout where power comes", gate(func(a *gateAsked) {
				a.power, a.Others = true, []Lockout{{ID: "l2", Procedure: p, Locks: []Lock{{Number: "B-1", Owner: benOp.ID, Device: p.Devices[0].ID}}}}
			}))}},
		{"(f)(1)(ii)", "TestNobodyComesWhereAnotherLockoutHasPowerForATest", []brokenRule{
			gateBroken("no other lockout under power that reaches here", gate(func(a *gateAsked) {
				a.enters, a.Others = true, []Lockout{{ID: "l2", Procedure: p, Test: TestEnergized}}
			}))}},
		{"(f)(3)(i)", "TestABlockStaysInWhileAnotherLockoutCountsOnIt", []brokenRule{
			gateBroken("nothing given back that another lockout counts on", gate(func(a *gateAsked) {
				in := Step{ID: "in", Stage: Relieve, Device: "chocks"}
				a.gives, a.device = true, "chocks"
				a.Others = []Lockout{{ID: "l2", Procedure: Procedure{Steps: []Step{in}}, Stage: Work, Done: map[StepID]Event{"in": {}}}}
			}))}},
		{"(c)(4)(i)", "TestNobodyGoesToWorkNowByAVersionThatChangedSince", []brokenRule{
			gateBroken("version in force", gate(func(a *gateAsked) {
				a.enters, a.Learned.Editions = true, []Edition{{Procedure: p.ID, Version: 2}}
			}))}},
		{"(c)(5)(ii)", "TestALockEnteredLateIsHeldAgainstLockoutsThatAreOver", []brokenRule{
			besideBroken("one lock in one place", besideAsked{Lockout{ID: "l1", Procedure: Procedure{ID: "elsewhere"}}, Event{Kind: Joined, Lock: "A-1", At: shiftDay}, []Lockout{overAt(p)}})}},
		{"(f)(3)(ii)(C)", "TestALockoutEnteredLateIsHeldAgainstLockoutsThatAreOver", []brokenRule{
			besideBroken("coordinated with what is over", besideAsked{Lockout{ID: "l1", Procedure: p}, Event{Kind: Began, At: shiftDay}, []Lockout{overAt(p)}})}},
		{"(f)(2)(i)", "TestContractorJoinsOnlyAfterTheExchange", []brokenRule{
			gateBroken("procedures exchanged", gate(func(a *gateAsked) { a.Person.Firm = "Brightwater" }))}},
		{"(f)(2)(ii)", "TestOwnPeopleNotBriefedShowAsAGap", nil},
		{"A-0", "TestProgramSaysWhatTheRuleAsksFor", []brokenRule{
			programBroken("purpose", program(func(p *Program) { p.Purpose = "" })),
			programBroken("duty", program(func(p *Program) { p.Duty = "" })),
			programBroken("enforcement", program(func(p *Program) { p.Enforcement = "" }))}},
	}
}

// justTrained is p with no energy, so that only the date of a training counts.
func justTrained(p Procedure) Procedure { p.Energies = nil; return p }

func TestEachClauseOfTrainingFailsWithoutItsRule(t *testing.T) {
	for _, row := range trainingClauses() {
		for _, b := range row.broken {
			require.True(t, b.refused(""), "%s: %s refuses", row.clause, b.name)
			require.False(t, b.refused(b.name), "%s: without %q it passes", row.clause, b.name)
		}
	}
}

func TestEachRuleOfTrainingStandsBehindAClause(t *testing.T) {
	var shown, all []string
	for _, row := range trainingClauses() {
		for _, b := range row.broken {
			shown = append(shown, b.name)
		}
	}
	all = append(append(append(all, names(trainerRules())...), names(trainingRules())...), names(gapRules())...)
	all = append(append(append(all, names(inspectorRules())...), names(certificateRules())...), names(lockRules())...)
	all = append(append(append(all, names(programRules())...), names(gateRules())...), names(lightRules())...)
	all = append(all, names(besideRules())...)
	for _, name := range all {
		if strings.HasSuffix(name, "fit") || strings.HasSuffix(name, "fits") {
			continue // bounds of what is typed, no clause
		}
		require.Contains(t, shown, name)
	}
}

func names[C, R any](rules []rule[C, R]) []string {
	var list []string
	for _, r := range rules {
		list = append(list, r.name)
	}
	return list
}

func TestEachTestOfTheClauseTableExists(t *testing.T) {
	source := ""
	for _, file := range []string{"training_test.go", "inspection_test.go", "locks_test.go", "program_test.go", "gate_test.go", "besideended_test.go"} {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		source += string(text)
	}
	for _, row := range trainingClauses() {
		require.Regexp(t, regexp.MustCompile(`(?m)^func `+row.test+`\(`), source, row.clause)
	}
}

// What the tests of these clauses start from.

var (
	shiftDay = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	annOp    = Person{ID: "ann", Name: "Ann", Role: Operator, Authorized: true}
	benOp    = Person{ID: "ben", Name: "Ben", Role: Operator, Authorized: true}
	calOp    = Person{ID: "cal", Name: "Cal", Role: Operator}
	depOp    = Person{ID: "dep", Name: "Dep", Role: Operator, Deputy: true}
	samSup   = Person{ID: "sam", Name: "Sam", Role: Supervisor}
)

func crewOfTwo() []Person { return []Person{annOp, benOp, calOp, samSup} }

func hoistProcedure() Procedure {
	answers := Answers{Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, Hoist: "electric", Collector: "cyclone"}
	for _, p := range StarterProcedures(StarterPlant(answers), answers) {
		if p.ID == "hoist" {
			return version(p, 1)
		}
	}
	return Procedure{}
}

func version(p Procedure, v int) Procedure { p.Version = v; return p }

// tagProcedure is the hoist's with one device that takes no lock.
func tagProcedure() Procedure {
	p := hoistProcedure()
	p.Devices = slices.Clone(p.Devices)
	for i := range p.Devices {
		p.Devices[i].Lockable = false
	}
	return p
}

func goodTraining(p Procedure) Training {
	return Training{ID: "t1", Person: annOp.ID, Level: AuthorizedLevel, Procedures: []TrainedOn{{p.ID, 1}}, EnergyKinds: p.Kinds(),
		Trainer: "Sam", On: shiftDay.AddDate(0, 0, -30), By: samSup.ID, At: shiftDay.AddDate(0, 0, -30)}
}

// goodAffected is a training that lets nobody lock out.
func goodAffected() Training {
	t := goodTraining(hoistProcedure())
	t.ID, t.Level = "t2", AffectedLevel
	return t
}

func found(p Procedure, kind FindingKind) ProcedureInspection {
	return ProcedureInspection{ID: "i1", Procedure: p.ID, Version: p.Version, On: shiftDay.AddDate(0, 0, -7), At: shiftDay.AddDate(0, 0, -7),
		Findings: []Finding{{Said: "tried the start before the locks", Kind: kind, Person: annOp.ID, Owner: samSup.ID, Due: shiftDay}}}
}

// goodCertificate: Ben watched Ann and went over it with her.
func goodCertificate(p Procedure) certified {
	facts := InspectionFacts{Procedure: p, People: crewOfTwo(), Watched: watchedBy(p, annOp.ID),
		Trainings: []Training{goodTraining(p)}}
	return certified{InspectionFacts: facts, by: benOp, now: shiftDay, in: ProcedureInspection{ID: "i1", Procedure: p.ID, Version: 1, Equipment: []EquipmentID{"hoist"},
		On: shiftDay.AddDate(0, 0, -1), Inspector: benOp.ID, Reviewed: []Review{{Person: annOp.ID, On: shiftDay.AddDate(0, 0, -1)}}}}
}

// watchedBy is a lockout by p that came to a proof at zero, all by one person.
func watchedBy(p Procedure, who PersonID) *Lockout {
	p.Steps = append(slices.Clone(p.Steps), Step{ID: "at-zero", Stage: Verify})
	return &Lockout{ID: "l1", Procedure: p, Begun: shiftDay.Add(-20 * time.Hour), Members: []Member{{Person: who}},
		Events: []Event{{Kind: Began, Person: who}, {Kind: StepDone, Step: "at-zero", Person: who}}}
}

// tagCertificate is one of a procedure that hangs tags, changed.
func tagCertificate(change func(*certified)) certified {
	c := goodCertificate(tagProcedure())
	c.InspectionFacts.Affected = []Affected{{Equipment: "hoist", People: []PersonID{calOp.ID}}}
	c.in.Affected, c.in.TagLimits = []Review{{Person: calOp.ID, On: c.in.On}}, TagPoints()
	change(&c)
	return c
}

func goodLock() LockItem {
	return LockItem{Number: "A-1", Kind: KeyedPadlock, Colour: "red", Owner: annOp.ID, OnlyHere: true, Condition: LockGood, Issued: shiftDay.AddDate(-1, 0, 0)}
}

func redLocks() Program {
	return Program{Purpose: "nobody is hurt while mending", Duty: "everybody keeps to it", InCharge: samSup.ID, Scope: "all of the mill", Enforcement: "a talk, then home",
		Law: LawUSFederal, AbsentOwner: "look, telephone, sign", LockColour: "red", TagStandard: "red and white, printed", At: shiftDay}
}

func goodStanding(p Procedure) Standing {
	other := goodLock()
	other.Number, other.Owner = "B-1", benOp.ID
	return Standing{Person: annOp, Learned: Learned{Person: annOp.ID, Trainings: []Training{goodTraining(p)}}, Locks: []LockItem{goodLock(), other}, Program: redLocks()}
}

// fields are those of a form's problems.
func fields(err error) []string {
	var list []string
	problems, _ := err.(plain.Problems)
	for _, one := range problems {
		list = append(list, one.Field)
	}
	return list
}

func clauseOf(err error) string {
	if why := refusal(err); why != nil {
		return why.Clause
	}
	return ""
}
