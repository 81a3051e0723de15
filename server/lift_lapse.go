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
// stood.
func standing(l store.Lift, j *judged, since store.Since, now time.Time) checklists.LiftStanding {
	if !l.Go {
		return checklists.LiftStanding{Why: []plain.Sentence{plain.Say("it was a NO-GO")}}
	}
	var events []lift.Event
	if since.Version != l.RigVersion {
		events = append(events, lift.Event{Kind: lift.GearChanged})
	}
	asked := j.Lift
	asked.Rig = registered(j.Lift.Rig, since.Gear, now)
	for i := range asked.Rig.Links {
		if asked.Rig.Links[i].State != j.Lift.Rig.Links[i].State {
			events = append(events, lift.Event{Kind: lift.GearChanged})
		}
	}
	return checklists.StandsStill(since.Facts, l.Hoist, l.LandsOn, &asked, &j.Verdict, since.Found, events, now)
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
			all[l.ID] = standing(l, read[l.ID], store.Since{Facts: checklists.Facts{Mill: v.mill}}, v.now)
			continue
		}
		open = append(open, l)
	}
	since, err := v.desk.Since(v.ctx(), v.now, open...)
	if err != nil {
		return nil, err
	}
	for _, l := range open {
		all[l.ID] = standing(l, read[l.ID], since[l.ID], v.now)
	}
	return all, nil
}

// standingView is whether a kept GO still stands, for a page.
type standingView struct {
	Stands bool
	Until  time.Time
	Said   plain.Sentence
	Why    []plain.Sentence
}

func standingSaid(s checklists.LiftStanding) standingView {
	view := standingView{Stands: s.Stands, Until: s.Until, Why: s.Why, Said: plain.Say("The check no longer stands.")}
	if s.Stands {
		view.Said = plain.Say("The check stands until %s, if nothing happens to the gear before.", s.Until)
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
