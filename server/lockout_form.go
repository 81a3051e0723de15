package server

import (
	"slices"
	"strconv"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// report is what one form says was done: events in order, each with the field a
// refusal of it stands beside.
type report struct {
	act    string
	events []procedures.Event
	fields []string
	photo  string
	photos map[procedures.StepID]string // of the steps that ask for one each
	again  func(field string) string    // what was typed, to show it again
	locks  []string                     // own numbers to pick from
	tell   []string                     // who is affected, by name
}

func (r *report) add(field string, e procedures.Event) {
	r.events, r.fields = append(r.events, e), append(r.fields, field)
}

// reportLockout takes what one person did. Nothing is stored unless all of it is
// allowed.
func (s *Server) reportLockout(v *visit) error {
	l, err := v.desk.Lockout(v.ctx(), procedures.LockoutID(v.Params("id")))
	if err != nil {
		return err
	}
	r := report{act: v.Params("act"), again: v.typed}
	if !v.person.Works() && !slices.Contains([]string{actOff, actLeave, actTold}, r.act) {
		return v.notForTheRole()
	}
	if v.typed("more") == "yes" { // one more row on the form, nothing to report yet
		return v.lockoutPage(l, r, nil)
	}
	again, err := v.desk.Answered(v.ctx(), v.submission())
	if err != nil {
		return err
	}
	if again {
		return v.moveOn("/lockouts/"+string(l.ID), doneWord(l, r.act))
	}
	problems, err := v.readReport(&r, l)
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		if problems, err = v.signReport(r, l); err != nil {
			return err
		}
	}
	if len(problems) == 0 {
		err := v.desk.LockoutEvents(v.ctx(), v.submission(), l.ID, r.events, v.person, v.now)
		if problems, err = problemsOf(err); err != nil {
			return err
		}
		problems = r.placed(problems)
	}
	if len(problems) > 0 {
		return v.lockoutPage(l, r, problems)
	}
	return v.moveOn("/lockouts/"+string(l.ID), doneWord(l, r.act))
}

// doneWord names the flash after an act in l, as it stood before.
func doneWord(l procedures.Lockout, act string) string {
	switch act {
	case actRestore:
		return "restored"
	case actHandOver:
		return "taken-over"
	case actEnergize:
		return "test-on"
	case actTestEnd:
		return "test-over"
	case actTold:
		if !l.Open() {
			return "told-over"
		}
		return "told"
	}
	return "step"
}

// signReport asks the PIN where something in r is signed. When that fails the
// rules are asked as well, so that everything wrong shows at once.
func (v *visit) signReport(r report, l procedures.Lockout) (plain.Problems, error) {
	signed := false
	for _, e := range r.events {
		signed = signed || l.Signed(e)
	}
	if !signed {
		return nil, nil
	}
	problems, err := v.sign()
	if err != nil || len(problems) == 0 {
		return nil, err
	}
	if refused, _ := problemsOf(l.ApplyTogether(r.dated(v), v.person)); refused != nil {
		problems = append(r.placed(refused), problems...)
	}
	return problems, nil
}

// dated is the events as the store will date them.
func (r report) dated(v *visit) []procedures.Event {
	events := make([]procedures.Event, len(r.events))
	for i, e := range r.events {
		e.Person = v.person.ID
		if e.At.IsZero() {
			e.At = v.now
		}
		events[i] = e
	}
	return events
}

// placed moves what was refused of an event to the event's field.
func (r report) placed(refused plain.Problems) plain.Problems {
	for i := range refused {
		position, part, _ := strings.Cut(refused[i].Field, ".")
		if at, err := strconv.Atoi(position); err == nil && at < len(r.fields) {
			refused[i].Field = placeOf(r.events[at], r.fields[at], part)
		}
	}
	return refused
}

// saidOnce parts what was refused of several steps for one reason: the reason once,
// for the top of the page, and a mark for each step it is about.
func saidOnce(problems plain.Problems) (once, marked plain.Problems) {
	times, said := map[string]int{}, map[string]bool{}
	for _, p := range problems {
		times[p.Want.String()]++
	}
	for _, p := range problems {
		why := p.Want.String()
		if times[why] == 1 {
			once = append(once, p)
			continue
		}
		if !said[why] {
			once = append(once, plain.Problem{Want: p.Want})
		}
		said[why] = true
		marked.Unless(p.Field == "", p.Field, "Not taken yet: see the top of the page.")
	}
	return once, marked
}

// readReport turns the form into events.
func (v *visit) readReport(r *report, l procedures.Lockout) (plain.Problems, error) {
	var problems plain.Problems
	if err := v.readEvents(r, l, &problems); err != nil {
		return nil, err
	}
	at, late := v.happened(v.typed("happened"), &problems)
	if late {
		for i := range r.events {
			r.events[i].At, r.events[i].Late = at, true
		}
	}
	wrong, err := v.readPhotos(r, l)
	if last := len(r.events) - 1; last >= 0 {
		if r.photo != "" {
			r.events[last].Photo = r.photo
		}
		if r.events[last].Kind != procedures.Energized { // its note says what moves
			r.events[last].Note = v.typed("note")
		}
	}
	return append(problems, wrong...), err
}

func (s *Server) showLockout(v *visit) error {
	l, err := v.desk.Lockout(v.ctx(), procedures.LockoutID(v.Params("id")))
	if err != nil {
		return err
	}
	nothing := func(string) string { return "" }
	return v.lockoutPage(l, report{act: v.Query("act"), again: nothing}, nil)
}
