package server

import (
	"context"
	"net/url"
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// scaleForm is what a scale showed, as it was typed.
type scaleForm struct {
	Submission, Reading, Gear, Note string
	Aside                           bool
}

func typedScale(v *visit) scaleForm {
	return scaleForm{Submission: v.submission(), Reading: v.typed("scale"), Gear: v.typed("scale-gear"), Note: v.typed("scale-note"), Aside: v.typed("scale-aside") == "yes"}
}

const noteMost = 500 // characters

// weighing reads the form. Gear left empty is not taken for none.
func (f scaleForm) weighing(in measures) (store.Weighing, plain.Problems) {
	r := newReader(in)
	r.problems.Unless(f.Reading != "", "scale", "what the scale showed, as 640 lb")
	r.problems.Unless(f.Gear != "", "scale-gear", "what hung on the scale besides the piece; 0 if it was set to zero with the gear on")
	r.problems.Unless(len(f.Note) <= noteMost, "scale-note", "fewer words")
	r.problems.Unless(!f.Aside || f.Note != "", "scale-note", "why it is put aside")
	w := store.Weighing{Reading: r.mass("scale", f.Reading), Gear: r.mass("scale-gear", f.Gear), Note: f.Note, Aside: f.Aside}
	return w, r.problems
}

// scaleFault is what is wrong with a reading for the piece that was lifted;
// what the form has no field for stands over the form.
func scaleFault(err error) error {
	problems, err := problemsOf(err)
	for i := range problems {
		if name := problems[i].Field; name != "scale" && name != "scale-gear" {
			problems[i].Field = ""
		}
	}
	if err != nil {
		return err
	}
	return problems.Err()
}

// KeepWeighing keeps what a lift weighed and returns the weighing's id. The error
// is a [plain.Problems] where the reading fits no such piece, a [plain.Refusal]
// or store.ErrNotFound as [store.Mill.KeepWeighing] has them.
func KeepWeighing(ctx context.Context, desk *store.Mill, submission string, w store.Weighing, by procedures.Person, at time.Time) (string, error) {
	return desk.KeepWeighing(ctx, submission, w, by, at, func(kept store.Lift) error {
		j, err := readLift(kept)
		if err != nil {
			return err
		}
		_, err = lift.CompareScale(j.Lift.Piece, w.Reading, w.Gear)
		return scaleFault(err)
	})
}

func (s *Server) weighLift(v *visit) error {
	id := v.Params("id")
	l, err := v.desk.Lift(v.ctx(), id)
	if err != nil {
		return err
	}
	form := typedScale(v)
	w, problems := form.weighing(v.typedIn)
	w.Lift = id
	signing, err := v.sign()
	if err != nil {
		return err
	}
	problems = append(problems, signing...)
	if len(problems) > 0 {
		return v.keptLiftPage(l, form, problems)
	}
	_, err = KeepWeighing(v.ctx(), v.desk, form.Submission, w, v.person, v.now)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.keptLiftPage(l, form, problems)
	}
	return v.moveOn("/lifts/weighed", "weighed")
}

type weighedPage struct {
	*views.Frame
	Plot  weighedPlot
	Kinds []weighedKind
	Lines []weighedLine
	Crew  bool

	Submission string
	Signs      bool         // a supervisor, who may sign for lighter wood
	Sign       *weighedKind // the one the box for it is open for
}

// Signing is the box in which a supervisor signs for one kind of wood, or takes
// it back.
func (p weighedPage) Signing() views.Sign {
	if p.Sign.Allowed {
		return p.SignBox(p.T("From now on the upper weight of this wood stays at the published mean or above."), p.T("Take the signature back"))
	}
	return p.SignBox(p.T("I looked through these readings: scale, piece and gear were right. The upper weight of this wood may lie below the published mean."), p.T("Sign for lighter wood"))
}

// weighedRows are some of the readings in a table.
type weighedRows struct {
	*views.Frame
	Lines []weighedLine
}

// Rows is a table of these readings.
func (p weighedPage) Rows(lines []weighedLine) weighedRows { return weighedRows{p.Frame, lines} }

const newestShown = 12

// ToLookInto are the odd readings, the newest first.
func (p weighedPage) ToLookInto() []weighedLine {
	return slices.DeleteFunc(slices.Clone(p.Lines), func(l weighedLine) bool { return l.Aside || l.Odd.Empty() })
}

func (p weighedPage) others() []weighedLine {
	return slices.DeleteFunc(slices.Clone(p.Lines), func(l weighedLine) bool { return !l.Aside && !l.Odd.Empty() })
}

// Newest are the first of those that are not odd.
func (p weighedPage) Newest() []weighedLine { return p.others()[:min(newestShown, len(p.others()))] }

// Older are the rest of them.
func (p weighedPage) Older() []weighedLine { return p.others()[min(newestShown, len(p.others())):] }

// weighedKind is what was learned of one kind of wood in one condition.
type weighedKind struct {
	Name    string
	Mark    string // its sign in the plot
	N       int
	Mean    plain.Fraction // weighed over predicted
	Counted plain.Fraction // what the expected weight is multiplied with

	Href      string // of this page with the box to sign
	ID        string // scientific name
	Condition string
	Held      bool // the published mean holds the upper weight up
	Allowed   bool // a supervisor signed that it may not
	By        string
	At        time.Time
}

type weighedLine struct {
	Href, What         string
	Kind               string
	Predicted, Weighed plain.Kilograms
	Ratio              plain.Fraction
	Odd                plain.Sentence
	Told               plain.Sentence // why it doesn't count, or only toward heavier wood
	Aside              bool
	Note               string // with the reading; why it was put aside
	weighing           lift.Weighing
	mark               int
}

func (s *Server) weighedLifts(v *visit) error {
	return v.weighedPage(store.NewID(), v.Query("kind"), v.Query("condition"), nil)
}

func (v *visit) weighedPage(submission, kind, condition string, problems plain.Problems) error {
	kept, err := v.desk.Weighed(v.ctx())
	if err != nil {
		return err
	}
	signed, err := v.desk.Lighters(v.ctx())
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := weighedPage{Frame: v.frame("Weighed: %d lifts", len(kept)), Crew: v.person.Works(), Submission: submission, Signs: v.person.Supervises()}
	page.Problems = problems
	if err := page.fill(kept); err != nil {
		return err
	}
	for i := range page.Kinds {
		k := &page.Kinds[i]
		for _, one := range signed {
			if one.Kind == k.ID && one.Condition.String() == k.Condition && one.Allowed {
				k.Allowed, k.By, k.At = true, names[one.By], one.At
			}
		}
		k.Href = "/lifts/weighed?kind=" + url.QueryEscape(k.ID) + "&condition=" + url.QueryEscape(k.Condition) + "#sign"
		if page.Signs && (k.Held || k.Allowed) && k.ID == kind && k.Condition == condition {
			page.Sign = k
		}
	}
	page.Plot = plotWeighed(page.Frame, page.Lines)
	return v.show("weighed", page, problems)
}

func (p *weighedPage) fill(kept []store.Weighed) error {
	all, err := weighingsOf(kept)
	if err != nil {
		return err
	}
	byLift := map[string]lift.Weighing{}
	for _, w := range all {
		byLift[w.Lift] = w
	}
	odd, told, names := p.learned(all)
	for _, one := range kept {
		w, ok := byLift[one.Lift.ID]
		if !ok {
			continue // refused when it was entered; nothing to compare with
		}
		j, err := readLift(one.Lift)
		if err != nil {
			return err
		}
		kind := kindOf(p.Frame, w)
		p.Lines = append(p.Lines, weighedLine{Href: "/lifts/" + one.Lift.ID, What: pieceLine(p.Frame, &j.Lift.Piece), Kind: kind,
			Predicted: plain.Kilograms(w.Predicted), Weighed: plain.Kilograms(w.Weighed), Ratio: plain.Fraction(w.Ratio()),
			Odd: odd[w.Lift], Told: told[w.Lift].Why, Aside: w.Aside, Note: one.Weighing.Note, weighing: w, mark: slices.Index(names, kind)})
	}
	return nil
}

// learned fills in what each kind shows, and returns what is odd and what counts
// by lift, and the kinds' names in order.
func (p *weighedPage) learned(all []lift.Weighing) (odd map[string]plain.Sentence, told map[string]lift.Told, names []string) {
	odd, told = map[string]plain.Sentence{}, map[string]lift.Told{}
	for _, w := range all {
		name := kindOf(p.Frame, w)
		if slices.Contains(names, name) {
			continue
		}
		names = append(names, name)
		species, _ := lift.FindSpecies(w.Kind)
		l, strange := lift.Learn(all, species, w.Condition)
		for _, one := range strange {
			odd[one.Lift] = one.Said
		}
		for _, one := range lift.Tell(all, species, w.Condition) {
			told[one.Lift] = one
		}
		kind := weighedKind{ID: w.Kind, Condition: w.Condition.String(), Held: l.BelowMean(species, w.Condition), Name: name, Mark: markOf(len(names) - 1), N: l.N, Mean: plain.Fraction(l.Mean), Counted: plain.Fraction(l.Shrunk)}
		if l.N == 0 {
			kind.Counted = 1
		}
		p.Kinds = append(p.Kinds, kind)
	}
	return odd, told, names
}

func kindOf(f *views.Frame, w lift.Weighing) string {
	name := w.Kind
	if s, ok := lift.FindSpecies(w.Kind); ok {
		name = woodIn(f, s)
	}
	return f.T("%[1]s, %[2]s", name, conditionText(f, w.Condition))
}
