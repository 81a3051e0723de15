package server

import (
	"errors"
	"math"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type newLockoutPage struct {
	*views.Frame
	Form       newLockoutForm
	Procedures []views.Choice
	Tasks      []string       // the mill's tasks by this procedure, to pick from
	Over       []views.Choice // who may coordinate it with what is under way at the same equipment
	UnderWay   string         // address of the lockout by the chosen procedure
	InTheWay   []obstacle
	LeftOut    []plain.Sentence // energies of the register the procedure hasn't
	OnTrust    bool             // no training is entered for anybody
	Tell       []string
	Aside      bool
	Cautions   []plain.Sentence
}

// obstacle is one thing that stands in the way, with its clause and where it is
// mended.
type obstacle struct {
	Why    plain.Sentence
	Clause string
	Mend   string // address
}

// refusalLine is a refusal as something that stands in the way.
func refusalLine(err error, mend string) obstacle {
	var refusal *plain.Refusal
	if errors.As(err, &refusal) {
		return obstacle{refusal.Why, refusal.Clause, mend}
	}
	return obstacle{Why: plain.Say("%s", err.Error()), Mend: mend}
}

type newLockoutForm struct {
	Submission, Procedure, Task, Hours, Until, Happened, Craft, Coordinator string
}

func (s *Server) showNewLockout(v *visit) error {
	form := newLockoutForm{Submission: store.NewID(), Procedure: v.Query("procedure"), Task: v.Query("task"), Hours: "2"}
	if form.Procedure != "" {
		if _, err := v.desk.Published(v.ctx(), store.Procedures, form.Procedure, 0); err != nil {
			return err
		}
	}
	return v.newLockoutPage(form, nil)
}

func (v *visit) newLockoutPage(form newLockoutForm, problems plain.Problems) error {
	open, err := v.desk.OpenLockouts(v.ctx())
	if err != nil {
		return err
	}
	ways, err := v.waysToLockOut(open)
	if err != nil {
		return err
	}
	page := newLockoutPage{Frame: v.frame("Start a lockout"), Form: form, Cautions: procedures.Cautions(),
		Aside: form.Happened != "" || form.Craft != "" || form.Until != "" || problems.For("expected") != nil || problems.For("happened") != nil}
	page.Problems = problems
	for _, way := range ways {
		page.Procedures = append(page.Procedures, views.Choice{Value: way.ID, Text: way.Title})
		if way.ID == form.Procedure {
			page.Title, page.UnderWay = plain.Say("Start a lockout: %s", way.Title), way.UnderWay
		}
	}
	if err := v.fillNewLockout(&page, open); err != nil {
		return err
	}
	return v.show("lockout-new", page, problems)
}

// fillNewLockout adds what follows from the procedure chosen: what stands in the
// way, what is done by it, whom to tell, who coordinates.
func (v *visit) fillNewLockout(page *newLockoutPage, open []procedures.Lockout) error {
	if page.Form.Procedure == "" {
		return nil
	}
	p, err := v.procedureInForce(page.Form.Procedure)
	if errors.Is(err, store.ErrNotFound) {
		return nil // said beside the field
	}
	if err != nil {
		return err
	}
	standing, err := v.desk.Standing(v.ctx(), v.person, p)
	if err != nil {
		return err
	}
	page.OnTrust, page.LeftOut = standing.NoneEntered, leftOut(standing.Plant, p)
	page.InTheWay = gapsBefore(p, standing, v)
	tasks, err := v.desk.Tasks(v.ctx())
	if err != nil {
		return err
	}
	for _, task := range tasks {
		if task.Procedure == p.ID {
			page.Tasks = append(page.Tasks, task.Title)
		}
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	over, all := procedures.Overlaps(open, p), procedures.Coordinators(open, p)
	for _, l := range open {
		if slices.Contains(over, l.ID) && string(l.Procedure.ID) != page.Form.Procedure && slices.Contains(all, l.Primary) {
			page.Over = append(page.Over, views.Choice{Value: string(l.Primary), Text: page.T("%[1]s, who answers for: %[2]s", names[l.Primary], l.Procedure.Title)})
			all = slices.DeleteFunc(all, func(who procedures.PersonID) bool { return who == l.Primary })
		}
	}
	for _, who := range all { // answers for none of them, and coordinates each
		page.Over = append(page.Over, views.Choice{Value: string(who), Text: page.T("%s, who coordinates what is under way", names[who])})
	}
	page.Tell, err = v.whoToTell(p)
	return err
}

// gapsBefore is what keeps the signed-in person from beginning, each with its
// clause and where it is mended.
func gapsBefore(p procedures.Procedure, s procedures.Standing, v *visit) []obstacle {
	err := procedures.MayBegin(p, s, v.now)
	if err == nil {
		return nil
	}
	first := refusalLine(err, "")
	switch first.Clause {
	case procedures.Clause("(e)(3)(iii)"):
		first.Mend = "/lockouts/" + string(v.untold[0].Untold)
	case procedures.Clause("(f)(2)(i)"):
		first.Mend = "/contractors"
	case procedures.Clause("(c)(8)"):
		first.Mend = "/people"
	case procedures.Clause("(f)(1)(ii)"):
		first.Mend = "/lockouts"
	default: // training: every gap by itself
		var lines []obstacle
		for _, gap := range s.Learned.Gaps(p, v.now) {
			lines = append(lines, obstacle{gap.Why, gap.Clause, "/training"})
		}
		return lines
	}
	return []obstacle{first}
}

func (v *visit) procedureInForce(id string) (procedures.Procedure, error) {
	all, err := v.desk.ProceduresInForce(v.ctx())
	for _, p := range all {
		if string(p.ID) == id {
			return p, nil
		}
	}
	if err == nil {
		err = store.ErrNotFound
	}
	return procedures.Procedure{}, err
}

func (s *Server) beginLockout(v *visit) error {
	form := newLockoutForm{Submission: v.submission(), Procedure: v.typed("procedure"), Task: v.typed("task"), Hours: v.typed("hours"),
		Until: v.typed("expected"), Happened: v.typed("happened"), Craft: v.typed("craft"), Coordinator: v.typed("coordinator")}
	var problems plain.Problems
	problems.Unless(form.Procedure != "", "procedure", "choose what to lock out")
	problems.Unless(form.Task != "", "task", "say what is going to be done")
	began, _ := v.happened(form.Happened, &problems)
	expected := v.expected(form, began, &problems)
	signed, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, signed...); len(problems) > 0 {
		return v.newLockoutPage(form, problems)
	}
	id, err := v.desk.BeginLockoutWith(v.ctx(), form.Submission, procedures.ProcedureID(form.Procedure), procedures.Beginning{Task: form.Task, By: v.person,
		Expected: expected, At: began, Craft: form.Craft, Coordinator: procedures.PersonID(form.Coordinator)}, v.now)
	if err != nil {
		problems, err := problemsOf(coordinatorMissing(err))
		if err != nil {
			return err
		}
		return v.newLockoutPage(form, problems)
	}
	return v.moveOn("/lockouts/"+string(id), "begun")
}

// coordinatorMissing moves a refusal for want of a coordinator to the field that
// asks for one.
func coordinatorMissing(err error) error {
	var refusal *plain.Refusal
	if errors.As(err, &refusal) && refusal.Clause == procedures.Clause("(f)(3)(ii)(C)") {
		return plain.Problems{{Field: "coordinator", Want: plain.Say("%s (%s)", refusal.Why, refusal.Clause)}}
	}
	return err
}

// The longest time a job may be expected to take, in hours: a winter has a
// lockout of its own, left overnight again and again.
const hoursMost = 31 * 24

// expected reads when the job should be done: a moment, or hours from its start.
func (v *visit) expected(form newLockoutForm, began time.Time, problems *plain.Problems) time.Time {
	if form.Until != "" {
		until, err := v.moment(form.Until)
		problems.Unless(err == nil && until.After(began) && until.Sub(began) <= hoursMost*time.Hour, "expected", "a day and time after the start, at most 31 days on")
		return until
	}
	hours, err := checklists.ParseNumber(v.typedIn.pointed("hours", form.Hours, problems))
	ok := err == nil && hours > 0 && hours <= hoursMost
	problems.Unless(ok, "hours", "how many hours it should take: more than 0, at most %d", hoursMost)
	if !ok {
		return time.Time{}
	}
	return began.Add(time.Duration(math.Ceil(hours*3600)) * time.Second)
}

// happened is when what is reported was done: now, or earlier where a form says
// so because it was done by the printed placard.
func (v *visit) happened(typed string, problems *plain.Problems) (at time.Time, late bool) {
	if typed == "" {
		return v.now, false
	}
	at, err := v.moment(typed)
	problems.Unless(err == nil && !at.After(v.now), "happened", "a day and time that is past; leave it empty for now")
	return at, true
}

var errMoment = errors.New("not a day and time")

// moment reads a day and time of day on the mill's clock.
func (v *visit) moment(typed string) (time.Time, error) {
	for _, layout := range []string{momentLayout, "2006-01-02T15:04:05", "2006-01-02 15:04"} {
		if at, err := time.ParseInLocation(layout, typed, v.zone); err == nil {
			return at.UTC(), nil
		}
	}
	return time.Time{}, errMoment
}

// momentLayout is how a browser sends a day and time of day.
const momentLayout = "2006-01-02T15:04"
