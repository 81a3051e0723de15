package server

import (
	"context"
	"errors"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// runMost is how many kept lifts are looked through for one that covers the
// piece now asked about: more than a shift has.
const runMost = 60

// alikeField is the question whether the next piece is one the check covers.
const alikeField = "alike"

// asSetField is the question whether the yoke is set as it was for the check.
const asSetField = "as-set"

// runForm is what was answered about the next piece of a run.
type runForm struct {
	Submission, Alike string
	AsSet             string   // asked where the rig has a yoke
	Answers           []string // a question of the rig each
}

// read turns the form into what is kept.
func (f *runForm) read(r *lift.Rig) (run store.LiftOfRun, problems plain.Problems) {
	answer := func(field, typed string) lift.Answer {
		a, err := lift.ParseAnswer(typed)
		problems.Unless(err == nil && a != lift.Unanswered, field, "yes or no")
		return a
	}
	run.Alike = answer(alikeField, f.Alike)
	if r.HasYoke() {
		run.AsSet = answer(asSetField, f.AsSet)
	}
	for i, q := range r.Asks() {
		*run.Questions.At(q.Field) = answer(q.Field, f.Answers[i])
	}
	return run, problems
}

// ofRun judges a further piece: refused where the check of l stands no more,
// else a GO only where every answer is yes.
func ofRun(l store.Lift, since store.Since, run store.LiftOfRun, now time.Time) (bool, error) {
	j, err := readLift(l)
	if err != nil {
		return false, err
	}
	s, err := standing(l, &j, since, now)
	if err != nil {
		return false, err
	}
	if !s.Stands {
		why := plain.Say("The check no longer stands.")
		if len(s.Why) > 0 {
			why = plain.Say("The check no longer stands: %s", s.Why[0])
		}
		return false, &plain.Refusal{Why: why}
	}
	if shares, why := lift.Shares(&j.Lift, &j.Verdict); !shares {
		return false, &plain.Refusal{Why: why}
	}
	set := run.AsSet == lift.Yes || !j.Lift.Rig.HasYoke()
	return run.Alike == lift.Yes && set && len(j.Lift.Rig.Refusals(run.Questions)) == 0, nil
}

// KeepLiftOfRun judges a further piece lifted on the kept lift run.Lift and keeps
// it, GO or not; it returns its id. The error is a [plain.Refusal] where the
// check of that lift stands no more.
func KeepLiftOfRun(ctx context.Context, desk *store.Mill, submission string, run store.LiftOfRun, by procedures.Person, at time.Time) (string, error) {
	return desk.KeepLiftOfRun(ctx, submission, run, by, at, func(l store.Lift, since store.Since) (bool, error) {
		return ofRun(l, since, run, at)
	})
}

type runPage struct {
	*views.Frame
	ID       string
	Form     runForm
	What     string
	Upper    plain.Kilograms
	By       string
	At       time.Time
	Standing standingView
	Covers   []plain.Sentence
	Asks     []askLine
	AsSet    string // how the yoke and the legs are set
	Yoke     bool   // there is one, and whether it is set so is asked
}

func (s *Server) showRun(v *visit) error {
	return v.runPage(runForm{Submission: store.NewID()}, nil, 0)
}

// runPage shows the questions, and only why not where the check stands no more.
func (v *visit) runPage(form runForm, problems plain.Problems, status int) error {
	l, err := v.desk.Lift(v.ctx(), v.Params("id"))
	if err != nil {
		return err
	}
	j, err := readLift(l)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	stands, err := v.standings([]store.Lift{l}, map[string]*judged{l.ID: &j})
	if err != nil {
		return err
	}
	page := runPage{Frame: v.frame("Another piece of this run"), ID: l.ID, Form: form, By: names[l.By], At: l.At, Upper: j.Verdict.Weight.Upper,
		Covers: lift.Covered(&j.Lift, &j.Verdict)}
	page.What, page.Problems, page.Standing = pieceLine(page.Frame, &j.Lift.Piece), problems, standingSaid(stands[l.ID], &j)
	page.AsSet, page.Yoke = asSet(page.Frame, &j.Lift.Rig), j.Lift.Rig.HasYoke()
	for i, q := range j.Lift.Rig.Asks() {
		ask := askLine{Field: q.Field, Said: page.Say(q.Said)}
		if i < len(form.Answers) {
			ask.Answer = form.Answers[i]
		}
		page.Asks = append(page.Asks, ask)
	}
	if status != 0 {
		v.Status(status)
	}
	return v.show("lift-run", page, problems)
}

func (s *Server) keepRun(v *visit) error {
	l, err := v.desk.Lift(v.ctx(), v.Params("id"))
	if err != nil {
		return err
	}
	j, err := readLift(l)
	if err != nil {
		return err
	}
	form := runForm{Submission: v.submission(), Alike: v.typed(alikeField), AsSet: v.typed(asSetField)}
	for _, q := range j.Lift.Rig.Asks() {
		form.Answers = append(form.Answers, v.typed(q.Field))
	}
	run, problems := form.read(&j.Lift.Rig)
	if len(problems) > 0 {
		return v.runPage(form, problems, 0)
	}
	run.Lift = l.ID
	id, err := KeepLiftOfRun(v.ctx(), v.desk, form.Submission, run, v.person, v.now)
	var refusal *plain.Refusal
	if errors.As(err, &refusal) {
		return v.runPage(form, nil, fiber.StatusConflict)
	}
	if err != nil {
		return err
	}
	kept, err := v.desk.Run(v.ctx(), l.ID)
	if err != nil {
		return err
	}
	done := "run-refused"
	for _, one := range kept {
		if one.ID == id && one.Go {
			done = "run"
		}
	}
	return v.moveOn("/lifts/"+l.ID+"#run", done)
}

// runLine is one further piece on the page of the lift whose check it went by.
type runLine struct {
	Badge views.Badge
	By    string
	At    time.Time
	Why   []plain.Sentence // what wasn't answered with yes
}

// runOf lists the further pieces of a kept lift, and how many of them were a GO.
func (v *visit) runOf(f *views.Frame, id string, r *lift.Rig) (lines []runLine, lifted int, err error) {
	run, err := v.desk.Run(v.ctx(), id)
	if err != nil {
		return nil, 0, err
	}
	names, err := v.names()
	if err != nil {
		return nil, 0, err
	}
	for _, one := range run {
		line := runLine{Badge: f.LiftBadge(one.Go).AsSmall(), By: names[one.By], At: one.At}
		if one.Go {
			lifted++
		}
		if one.Alike != lift.Yes {
			line.Why = append(line.Why, plain.Say("answered no: it is a piece the check covers"))
		}
		if one.AsSet == lift.No {
			line.Why = append(line.Why, plain.Say("answered no: the yoke is set as said here"))
		}
		for _, f := range r.Refusals(one.Questions) {
			line.Why = append(line.Why, f.Said)
		}
		lines = append(lines, line)
	}
	return lines, lifted, nil
}

// coveredBy is the newest kept GO that still stands and covers the lift now
// judged, with the same rig, hoist, hook span and landing place; ok is false
// where there is none. What forbids the lift by more than questions not yet
// answered, no earlier check allows.
func (v *visit) coveredBy(j *judged, asked store.Lift) (covered coveredView, ok bool, err error) {
	for _, f := range j.Verdict.Findings {
		if f.Blocks && f.Rule != lift.QuestionRule {
			return covered, false, nil
		}
	}
	kept, err := v.desk.Lifts(v.ctx(), runMost)
	if err != nil {
		return covered, false, err
	}
	for _, l := range kept {
		if !l.Go || l.Rig != asked.Rig || l.RigVersion != asked.RigVersion || l.Hoist != asked.Hoist || l.LandsOn != asked.LandsOn {
			continue
		}
		before, err := readLift(l)
		if err != nil {
			return covered, false, err
		}
		if before.Lift.Span != j.Lift.Span || before.Lift.Placing != j.Lift.Placing {
			continue
		}
		if covers, _ := lift.Covers(&before.Lift, &before.Verdict, j.Lift.Piece); !covers {
			continue
		}
		stands, err := v.standings([]store.Lift{l}, map[string]*judged{l.ID: &before})
		if err != nil {
			return covered, false, err
		}
		if !stands[l.ID].Stands {
			continue
		}
		names, err := v.names()
		return coveredView{Href: "/lifts/" + l.ID + "/run", By: names[l.By], At: l.At}, true, err
	}
	return covered, false, nil
}

// coveredView is a kept check that covers the piece now asked about.
type coveredView struct {
	Href, By string
	At       time.Time
}

// stand fills in whether a kept GO still stands, what it covers and its run.
func (p *keptLiftPage) stand(v *visit, l store.Lift, j *judged) (err error) {
	p.Crew = v.person.Works()
	if p.Run, p.Lifted, err = v.runOf(p.Frame, l.ID, &j.Lift.Rig); err != nil || !l.Go {
		return err
	}
	stands, err := v.standings([]store.Lift{l}, map[string]*judged{l.ID: j})
	if err != nil {
		return err
	}
	said := standingSaid(stands[l.ID], j)
	if !said.Stands {
		p.over(j)
	}
	p.Standing, p.Covers = &said, lift.Covered(&j.Lift, &j.Verdict)
	return nil
}

// over shows a GO that is over as what it was: no green, and its title first.
func (p *keptLiftPage) over(j *judged) {
	p.Title, p.Answer.Badge = plain.Say("Over: it was a GO, reckoned no heavier than %s", j.Verdict.Weight.Upper), p.WasGo()
	for i := range p.Run {
		if p.Run[i].Badge.Kind == "go" {
			p.Run[i].Badge = p.WasGo().AsSmall()
		}
	}
}

func liftOfRunSaid(r store.LiftOfRun) plain.Sentence {
	if r.Go {
		return plain.Say("A further piece lifted on a check kept before.")
	}
	return plain.Say("A further piece of a run not lifted: not every question at the hook was answered with yes.")
}
