package server

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

type waitingPage struct {
	*views.Frame
	Mine, Others []waitLine
	None         views.Empty
}

// waitLine is something that was done without contact and waits for somebody to
// look at it and sign.
type waitLine struct {
	Href string
	Said plain.Sentence
	At   time.Time // it came here
	Mine bool
}

// showWaiting lists what waits for the reader's signature, and for those of others.
func (s *Server) showWaiting(v *visit) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := waitingPage{Frame: v.frame("Nothing waits for your signature")}
	waits, err := v.waits(facts, names)
	if err != nil {
		return err
	}
	for _, w := range waits {
		if w.Mine {
			page.Mine = append(page.Mine, w)
		} else {
			page.Others = append(page.Others, w)
		}
	}
	if n := len(page.Mine); n > 0 {
		page.Title = plain.Say("Waits for your signature: %d", n)
	}
	page.None = page.EmptyList(page.T("What is done without contact comes here once the phone has contact. Nothing of it counts before it is signed."), "", "")
	return v.show("waiting", page, nil)
}

// waiting is what waits for the signature of who is signed in.
func (v *visit) waiting(facts checklists.Facts, names map[procedures.PersonID]string) ([]waitLine, error) {
	if !v.person.Works() {
		return nil, nil
	}
	waits, err := v.waits(facts, names)
	var mine []waitLine
	for _, w := range waits {
		if w.Mine {
			mine = append(mine, w)
		}
	}
	return mine, err
}

// waits is everything that waits for a signature at the mill, the oldest first:
// checks, then lifts.
func (v *visit) waits(facts checklists.Facts, names map[procedures.PersonID]string) ([]waitLine, error) {
	var all []waitLine
	for _, u := range facts.Unsigned {
		if u.IsAside() {
			continue
		}
		all = append(all, waitLine{Href: "/inspections/" + string(u.Inspection) + "?state=" + toSign, At: u.At, Mine: u.By == v.person.ID,
			Said: plain.Say("%[1]s, finished without contact by %[2]s, %[3]s", u.Title, names[u.By], u.Seen)})
	}
	lifts, err := v.desk.LiftWaits(v.ctx(), "")
	for _, l := range lifts {
		all = append(all, waitLine{Href: "/lifts/new?waiting=" + l.ID, At: l.At, Mine: l.Person == v.person.ID,
			Said: plain.Say("A lift, typed without contact by %[1]s, %[2]s", names[l.Person], l.Seen)})
	}
	return all, err
}
