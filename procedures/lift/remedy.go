package lift

import (
	"slices"
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// RemedyKind is the kind of change a remedy makes.
type RemedyKind string

// The kinds.
const (
	ShorterPiece  RemedyKind = "shorter-piece"
	OtherSetting  RemedyKind = "setting"    // of the yoke, one marked on it
	OtherYoke     RemedyKind = "yoke-width" // where no settings are entered
	LongerLegs    RemedyKind = "longer-legs"
	ShorterLegs   RemedyKind = "shorter-legs"
	PicksOver     RemedyKind = "over-balance"
	OtherSpan     RemedyKind = "span"
	SlingInstead  RemedyKind = "sling"
	HigherRating  RemedyKind = "rating"
	SignedFor     RemedyKind = "signature"
	AnsweredYes   RemedyKind = "answers"
	ReadableTag   RemedyKind = "tag"
	PartInService RemedyKind = "part"
	Inspection    RemedyKind = "inspection"
	WeighedGear   RemedyKind = "own-mass"
	HoldCleared   RemedyKind = "hold"
)

// Step is one thing to do.
type Step struct {
	Kind RemedyKind
	Link string // the part it is about, where it is one
	Said plain.Sentence
}

// Remedy is what would turn a NO-GO into a GO: one step, or several that are
// enough only together. It describes a lift to be entered and checked again;
// it changes nothing by itself.
type Remedy struct {
	Steps           []Step
	Changed         Lift // the lift with every step done; Check says GO to it
	NeedsSupervisor bool // and a supervisor signs, above the house margin
}

// Alone tells whether one step is enough.
func (r *Remedy) Alone() bool { return len(r.Steps) == 1 }

// Said is the remedy in one sentence.
func (r *Remedy) Said() plain.Sentence {
	said := r.saidOf(r.Steps)
	if r.NeedsSupervisor && r.Steps[0].Kind != SignedFor {
		said = plain.Say("%s; a supervisor signs as well", said)
	}
	return said
}

// Apart is the remedy in two sentences: what is done about rig and piece, and
// what is answered at the hook besides; either may be empty.
func (r *Remedy) Apart() (rigging, answers plain.Sentence) {
	var steps []Step
	for _, s := range r.Steps {
		if s.Kind == AnsweredYes {
			answers = s.Said
			continue
		}
		steps = append(steps, s)
	}
	if len(steps) == 0 {
		if r.NeedsSupervisor {
			rigging = plain.Say("a supervisor signs for more than the house margin")
		}
		return rigging, answers
	}
	rigging = r.saidOf(steps)
	if r.NeedsSupervisor && steps[0].Kind != SignedFor {
		rigging = plain.Say("%s; a supervisor signs as well", rigging)
	}
	return rigging, answers
}

func (r *Remedy) saidOf(steps []Step) plain.Sentence {
	all := make([]plain.Sentence, len(steps))
	for i, s := range steps {
		all[i] = s.Said
	}
	said := join(all)
	if len(all) > 1 {
		said = plain.Say("only together, none of them is enough alone: %s", said)
	}
	return said
}

func join(all []plain.Sentence) plain.Sentence {
	if len(all) == 0 {
		return plain.Sentence{}
	}
	said := all[0]
	for _, next := range all[1:] {
		said = plain.Say("%s; %s", said, next)
	}
	return said
}

// Remedies returns what would turn the lift into a GO, each found by search and
// proven by [Check] on the changed lift. Where single steps do, only those are
// given; else sets that are enough together. None is returned for what only a
// person can know: the piece itself, the order of the load path, the hitch.
func Remedies(l Lift) []Remedy {
	v := Check(l)
	if v.Go {
		if !v.NeedsSupervisor {
			return nil
		}
		return []Remedy{{Steps: []Step{{Kind: SignedFor, Link: v.Weakest, Said: plain.Say("a supervisor signs for more than the house margin")}}, Changed: l, NeedsSupervisor: true}}
	}
	var found []Remedy
	if base, ok := begin(l); ok {
		found = base.remedies()
	}
	if l.Rig.grips() {
		if base, ok := begin(onSlings(l)); ok {
			base.steps = append([]Step{{Kind: SlingInstead, Said: plain.Say("slings under the piece instead of end hooks, at equal distances from the balance point; end the lift with the slings' own ratings entered")}}, base.steps...)
			found = append(found, base.bySpan()...)
		}
	}
	return fewest(found)
}

// fewest keeps the remedies of one step where there are any, else those with
// the fewest steps.
func fewest(found []Remedy) []Remedy {
	least := 1 << 30
	for i := range found {
		least = min(least, len(found[i].Steps))
	}
	return slices.DeleteFunc(found, func(r Remedy) bool { return len(r.Steps) > least })
}

// attempt is a lift on the way to a GO, with the steps that led to it.
type attempt struct {
	lift  Lift
	steps []Step
}

// begin does what has to be done whatever else is: every step is the only
// answer to what it answers. ok is false where a person has to enter something
// first.
func begin(l Lift) (a attempt, ok bool) {
	a.lift = l
	a.lift.Rig.Links, a.lift.Holds = slices.Clone(l.Rig.Links), nil
	v := Check(l)
	if slices.ContainsFunc(v.Findings, func(f Finding) bool {
		return f.Rule == PieceRule || f.Rule == RigRule || f.Rule == PathRule || f.Rule == HitchRule || f.Rule == TimeRule
	}) {
		return a, false
	}
	if len(l.Holds) > 0 {
		a.step(HoldCleared, "what holds the lift is cleared first: %s", join(l.Holds))
	}
	a.answer()
	a.each(&v, TagRule, ReadableTag, "a tag that can be read, or a marked part in its place: %s", func(k *Link) { k.TagReadable = true })
	a.each(&v, StateRule, PartInService, "a part in service in its place: %s", func(k *Link) { k.State = InService })
	a.each(&v, InspectionRule, Inspection, "inspected by someone who may, found sound and dated: %s", func(k *Link) {
		k.Inspected, k.InspectionDue = l.Now, l.Now.Add(24*time.Hour)
	})
	return a.weighed(&v)
}

func (a *attempt) step(kind RemedyKind, said string, args ...any) {
	a.steps = append(a.steps, Step{Kind: kind, Said: plain.Say(said, args...)})
}

// answer says yes to every question not yet answered so.
func (a *attempt) answer() {
	list, n := a.lift.Questions.list(a.lift.Rig.grips())
	open := a.lift.Rig.Open(a.lift.Questions)
	var refused []plain.Sentence
	for _, q := range list[:n] {
		if q.answer == No {
			refused = append(refused, plain.Say(q.ask))
		}
		*a.lift.Questions.At(q.field) = Yes
	}
	switch {
	case len(refused) > 0 && open > 0:
		a.step(AnsweredYes, "made so at the hook, and answered yes: %s; and %s", join(refused), StillOpen(open))
	case len(refused) > 0:
		a.step(AnsweredYes, "made so at the hook, and answered yes: %s", join(refused))
	case open > 0:
		a.steps = append(a.steps, Step{Kind: AnsweredYes, Said: StillOpen(open)})
	}
}

// each mends every link a rule found something of, as one step.
func (a *attempt) each(v *Verdict, rule Rule, kind RemedyKind, said string, mend func(*Link)) {
	var names []string
	for i := range a.lift.Rig.Links {
		k := &a.lift.Rig.Links[i]
		if slices.ContainsFunc(v.Findings, func(f Finding) bool { return f.Rule == rule && f.Link == k.label() }) {
			mend(k)
			names = append(names, k.label())
		}
	}
	if len(names) > 0 {
		a.step(kind, said, strings.Join(names, ", "))
	}
}

// weighed finds the most that gear of unknown weight may weigh; ok is false
// where the lift is a NO-GO for other reasons still, since the two would have
// to be weighed against each other.
func (a attempt) weighed(v *Verdict) (attempt, bool) {
	with := func(mass float64) attempt {
		b := a.copied()
		b.each(v, OwnMassRule, WeighedGear, "%s", func(k *Link) { k.OwnMass = mass })
		return b
	}
	const least, most, near = 0.5, maxOwn, 0.1 // kg
	if len(with(least).steps) == len(a.steps) {
		return a, true
	}
	low, high := least, float64(most)
	if !with(low).goes() {
		return a, false
	}
	for high-low > near {
		if middle := (low + high) / 2; with(middle).goes() {
			low = middle
		} else {
			high = middle
		}
	}
	b := with(low)
	last := &b.steps[len(b.steps)-1]
	last.Said = plain.Say("weighed, and found to be no more than %s each: %s", plain.Kilograms(low), last.Said)
	return b, true
}

func (a attempt) copied() attempt {
	a.lift.Rig.Links, a.steps = slices.Clone(a.lift.Rig.Links), slices.Clone(a.steps)
	return a
}

func (a attempt) goes() bool { return Check(a.lift).Go }

// remedy is the attempt with what it proved; ok is false unless it is a GO.
func (a attempt) remedy() (Remedy, bool) {
	v := Check(a.lift)
	return Remedy{a.steps, a.lift, v.NeedsSupervisor}, v.Go && len(a.steps) > 0
}
