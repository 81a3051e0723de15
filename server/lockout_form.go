package server

import (
	"errors"
	"slices"
	"strconv"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// What one may report on a lockout: the last part of the form's address.
const (
	actSteps     = "steps"
	actWork      = "work"
	actJoin      = "join"
	actVerify    = "verify" // zero proven again
	actLeave     = "leave"
	actOvernight = "overnight"
	actEnd       = "end"
	actRestore   = "restore"
	actCancel    = "cancel"
)

// report is what one form says was done: events in order, each with the field a
// refusal of it stands beside.
type report struct {
	act    string
	events []procedures.Event
	fields []string
	photo  string
	again  func(field string) string // what was typed, to show it again
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
	done := "step"
	if r.act == actRestore {
		done = "restored"
	}
	return v.moveOn("/lockouts/"+string(l.ID), done)
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
		if at, err := strconv.Atoi(refused[i].Field); err == nil && at < len(r.fields) {
			refused[i].Field = r.fields[at]
		}
	}
	return refused
}

// readReport turns the form into events.
func (v *visit) readReport(r *report, l procedures.Lockout) (plain.Problems, error) {
	var problems plain.Problems
	switch r.act {
	case actSteps:
		v.readSteps(r, l)
		problems.Unless(len(r.events) > 0, "", "tick what you have done, or give your lock's number; nothing was reported yet")
	case actRestore:
		v.readSteps(r, l)
		r.add("", procedures.Event{Kind: procedures.Restored})
	case actWork:
		r.add("", procedures.Event{Kind: procedures.WorkBegan})
	case actJoin:
		v.readJoin(r, l)
	case actVerify:
		v.readAgain(r, l, &problems)
	case actLeave:
		r.add("", procedures.Event{Kind: procedures.LeftJob})
	case actOvernight:
		until, err := v.moment(v.typed("until"))
		problems.Unless(err == nil, "until", "until when it stays locked: a day and time to come, as 2026-03-02T06:30")
		r.add("until", procedures.Event{Kind: procedures.LeftOvernight, Until: until})
	case actEnd:
		r.add("", procedures.Event{Kind: procedures.WorkEnded})
	case actCancel:
		r.add("", procedures.Event{Kind: procedures.Cancelled})
	default:
		return nil, store.ErrNotFound
	}
	at, late := v.happened(v.typed("happened"), &problems)
	if late {
		for i := range r.events {
			r.events[i].At, r.events[i].Late = at, true
		}
	}
	wrong, err := v.readPhoto(r)
	if last := len(r.events) - 1; last >= 0 {
		r.events[last].Note, r.events[last].Photo = v.typed("note"), r.photo
	}
	for i, e := range r.events { // the picture is of each step that asks for one
		if asksPhoto(l.Procedure, e.Step) {
			r.events[i].Photo = r.photo
		}
	}
	return append(problems, wrong...), err
}

// readPhoto keeps the picture sent, or goes on with the one kept when the form
// came before.
func (v *visit) readPhoto(r *report) (plain.Problems, error) {
	digest, problems, err := v.photo("photo")
	if err != nil || len(problems) > 0 {
		return problems, err
	}
	if r.photo = digest; digest != "" || v.typed("photo_kept") == "" {
		return nil, nil
	}
	_, err = v.desk.Photo(v.ctx(), v.typed("photo_kept"))
	if errors.Is(err, store.ErrNotFound) {
		return plain.Problems{{Field: "photo", Want: plain.Say("the photo once more; the one sent before is not here")}}, nil
	}
	r.photo = v.typed("photo_kept")
	return nil, err
}

// readSteps collects the steps ticked and the locks put on or taken off, in the
// procedure's order. Whether it is their turn the rules say.
func (v *visit) readSteps(r *report, l procedures.Lockout) {
	inspected := -1
	for _, s := range l.Procedure.Steps {
		id, device := string(s.ID), string(s.Device)
		switch locked := lockable(l.Procedure, s.Device); {
		case locked && s.Stage == procedures.Apply:
			if number := v.typed("lock." + device); number != "" {
				r.add("lock."+device, procedures.Event{Kind: procedures.LockApplied, Device: s.Device, Lock: number, Position: positionOf(l.Procedure, s.Device)})
			}
		case locked && s.Stage == procedures.RemoveLocks:
			if v.typed("off."+device) == "yes" {
				r.add("off."+device, procedures.Event{Kind: procedures.LockRemoved, Device: s.Device, Lock: v.ownLock(l, s.Device)})
			}
		case v.typed("step."+id) == "yes":
			e := procedures.Event{Kind: procedures.StepDone, Step: s.ID, Proof: s.Proof, OffBack: v.typed("offback."+id) == "yes", Told: v.typed("told." + id)}
			if s.Stage == procedures.InspectArea {
				inspected = len(r.events)
			}
			if hangsTag(l.Procedure, s) {
				v.readTag(s, &e)
			}
			r.add("step."+id, e)
		}
	}
	if inspected >= 0 {
		r.events[inspected].Tools = v.typed("tools") == "yes"
	}
}

// ownLock is the number of the signed-in person's lock on a device, "" for none.
func (v *visit) ownLock(l procedures.Lockout, device procedures.DeviceID) string {
	for _, lock := range l.LocksOn() {
		if lock.Owner == v.person.ID && lock.Device == device {
			return lock.Number
		}
	}
	return ""
}

func lockable(p procedures.Procedure, id procedures.DeviceID) bool {
	for _, d := range p.Devices {
		if d.ID == id {
			return d.Lockable
		}
	}
	return false
}

func asksPhoto(p procedures.Procedure, id procedures.StepID) bool {
	return slices.ContainsFunc(p.Steps, func(s procedures.Step) bool { return s.ID == id && s.AsksPhoto })
}

// readJoin signs somebody on with a lock on the box with the keys, or on the
// first device, and puts the others on after that.
func (v *visit) readJoin(r *report, l procedures.Lockout) {
	kind := procedures.Joined
	if number := v.typed("box"); number != "" {
		r.add("box", procedures.Event{Kind: kind, Lock: number})
		kind = procedures.LockApplied
	}
	for _, d := range l.Procedure.Devices {
		field := "lock." + string(d.ID)
		if number := v.typed(field); number != "" {
			r.add(field, procedures.Event{Kind: kind, Device: d.ID, Lock: number, Position: positionOf(l.Procedure, d.ID)})
			kind = procedures.LockApplied
		}
	}
	if len(r.events) == 0 {
		r.add("box", procedures.Event{Kind: kind})
	}
}

func (v *visit) readAgain(r *report, l procedures.Lockout, problems *plain.Problems) {
	var again, offBack []procedures.StepID
	for _, s := range l.Procedure.Steps {
		if v.typed("step."+string(s.ID)) == "yes" {
			again = append(again, s.ID)
		}
		if v.typed("offback."+string(s.ID)) == "yes" {
			offBack = append(offBack, s.ID)
		}
	}
	e, err := l.Reverification(again, offBack)
	problems.Add("step.", err)
	r.add("", e)
}

func (s *Server) showLockout(v *visit) error {
	l, err := v.desk.Lockout(v.ctx(), procedures.LockoutID(v.Params("id")))
	if err != nil {
		return err
	}
	nothing := func(string) string { return "" }
	return v.lockoutPage(l, report{act: v.Query("act"), again: nothing}, nil)
}
