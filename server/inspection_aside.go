package server

import (
	"errors"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// errAside refuses what goes to a walk that is not to be signed.
var errAside error = plain.Refuse("", "It was said of this check that it is not to be signed. Go through the list anew; what you found and it doesn't say you enter there, or as a defect.")

type asidePage struct {
	*views.Frame
	Address, Submission, Reason string
	Said                        plain.Sentence
	Stops                       int
}

// asideSaid is what a page shows of a walk that is not to be signed.
type asideSaid struct {
	checklists.Aside
	Who   string // who said so
	Anew  string // address to go through the list
	Until plain.Sentence
}

// waitingWalk is the walk the address names, finished without contact and waiting for
// its signature; ErrNotFound for any other.
func (v *visit) waitingWalk() (store.Walk, checklists.Unsigned, error) {
	w, err := v.walk()
	if err != nil {
		return w, checklists.Unsigned{}, err
	}
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return w, checklists.Unsigned{}, err
	}
	for _, u := range facts.Unsigned {
		if u.Inspection == w.ID && !u.IsAside() {
			return w, u, u.MayAnswer(v.person)
		}
	}
	return w, checklists.Unsigned{}, store.ErrNotFound
}

func (s *Server) showSetAside(v *visit) error {
	return v.setAsidePage(nil)
}

func (v *visit) setAsidePage(problems plain.Problems) error {
	w, u, err := v.waitingWalk()
	if moved, err := v.movedOn(err); moved || err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := asidePage{Frame: v.frame("%s: not to be signed?", u.Title), Address: v.inspection(), Submission: v.submission(), Reason: v.typed("reason"),
		Said: plain.Say("%[1]s, finished without contact by %[2]s, %[3]s", u.Title, names[u.By], u.Seen), Stops: len(checklists.Stops(w.ID, w.List, w.Answers))}
	return v.show("set-aside", page, problems)
}

// movedOn leads to what became of a walk that does not wait any more.
func (v *visit) movedOn(err error) (bool, error) {
	if errors.Is(err, errSigned) || errors.Is(err, errAside) || v.walked != "" && errors.Is(err, store.ErrNotFound) {
		return true, v.moveOn(v.inspection(), "")
	}
	return false, err
}

func (s *Server) setAside(v *visit) error {
	w, _, err := v.waitingWalk()
	if moved, err := v.movedOn(err); moved || err != nil {
		return err
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		if problems, err = problemsOf(v.desk.SetAside(v.ctx(), v.submission(), w.ID, v.typed("reason"), v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.setAsidePage(problems)
	}
	return v.moveOn(v.inspection(), "aside")
}

// asideWalkPage shows a walk that is not to be signed, with all that was answered.
func (v *visit) asideWalkPage(id checklists.InspectionID) error {
	s, seq, err := v.desk.AsideWalk(v.ctx(), id)
	if err != nil {
		return err
	}
	page, _, err := v.signedAs(checklists.Inspection{ID: s.Inspection, List: s.List, Version: s.Version, Title: s.Title, Answers: s.Given, Signer: s.By, Began: s.Began, At: s.Aside.At}, seq, nil, unseen{})
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	page.Aside = &asideSaid{Aside: s.Aside, Who: names[s.Aside.By], Until: plain.Say("The list was gone through anew and signed since.")}
	for _, u := range facts.Waiting(v.now) {
		if u.Inspection == s.Inspection {
			page.Aside.Until = plain.Say("What it checks is held until somebody has gone through the list anew and signed.")
			page.Aside.Anew = "/inspections/new?list=" + string(s.List)
		}
	}
	page.Title = plain.Say("%s: not to be signed", s.Title)
	return v.show("inspection", page, nil)
}

// asideOr is the refusal for a walk that is not to be signed, or err for any other.
func (v *visit) asideOr(id checklists.InspectionID, err error) (store.Walk, error) {
	_, _, known := v.desk.AsideWalk(v.ctx(), id)
	switch {
	case known == nil:
		v.goOn("/inspections/" + string(id))
		return store.Walk{ID: id}, errAside
	case !errors.Is(known, store.ErrNotFound):
		err = known
	}
	return store.Walk{}, err
}

// setAsideSaid says in the record that a walk is not to be signed.
func (t teller) setAsideSaid(s checklists.SetAside) plain.Sentence {
	said := plain.Say("%[1]s: finished without contact by %[2]s and not to be signed. Why: %[3]s", s.Title, t.who(s.By), s.Aside.Reason)
	if s.Aside.Reason == "" {
		said = plain.Say("%[1]s: finished without contact by %[2]s and not to be signed.", s.Title, t.who(s.By))
	}
	return said
}
