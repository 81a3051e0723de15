package server

import (
	"errors"
	"net/url"
	"time"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// keepLiftWait keeps a lift as it was typed without contact. Nothing is answered:
// that is done when somebody looks.
func (s *Server) keepLiftWait(v *visit) error {
	v.goOn("/lifts/new?" + v.liftTyped().Encode())
	form, r, problems, err := v.liftSent()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		_, problems = form.lift(r.rig, v.typedIn)
	}
	if len(problems) > 0 {
		return v.liftPage(form, r, nil, problems)
	}
	seen := v.seen()
	if seen.IsZero() {
		seen = v.now
	}
	kept := v.liftTyped()
	kept.Set(measuresField, v.typedIn.String())
	if problems, err := problemsOf(v.desk.KeepLiftWait(v.ctx(), form.Submission, kept, v.person, seen, v.now)); len(problems) > 0 || err != nil {
		if err != nil {
			return err
		}
		return v.liftPage(form, r, nil, problems)
	}
	return v.moveOn("/lifts", "lift-wait")
}

// liftTyped is everything typed of a lift, and nothing of who sends it.
func (v *visit) liftTyped() url.Values {
	typed := url.Values{}
	for _, field := range v.keptFields("") {
		switch field.Name {
		case "submission", "person", "signer", "keep", "waiting", "saved", "read", "form":
			continue
		}
		if field.Value != "" {
			typed.Add(field.Name, field.Value)
		}
	}
	return typed
}

// liftWaiting is a lift that was typed without contact, as the page of it says.
type liftWaiting struct {
	ID, By string
	Seen   time.Time
	Over   string // address that ends the wait
}

// waitingLift finds the lift that waits under that id; none for "".
func (v *visit) waitingLift(id string) (*liftWaiting, store.LiftWait, error) {
	if id == "" {
		return nil, store.LiftWait{}, nil
	}
	w, err := v.desk.LiftWait(v.ctx(), id)
	if err != nil {
		return nil, w, err
	}
	names, err := v.names()
	return &liftWaiting{ID: w.ID, By: names[w.Person], Seen: w.Seen, Over: "/lifts/wait/" + w.ID + "/over"}, w, err
}

// showLiftWait shows a lift that waits, with its answer as things stand now. What
// was said at the hook then is asked again.
func (v *visit) showLiftWait(id string) error {
	_, w, err := v.waitingLift(id)
	if err != nil {
		return err
	}
	r, err := v.rigOf(w.Fields.Get("rig"))
	if errors.Is(err, store.ErrNotFound) {
		r, err = v.rigOf("")
	}
	if err != nil {
		return err
	}
	v.readAs(w.Fields.Get(measuresField)) // shown and read in the units it was typed in
	form := typedLift(w.Fields.Get, &r.rig)
	for i := range form.Answers {
		form.Answers[i] = ""
	}
	form.Submission, form.Waiting = store.NewID(), id
	l, problems := form.lift(r.rig, v.typedIn)
	if len(problems) > 0 || r.version == 0 {
		return v.liftPage(form, r, nil, problems)
	}
	facts, err := v.desk.LiftFacts(v.ctx(), r.id, v.now)
	if err != nil {
		return err
	}
	hoist, lands := hoistOf(facts.Plant, form.Hoist), procedures.EquipmentID(form.Lands)
	j, err := judge(l, facts, hoist, lands, v.now)
	if err != nil {
		return err
	}
	return v.liftPage(form, r, &j, nil)
}

// endLiftWait takes a lift that waits away, unkept.
func (s *Server) endLiftWait(v *visit) error {
	if err := v.desk.EndLiftWait(v.ctx(), v.Params("id"), v.person); err != nil {
		return err
	}
	return v.moveOn("/lifts", "wait-over")
}
