package server

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// standing tells whether the answer of a kept lift still stands. A NO-GO never
// stood. The error is a kept lift that can't be read.
func standing(l store.Lift, j *judged, since store.Since, now time.Time) (checklists.LiftStanding, error) {
	if !l.Go {
		return checklists.LiftStanding{Why: []plain.Sentence{plain.Say("it was a NO-GO")}}, nil
	}
	events := weighedEvents(since.Readings)
	if since.Version != l.RigVersion {
		events = append(events, lift.Event{Kind: lift.GearChanged})
	}
	rig := j.Lift.Rig
	rig.ID = l.Rig // what entries name it by
	looked, taken := since.Gear.Register.Of(&rig)
	events = append(events, lift.Unfit(&j.Lift, looked, taken)...)
	asked := j.Lift
	asked.Rig = registered(j.Lift.Rig, since.Gear, now)
	for i := range asked.Rig.Links {
		if asked.Rig.Links[i].State != j.Lift.Rig.Links[i].State {
			events = append(events, lift.Event{Kind: lift.GearChanged})
		}
	}
	s := checklists.StandsStill(since.Facts, l.Hoist, l.LandsOn, &asked, &j.Verdict, since.Found, events, now)
	if !s.Stands {
		return s, nil
	}
	why, err := refusedToday(l, j, since, now)
	if err != nil {
		return checklists.LiftStanding{}, err
	}
	s.Why, s.Stands = why, len(why) == 0
	return s, nil
}

// weighedEvents are the readings of the scale for one lift. One that a supervisor
// put aside is none; one kept before it is not undone by it.
func weighedEvents(readings []store.Weighing) (events []lift.Event) {
	for _, w := range readings {
		if !w.Aside {
			events = append(events, lift.Event{Kind: lift.ScaleShowed, At: w.At, Mass: plain.Kilograms(w.Reading - w.Gear)})
		}
	}
	return events
}

// refusedToday judges the kept lift once more by what scale, register and
// signatures say now, and tells why it would be no GO.
func refusedToday(l store.Lift, j *judged, since store.Since, now time.Time) (why []plain.Sentence, err error) {
	today, err := judge(j.Lift, since.LiftFacts, l.Hoist, l.LandsOn, now)
	if err != nil {
		return nil, err
	}
	today.SignedBy = j.SignedBy
	if today.allowed() {
		return nil, nil
	}
	for _, f := range today.Verdict.Findings {
		if f.Blocks || today.Verdict.Go && f.Rule == lift.MarginRule {
			why = append(why, plain.Say("by what is known today it is no GO: %s", f.Said))
		}
	}
	if len(why) == 0 {
		why = append(why, plain.Say("by what is known today it is no GO"))
	}
	return why, nil
}

// standings are those of several kept lifts, by id; only a GO has one.
func (v *visit) standings(kept []store.Lift, read map[string]*judged) (map[string]checklists.LiftStanding, error) {
	all := make(map[string]checklists.LiftStanding, len(kept))
	var open []store.Lift
	for _, l := range kept {
		if !l.Go {
			continue
		}
		// Of most the shift is over, and nothing else need be asked.
		if ends, err := v.mill.LiftEnds(read[l.ID].Lift.Now); err == nil && !v.now.Before(ends) {
			over := store.Since{LiftFacts: store.LiftFacts{Facts: checklists.Facts{Mill: v.mill}}}
			if all[l.ID], err = standing(l, read[l.ID], over, v.now); err != nil {
				return nil, err
			}
			continue
		}
		open = append(open, l)
	}
	since, err := v.desk.Since(v.ctx(), v.now, open...)
	if err != nil {
		return nil, err
	}
	for _, l := range open {
		if all[l.ID], err = standing(l, read[l.ID], since[l.ID], v.now); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// standingView is whether a kept GO still stands, for a page.
type standingView struct {
	Stands bool
	Until  time.Time
	Said   plain.Sentence
	Why    []plain.Sentence
	Alone  plain.Sentence // why no further piece shares it, though it stands
}

func standingSaid(s checklists.LiftStanding, j *judged) standingView {
	view := standingView{Stands: s.Stands, Until: s.Until, Why: s.Why, Said: plain.Say("The check no longer stands.")}
	if s.Stands {
		view.Said = plain.Say("The check stands until %s, if nothing happens to the gear before.", s.Until)
		_, view.Alone = lift.Shares(&j.Lift, &j.Verdict)
	}
	return view
}

type shockPage struct {
	*views.Frame
	Submission string
	Hoists     []views.Choice
}

// showShock is the first tap; the hoist is the second.
func (s *Server) showShock(v *visit) error { return v.shockPage(nil) }

func (v *visit) shockPage(problems plain.Problems) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := shockPage{Frame: v.frame("Shock load: dropped, snatched or bumped"), Submission: store.NewID()}
	page.Problems = problems
	for _, e := range plant {
		if e.Kind == procedures.Hoist {
			page.Hoists = append(page.Hoists, views.Choice{Value: string(e.ID), Text: e.Name})
		}
	}
	return v.show("lift-shock", page, problems)
}

func (s *Server) reportShock(v *visit) error {
	id, err := v.desk.ReportShockLoad(v.ctx(), v.submission(), procedures.EquipmentID(v.typed("equipment")), v.person, v.now)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.shockPage(problems)
	}
	return v.moveOn("/defects/"+string(id), "shocked")
}
