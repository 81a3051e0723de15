package server

import (
	"fmt"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// liftsShown is how many kept lifts the list shows; the record has them all.
const liftsShown = 25

type liftsPage struct {
	*views.Frame
	Lifts []liftLine
	Waits []waitLine // typed without contact, nobody has looked at them
	Crew  bool
}

type liftLine struct {
	Standing       *standingView // nil for a NO-GO
	Href, What, By string
	Badge          views.Badge
	At             time.Time
	Upper          plain.Kilograms
}

func (s *Server) lifts(v *visit) error {
	kept, err := v.desk.Lifts(v.ctx(), liftsShown)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	page := liftsPage{Frame: v.frame("Lifts kept: %d", len(kept)), Crew: v.person.Works()}
	if len(kept) == liftsShown {
		page.Title = plain.Say("Lifts kept: the last %d", liftsShown)
	}
	read := make(map[string]*judged, len(kept))
	for _, l := range kept {
		j, err := readLift(l)
		if err != nil {
			return err
		}
		read[l.ID] = &j
	}
	stands, err := v.standings(kept, read)
	if err != nil {
		return err
	}
	for _, l := range kept {
		j := read[l.ID]
		line := liftLine{Href: "/lifts/" + l.ID, What: pieceLine(page.Frame, &j.Lift.Piece), By: names[l.By],
			Badge: page.LiftBadge(l.Go).AsSmall(), At: l.At, Upper: j.Verdict.Weight.Upper}
		if s, ok := stands[l.ID]; ok {
			said := standingSaid(s, j)
			if line.Standing = &said; !s.Stands {
				line.Badge = page.WasGo().AsSmall()
			}
		}
		page.Lifts = append(page.Lifts, line)
	}
	if page.Waits, err = v.waits(checklists.Facts{}, names); err != nil {
		return err
	}
	return v.show("lifts", page, nil)
}

type keptLiftPage struct {
	*views.Frame
	ID      string
	Answer  *liftAnswer
	By      string
	At      time.Time
	Rig     views.Place
	Hoist   string
	Lands   string
	Facts   []fact
	Asks    []askLine
	Tags    []string // links whose tag could not be read
	Record  string
	Again   string
	Version int
	Scale   scaleForm
	Weighed *weighedLine // what the scale showed, nil before
	Weighs  bool         // may enter what the scale showed
	Asides  bool         // may put a reading aside
	Weight  string       // unit of a bare number

	Standing *standingView    // whether it still stands, nil for a NO-GO
	Covers   []plain.Sentence // which further pieces
	Run      []runLine
	Lifted   int    // of the run, as a GO
	Crew     bool   // may lift another of the run, and report a shock load
	AsSet    string // how the yoke and the legs were set
}

// Signing is the box in which a reading of the scale is signed.
func (p keptLiftPage) Signing() views.Sign {
	return p.SignBox(p.T("I read this off the scale with this piece hanging free."), p.T("Sign and keep the reading"))
}

// fact is one line of what was entered.
type fact struct{ Name, Value string }

func (s *Server) keptLift(v *visit) error {
	l, err := v.desk.Lift(v.ctx(), v.Params("id"))
	if err != nil {
		return err
	}
	return v.keptLiftPage(l, scaleForm{Submission: store.NewID()}, nil)
}

func (v *visit) keptLiftPage(l store.Lift, scale scaleForm, problems plain.Problems) error {
	j, err := readLift(l)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := keptLiftPage{Frame: v.frame("%s", liftTitle(&j)), ID: l.ID, By: names[l.By], At: l.At, Version: l.RigVersion,
		Rig: views.Place{Href: "/rigs/" + l.Rig, Text: plain.Say("%s", j.Lift.Rig.Name)}, Hoist: nameIn(plant, l.Hoist), Lands: nameIn(plant, l.LandsOn)}
	page.Answer = answerTo(page.Frame, &j, names[j.SignedBy])
	page.Answer.Kept = true
	page.Answer.remedyKept(&j)
	if err := page.stand(v, l, &j); err != nil {
		return err
	}
	page.AsSet = asSet(page.Frame, &j.Lift.Rig)
	page.Facts = pieceFacts(page.Frame, &j.Lift)
	for _, q := range j.Lift.Rig.Asks() {
		page.Asks = append(page.Asks, askLine{q.Field, page.Say(q.Said), page.T("%s", answerSaid(*j.Lift.Questions.At(q.Field)))})
	}
	for _, link := range j.Lift.Rig.Links {
		if !link.TagReadable {
			page.Tags = append(page.Tags, link.Name)
		}
	}
	page.Problems = problems
	page.Scale, page.Weighs, page.Asides = scale, v.person.Works() && j.Lift.Piece.Species != (lift.Species{}), v.person.Supervises()
	page.Weight = newReader(v.typedIn).weight.String()
	if page.Weighed, err = v.weighedOf(page.Frame, l.ID); err != nil {
		return err
	}
	if v.person.Works() {
		page.Again = again(l.Rig, l.LandsOn, &j.Lift, v.typedIn)
	}
	entries, _, err := v.desk.Entries(v.ctx(), store.Filter{Subject: l.ID, Kind: store.KindLift, Limit: 1})
	if err != nil {
		return err
	}
	if len(entries) == 1 {
		page.Record = fmt.Sprintf("/record/%d", entries[0].Seq)
	}
	return v.show("lift", page, problems)
}

// weighedOf is what the scale showed for that lift, nil where nothing is kept.
func (v *visit) weighedOf(f *views.Frame, id string) (*weighedLine, error) {
	kept, err := v.desk.Weighed(v.ctx())
	if err != nil {
		return nil, err
	}
	all := weighedPage{Frame: f}
	if err := all.fill(kept); err != nil {
		return nil, err
	}
	for i := range all.Lines {
		if all.Lines[i].weighing.Lift == id {
			return &all.Lines[i], nil
		}
	}
	return nil, nil
}

func answerSaid(a lift.Answer) plain.Sentence {
	switch a {
	case lift.Yes:
		return plain.Say("yes")
	case lift.No:
		return plain.Say("no")
	}
	return plain.Say("not answered")
}
