package procedures

import (
	"slices"
	"time"

	"stillsaw/procedures/plain"
)

// TrainingID names one entry of training.
type TrainingID string

// Level is what a training is for, 29 CFR 1910.147(c)(7)(i). The zero value is
// none and refused.
type Level string

const (
	AuthorizedLevel Level = "authorized" // (c)(7)(i)(A): locks out
	AffectedLevel   Level = "affected"   // (c)(7)(i)(B): runs the machine, or works where it is serviced
	OtherLevel      Level = "other"      // (c)(7)(i)(C): comes near: told of it, and never to start what is locked
)

// Levels returns every level, in the order a form offers them.
func Levels() []Level { return []Level{AuthorizedLevel, AffectedLevel, OtherLevel} }

// TagPoint is one of the six things said of tags in training, (c)(7)(ii).
type TagPoint string

const (
	TagOnlyWarns    TagPoint = "only-warns"    // (A) holds nothing, as a lock does
	TagNotBypassed  TagPoint = "not-bypassed"  // (B) not removed without leave, never bypassed or ignored
	TagUnderstood   TagPoint = "understood"    // (C) readable and understood by everybody
	TagWithstands   TagPoint = "withstands"    // (D) withstands its surroundings
	TagFalseSafety  TagPoint = "false-safety"  // (E) may make one feel safe
	TagFirmlyPlaced TagPoint = "firmly-placed" // (F) can't come off by chance
)

// TagPoints returns the six.
func TagPoints() []TagPoint {
	return []TagPoint{TagOnlyWarns, TagNotBypassed, TagUnderstood, TagWithstands, TagFalseSafety, TagFirmlyPlaced}
}

// allTagPoints tells whether given holds each of the six.
func allTagPoints(given []TagPoint) bool {
	return !slices.ContainsFunc(TagPoints(), func(p TagPoint) bool { return !slices.Contains(given, p) })
}

// TrainedOn is one version of a procedure a training went through.
type TrainedOn struct {
	Procedure ProcedureID `json:"procedure"`
	Version   int         `json:"version"`
}

// Training certifies that one person was trained, 29 CFR 1910.147(c)(7)(iv).
// Days are given as the moment they begin in the mill's zone.
type Training struct {
	ID          TrainingID   `json:"id"`
	Person      PersonID     `json:"person"`
	Level       Level        `json:"level"`
	Procedures  []TrainedOn  `json:"procedures"`
	EnergyKinds []EnergyKind `json:"energy_kinds"` // whose sources, sizes and control were gone through
	Tags        bool         `json:"tags"`         // tags were part of it
	TagPoints   []TagPoint   `json:"tag_points"`
	Again       bool         `json:"again"`   // retraining, (c)(7)(iii)
	Covered     string       `json:"covered"` // what was gone through
	Trainer     string       `json:"trainer"` // name, and firm for one from outside
	OwnWord     bool         `json:"own_word"`
	On          time.Time    `json:"on"`
	Expires     time.Time    `json:"expires,omitzero"` // first day it no longer counts; zero: the mill sets no end
	By          PersonID     `json:"by"`               // who entered it
	At          time.Time    `json:"at"`
}

// trainingAsked is a training and when it is entered.
type trainingAsked struct {
	t   Training
	by  Person
	now time.Time
}

// Enter returns t signed by by at now. Its error is a [plain.Problems] for the
// fields "person", "level", "procedures", "energy_kinds", "tag_points",
// "covered", "trainer", "on" and "expires", or a [plain.Refusal]: who may lock
// out isn't a deputy's to give, as [Person.MayKeep] says.
func (t Training) Enter(by Person, now time.Time) (Training, error) {
	t.By, t.At = by.ID, now
	asked := trainingAsked{t, by, now}
	if err := refusedBy(trainerRules(), asked); err != nil {
		return Training{}, err
	}
	if err := problemsBy(trainingRules(), asked); err != nil {
		return Training{}, err
	}
	return t, nil
}

func trainerRules() []rule[trainingAsked, error] {
	return []rule[trainingAsked, error]{
		{"a supervisor enters training", func(a trainingAsked) error {
			if !a.by.Supervises() {
				return plain.Refuse(Clause("(c)(7)(iv)"), "The employer certifies training: a supervisor or deputy enters it.")
			}
			return nil
		}},
		{"a deputy makes nobody authorized", func(a trainingAsked) error {
			if a.t.Level == AuthorizedLevel && a.by.Role != Supervisor {
				return plain.Refuse(Clause("(c)(7)(iv)"), "Only a supervisor enters training that lets somebody lock out.")
			}
			return nil
		}},
	}
}

func trainingRules() []rule[trainingAsked, plain.Problems] {
	return []rule[trainingAsked, plain.Problems]{
		{"person and level", func(a trainingAsked) plain.Problems {
			return append(want(a.t.Person != "", "person", plain.Say("who was trained")),
				want(slices.Contains(Levels(), a.t.Level), "level", plain.Say("what for: to lock out, to work beside it, or only to be told of it"))...)
		}},
		{"dates", func(a trainingAsked) plain.Problems {
			return append(want(!a.t.On.IsZero() && !a.t.On.After(a.now), "on", plain.Say("the day of the training, today or before")),
				want(a.t.Expires.IsZero() || a.t.Expires.After(a.t.On), "expires", plain.Say("a day after the training, or none"))...)
		}},
		{"trainer", func(a trainingAsked) plain.Problems {
			if a.t.OwnWord {
				return want(a.by.ID == a.t.Person, "trainer", plain.Say("who trained them: own word is only for oneself"))
			}
			return want(!blank(a.t.Trainer), "trainer", plain.Say("who trained them"))
		}},
		{"procedures named", func(a trainingAsked) plain.Problems {
			return want(a.t.Level == OtherLevel || len(a.t.Procedures) > 0, "procedures", plain.Say("which procedures it went through, 29 CFR 1910.147(c)(7)(i)"))
		}},
		{"energies listed", func(a trainingAsked) plain.Problems {
			return want(a.t.Level != AuthorizedLevel || len(a.t.EnergyKinds) > 0, "energy_kinds", plain.Say("which kinds of energy it went through, 29 CFR 1910.147(c)(7)(i)(A)"))
		}},
		{"six tag points", func(a trainingAsked) plain.Problems {
			return want(!a.t.Tags && len(a.t.TagPoints) == 0 || allTagPoints(a.t.TagPoints), "tag_points", plain.Say("all six points about tags, 29 CFR 1910.147(c)(7)(ii)"))
		}},
		{"retraining says what", func(a trainingAsked) plain.Problems {
			return want(!a.t.Again || !blank(a.t.Covered), "covered", plain.Say("what was gone through again, 29 CFR 1910.147(c)(7)(iii)(C)"))
		}},
		{"texts fit", func(a trainingAsked) plain.Problems {
			return append(want(len(a.t.Covered) <= longestText, "covered", plain.Say("in fewer words")),
				want(len(a.t.Trainer) <= longestName, "trainer", plain.Say("a name, and a firm, in a few words"))...)
		}},
	}
}

// OwnTraining is what who declares of the own training on procedures, as their
// first versions: the first supervisor of a mill has nobody who could say it.
func OwnTraining(who Person, on []Procedure, day time.Time) Training {
	t := Training{Person: who.ID, Level: AuthorizedLevel, Tags: true, TagPoints: TagPoints(), OwnWord: true, On: day}
	for _, p := range on {
		t.Procedures = append(t.Procedures, TrainedOn{p.ID, max(p.Version, 1)})
		for _, kind := range p.Kinds() {
			if !slices.Contains(t.EnergyKinds, kind) {
				t.EnergyKinds = append(t.EnergyKinds, kind)
			}
		}
	}
	return t
}

// TaughtVersion returns which version of a procedure a training of that day went
// through: the newest put in force by the end of the day, the first where none
// was yet. inForce is when each version was, the first first.
func TaughtVersion(inForce []time.Time, day time.Time) int {
	end, version := day.AddDate(0, 0, 1), 1
	for i, at := range inForce {
		if at.Before(end) {
			version = i + 1
		}
	}
	return version
}

// longestText bounds what is typed as a text of several lines, in bytes.
const longestText = 4000

// names tells whether t went through that procedure, and which version.
func (t Training) names(id ProcedureID) (version int, ok bool) {
	for _, on := range t.Procedures {
		if on.Procedure == id {
			version, ok = max(version, on.Version), true
		}
	}
	return version, ok
}

// over tells whether t no longer counts at now.
func (t Training) over(now time.Time) bool { return !t.Expires.IsZero() && !t.Expires.After(now) }

// Words says what a level is for.
func (l Level) Words() plain.Sentence {
	switch l {
	case AuthorizedLevel:
		return plain.Say("to lock out")
	case AffectedLevel:
		return plain.Say("to work where others lock out")
	case OtherLevel:
		return plain.Say("told of lockout, and never to start what is locked")
	}
	return plain.Say("not known")
}

// Words says the point as it is gone through.
func (p TagPoint) Words() plain.Sentence {
	switch p {
	case TagOnlyWarns:
		return plain.Say("A tag only warns. It holds nothing, as a lock does.")
	case TagNotBypassed:
		return plain.Say("A tag is taken off only with leave of the one who answers for it, and never bypassed or ignored.")
	case TagUnderstood:
		return plain.Say("A tag must be readable, and everybody who works there must understand it.")
	case TagWithstands:
		return plain.Say("Tag and tie must withstand weather, damp and dust where they hang.")
	case TagFalseSafety:
		return plain.Say("A tag can make people feel safer than they are. It is one part of the whole.")
	case TagFirmlyPlaced:
		return plain.Say("A tag is tied so that it can't come off by chance.")
	}
	return plain.Say("not known")
}
