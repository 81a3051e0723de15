package server

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/google/uuid"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) inspectionRoutes() {
	s.get("/inspections/new", crew, s.showNewInspection)
	s.post("/inspections/new", crew, s.beginInspection)
	s.get("/inspections/waiting", signedIn, s.showWaiting)
	s.get("/inspections/:id", signedIn, s.showInspection)
	s.post("/inspections/:id/answers", crew, s.keepAnswers)
	s.post("/inspections/:id/autosave", crew, s.autosaveAnswers)
	s.post("/inspections/:id/run-check", crew, s.askRunCheck)
	s.post("/inspections/:id/finish", crew, s.finishInspection)
	s.post("/inspections/:id/sign", crew, s.signInspection)
	s.get("/inspections/:id/set-aside", crew, s.showSetAside)
	s.post("/inspections/:id/set-aside", crew, s.setAside)
	s.post("/inspections/:id/amend", crew, s.amendInspection)
}

// toSign is the last step of a walk, after the machine's three states.
const toSign = "sign"

func machineStates() []checklists.MachineState {
	return []checklists.MachineState{checklists.LockedOut, checklists.Stopped, checklists.Running}
}

func stateWords(state checklists.MachineState) plain.Sentence {
	switch state {
	case checklists.LockedOut:
		return plain.Say("Locked out")
	case checklists.Stopped:
		return plain.Say("Stopped")
	case checklists.Running:
		return plain.Say("Running")
	}
	return plain.Say("not known")
}

type newInspectionPage struct {
	*views.Frame
	Submission string
	Walk       string // the id the walk gets
	States     string // the steps of the walk, for a phone to keep
	List       string // id
	Version    int
	Said       plain.Sentence
	Counts     []walkStep
	Mine       string      // address of my own walk under way
	MineOn     int         // its version, 0: the one in force
	Others     []walkLine  // walks of others
	Lists      []listToDo  // the other lists in force
	Last       string      // address of the inspection that counts now
	Left       int         // items it leaves unchecked
	Empty      views.Empty // nothing is in force
	InForce    bool
}

type listToDo struct{ Href, Title string }

func (s *Server) showNewInspection(v *visit) error {
	return v.newInspectionPage(checklists.ListID(v.Query("list")), nil)
}

func (v *visit) newInspectionPage(id checklists.ListID, problems plain.Problems) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	page := newInspectionPage{Frame: v.frame("Nothing to check yet"), Submission: store.NewID(), Walk: store.NewID()}
	page.Problems = problems
	if coming := facts.Upcoming(v.now); id == "" && len(coming) > 0 {
		id = coming[0].List
	}
	if id == "" {
		page.Empty = page.EmptyList(page.T("No list is in force yet. A supervisor reads and publishes one first."), "/lists", page.T("All lists"))
		return v.show("inspection-new", page, problems)
	}
	at := slices.IndexFunc(facts.Lists, func(l checklists.List) bool { return l.ID == id })
	if at < 0 {
		return store.ErrNotFound
	}
	list := facts.Lists[at]
	due := facts.Due(list, v.now)
	page.Title, page.InForce = plain.Say("%s: %s", list.Title, dueWord(due.Status)), true
	if due.Status == checklists.IsDone {
		page.Title = plain.Say("%s: done", list.Title) // a check's own: in other languages it isn't said as of an act
	}
	page.List, page.Version, page.Said = string(list.ID), list.Version, due.Said
	if due.Done != nil {
		page.Last = "/inspections/" + string(due.Done.ID)
		page.Left = leftUnchecked(*due.Done, facts.Amendments)
	}
	for _, state := range machineStates() {
		if items := asked(list, state, nil); len(items) > 0 {
			page.Counts = append(page.Counts, walkStep{Name: page.Say(stateWords(state)), Of: len(items)})
			page.States += string(state) + " "
		}
	}
	page.States += toSign
	for _, other := range facts.Lists {
		if other.ID != id {
			page.Lists = append(page.Lists, listToDo{Href: "/inspections/new?list=" + string(other.ID), Title: other.Title})
		}
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	walks, err := v.desk.Walks(v.ctx())
	if err != nil {
		return err
	}
	for _, w := range walks {
		on := 0
		if w.List.Version != list.Version {
			on = w.List.Version
		}
		switch address := "/inspections/" + string(w.ID); {
		case w.List.ID != id:
		case w.Person == v.person.ID && facts.Overtaken(w.List, w.Began, v.now): // begun again it goes on, with what was entered
		case w.Person == v.person.ID:
			page.Mine, page.MineOn = address, on
		default:
			page.Others = append(page.Others, walkLine{Href: address, Title: w.List.Title, Who: names[w.Person], On: on})
		}
	}
	return v.show("inspection-new", page, problems)
}

// leftUnchecked counts what an inspection and its amendments leave without a look.
func leftUnchecked(in checklists.Inspection, amendments []checklists.Amendment) int {
	given := byItem(in.Answers)
	for _, a := range amendments {
		if a.Inspection == in.ID {
			for id, answer := range byItem(a.Answers) {
				given[id] = answer
			}
		}
	}
	left := 0
	for _, a := range given {
		if a.Result == checklists.NotChecked {
			left++
		}
	}
	return left
}

func dueWord(status checklists.DueStatus) plain.Sentence {
	switch status {
	case checklists.IsDone:
		return plain.Say("done")
	case checklists.IsDue:
		return plain.Say("due")
	case checklists.IsLate:
		return plain.Say("late")
	case checklists.IsMissed:
		return plain.Say("missed")
	case checklists.IsExcused:
		return plain.Say("excused")
	case checklists.NoShift, checklists.NotCalled:
		return plain.Say("not due")
	}
	return plain.Say("not known")
}

func (s *Server) beginInspection(v *visit) error {
	id := checklists.ListID(v.typed("list"))
	if _, err := v.desk.List(v.ctx(), id, 0); err != nil {
		return err
	}
	b := store.Beginning{List: id, Walk: walkID(v.typed("walk")), Seen: v.seen()}
	if v.waited != nil {
		b.Version, _ = strconv.Atoi(v.typed("version")) // what is no number is the one in force
	}
	begun, err := v.desk.BeginWalkAs(v.ctx(), v.submission(), b, v.person, v.now)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.newInspectionPage(id, problems)
	}
	return v.moveOn("/inspections/"+string(begun), "")
}

// walkID is an id that a page made for a walk to come, "" where it is none.
func walkID(typed string) checklists.InspectionID {
	if id, err := uuid.Parse(typed); err == nil && id.Version() == 7 && id.String() == typed {
		return checklists.InspectionID(typed)
	}
	return ""
}

// showInspection shows a walk while it is one, and what was signed after that.
func (s *Server) showInspection(v *visit) error {
	w, err := v.walk()
	if id := checklists.InspectionID(v.Params("id")); w.ID != "" && w.ID != id {
		return v.Redirect(v.inspection()+"?"+v.Context().QueryArgs().String(), fiber.StatusSeeOther)
	}
	switch {
	case errors.Is(err, errSigned):
		return v.signedPage(w.ID, walkForm{}, nil)
	case errors.Is(err, errAside):
		return v.asideWalkPage(w.ID)
	case errors.Is(err, store.ErrNotFound) && v.Query("list") != "" && v.person.Works():
		return v.walkToCome(checklists.ListID(v.Query("list")))
	case err != nil:
		return err
	}
	return v.walkPage(w, v.Query("state"), walkForm{}, nil)
}

// walkToCome shows a walk as it will be once it is begun, for a phone to keep.
func (v *visit) walkToCome(id checklists.ListID) error {
	w := store.Walk{ID: walkID(v.Params("id")), Person: v.person.ID, Began: v.now}
	if w.ID == "" {
		return store.ErrNotFound
	}
	inForce, err := v.desk.ListInForce(v.ctx(), id, v.now)
	if err != nil {
		return err
	}
	if w.List, err = v.desk.List(v.ctx(), id, inForce.Version); err != nil {
		return err
	}
	return v.walkPage(w, v.Query("state"), walkForm{}, nil)
}

// keepAnswers keeps what holds of one state's answers and shows the rest again.
func (s *Server) keepAnswers(v *visit) error {
	before, err := v.walk()
	if err != nil && !errors.Is(err, errSigned) {
		return err
	}
	w, form, problems, err := v.takeAnswers()
	if errors.Is(err, errSigned) {
		return v.signedMeanwhile()
	}
	if err != nil {
		return err
	}
	if len(problems) > 0 {
		return v.walkPage(w, v.typed("state"), form, problems)
	}
	if more, is := newlyAsked(before, w, checklists.MachineState(v.typed("state"))); is {
		return v.moveOn(v.inspection()+"?state="+v.typed("state")+"#f-"+string(more), "asks-more")
	}
	state, station, _ := strings.Cut(v.typed("next"), ".")
	to := v.inspection() + "?state=" + stepOf(w.List, state)
	if n, err := strconv.Atoi(station); err == nil {
		to += "#s" + strconv.Itoa(n)
	}
	return v.moveOn(to, "step")
}

// autosaveAnswers is sent by the page on each change: nothing is shown, and what
// doesn't hold yet is shown when the form itself is sent.
func (s *Server) autosaveAnswers(v *visit) error {
	w, _, problems, err := v.takeAnswers()
	switch {
	case errors.Is(err, errSigned) && v.waited != nil:
		return v.signedMeanwhile()
	case errors.Is(err, errSigned):
		return v.SendStatus(fiber.StatusConflict)
	case err != nil:
		return err
	case len(problems) > 0 && v.waited == nil:
		return v.SendStatus(fiber.StatusUnprocessableEntity)
	case len(problems) > 0:
		return v.tellProblems(sayingWhich(problems, w.List))
	}
	return v.SendStatus(fiber.StatusNoContent)
}

// errSigned: the walk is signed meanwhile, so nothing more is taken.
var errSigned = errors.New("this inspection is signed")

// inspection is the address of the walk or inspection, under its own id once it was
// looked up ([visit.walk]).
func (v *visit) inspection() string {
	if v.walked != "" {
		return "/inspections/" + string(v.walked)
	}
	return "/inspections/" + v.Params("id")
}

// walk loads the walk the address names, by its own id or the name a phone gave
// it; for one that is signed errSigned, with its id.
func (v *visit) walk() (store.Walk, error) {
	id := checklists.InspectionID(v.Params("id"))
	w, err := v.walkOf(id)
	if errors.Is(err, store.ErrNotFound) {
		if known, wrong := v.desk.WalkNamed(v.ctx(), id); wrong != nil || known != id {
			if wrong != nil {
				return w, wrong
			}
			w, err = v.walkOf(known)
		}
	}
	v.walked = w.ID
	return w, err
}

func (v *visit) walkOf(id checklists.InspectionID) (store.Walk, error) {
	w, err := v.desk.Walk(v.ctx(), id)
	if errors.Is(err, store.ErrNotFound) {
		if _, _, signed := v.desk.Inspection(v.ctx(), id); signed == nil {
			return store.Walk{ID: id}, errSigned
		}
		return v.asideOr(id, err)
	}
	return w, err
}

// signedMeanwhile moves on to what was signed. What a phone kept is told to its
// person, unless it was signed just so.
func (v *visit) signedMeanwhile() error {
	if v.waited == nil {
		return v.moveOn(v.inspection(), "")
	}
	in, _, err := v.desk.Inspection(v.ctx(), v.walked)
	if err != nil {
		return err
	}
	list, err := v.desk.List(v.ctx(), in.List, in.Version)
	if err != nil {
		return err
	}
	form, err := v.readAnswers(list.Asks(), in.Answers)
	if err != nil {
		return err
	}
	signed := byItem(in.Answers)
	differs := slices.ContainsFunc(form.Answers, func(a checklists.Answer) bool { return !same(a, signed[a.Item]) })
	if !differs && len(form.Problems) == 0 {
		return v.moveOn(v.inspection(), "")
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	v.goOn(v.inspection())
	return v.tell(fiber.StatusConflict, plain.Say("This check was signed meanwhile, by %s. Look at it; what you found and it doesn't say you enter there, or as a defect.", names[in.Signer]))
}

// takeAnswers keeps the answers sent and returns the walk as it then stands.
func (v *visit) takeAnswers() (store.Walk, walkForm, plain.Problems, error) {
	w, err := v.walk()
	if err != nil {
		return w, walkForm{}, nil, err
	}
	v.goOn(v.inspection() + "?state=" + v.typed("state"))
	form, err := v.readAnswers(w.List.Asks(), w.Answers)
	if err != nil {
		return w, form, nil, err
	}
	if len(form.Answers)+len(form.Same)+len(form.Back) > 0 {
		sent := store.Sent{Answers: form.Answers, Same: form.Same, Back: form.Back, Saved: v.wholeNumber("saved"), Seen: v.seen()}
		if read := v.wholeNumber("read"); read > 0 {
			sent.Read = time.UnixMilli(read)
		}
		if v.waited != nil && len(form.Problems) == 0 {
			sent.Submission = v.submission()
		}
		if err := v.desk.TakeSent(v.ctx(), w.ID, sent, v.person, v.now); err != nil {
			if v.waited != nil {
				v.waited.conflict = errors.Is(err, store.ErrMeanwhile)
			}
			problems, err := problemsOf(err)
			if err != nil {
				return w, form, nil, err
			}
			form.Problems = append(form.Problems, problems...)
		}
		if w, err = v.desk.Walk(v.ctx(), w.ID); err != nil {
			return w, form, nil, err
		}
	}
	return w, form, form.Problems, nil
}

// wholeNumber reads a whole number above nought, 0 for anything else.
func (v *visit) wholeNumber(field string) int64 {
	n, err := strconv.ParseInt(v.typed(field), 10, 64)
	if err != nil || n < 0 {
		return 0
	}
	return n
}

// beginAgain is where a walk that was overtaken is begun anew, with what was entered.
func beginAgain(w store.Walk) string { return "/inspections/new?list=" + string(w.List.ID) }

// finishInspection keeps that the walk waits for its signature: it was finished
// without contact, and no PIN is asked or kept.
func (s *Server) finishInspection(v *visit) error {
	w, err := v.walk()
	if err == nil {
		v.goOn(v.inspection() + "?state=" + toSign)
		err = v.desk.FinishWalk(v.ctx(), v.submission(), w.ID, v.person, v.seen(), v.now)
		if err == nil {
			return v.moveOn(v.inspection()+"?state="+toSign, "finished")
		}
		if problems, other := problemsOf(err); other == nil {
			facts, err := v.desk.Facts(v.ctx(), v.now)
			if err != nil {
				return err
			}
			if facts.Overtaken(w.List, w.Began, v.now) {
				v.goOn(beginAgain(w))
			}
			return v.walkPage(w, toSign, walkForm{}, problems)
		}
		if errors.Is(err, store.ErrNotFound) {
			_, err = v.walk() // signed in this very moment
		}
	}
	if !errors.Is(err, errSigned) {
		return err
	}
	in, _, err := v.desk.Inspection(v.ctx(), v.walked)
	if err != nil || in.Signer != v.person.ID && v.waited != nil {
		if err == nil {
			err = v.signedMeanwhile()
		}
		return err
	}
	return v.moveOn(v.inspection(), "")
}

// askRunCheck asks leave to turn the machines ticked.
func (s *Server) askRunCheck(v *visit) error {
	w, err := v.walk()
	signed := errors.Is(err, errSigned)
	if err != nil && !signed {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	var machines []procedures.EquipmentID
	for _, e := range plant {
		if v.typed("turn."+string(e.ID)) != "" {
			machines = append(machines, e.ID)
		}
	}
	var problems plain.Problems
	problems.Unless(len(machines) > 0, "turn", "tick the machine you are going to turn")
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) == 0 {
		if problems, err = problemsOf(v.desk.AllowRunCheck(v.ctx(), v.submission(), w.ID, machines, v.person, v.now)); err != nil {
			return err
		}
	}
	switch {
	case len(problems) > 0 && signed:
		return v.signedPage(w.ID, walkForm{}, problems)
	case len(problems) > 0:
		return v.walkPage(w, string(checklists.Running), walkForm{}, problems)
	}
	return v.moveOn(v.inspection()+"?state="+string(checklists.Running), "run-check")
}

func (s *Server) signInspection(v *visit) error {
	w, err := v.walk()
	if err != nil && !errors.Is(err, errSigned) {
		return err
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		_, err := v.desk.SignInspection(v.ctx(), v.submission(), w.ID, v.person, v.now, phoneTime(v.typed("phone"), v.now))
		if err == nil {
			return v.moveOn(v.inspection(), "signed")
		}
		if !errors.Is(err, store.ErrNotFound) {
			if problems, err = problemsOf(err); err != nil {
				return err
			}
		}
	}
	if w, err = v.walk(); errors.Is(err, errSigned) {
		return v.moveOn(v.inspection(), "")
	}
	if err != nil {
		return err
	}
	return v.walkPage(w, toSign, walkForm{}, problems)
}

// phoneTime reads the phone's own clock as the page's script sends it,
// "milliseconds since 1970, minutes east of UTC". Zero for none, and for one so
// far off that it tells nothing.
func phoneTime(typed string, now time.Time) time.Time {
	first, second, _ := strings.Cut(typed, " ")
	ms, err := strconv.ParseInt(first, 10, 64)
	east, wrong := strconv.Atoi(second)
	const furthest = 14 * 60 // of any zone, in minutes
	if err != nil || wrong != nil || east < -furthest || east > furthest {
		return time.Time{}
	}
	phone := time.UnixMilli(ms).In(time.FixedZone("", east*60))
	if phone.Before(now.AddDate(-10, 0, 0)) || phone.After(now.AddDate(10, 0, 0)) {
		return time.Time{}
	}
	return phone
}
