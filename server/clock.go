package server

import (
	"time"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) clockRoutes() {
	s.get("/clock", signedIn, s.showClock)
	s.post("/clock", supervisors, s.confirmClock)
}

// clockPage is what is to know of the computer's clock when it stands before
// the newest entry.
type clockPage struct {
	*views.Frame
	Submission string
	Newest     time.Time // latest time an entry has
	Confirmed  time.Time // zero: never
	Behind     bool
	MayConfirm bool
}

func (s *Server) showClock(v *visit) error { return v.clockPage(nil) }

func (v *visit) clockPage(problems plain.Problems) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	page := clockPage{Frame: v.frame("The clock: nothing to confirm"), Submission: store.NewID(), Newest: facts.LastEntry,
		Confirmed: facts.ClockConfirmed, Behind: facts.ClockBehind(v.now)}
	if page.Behind {
		page.Title = plain.Say("The clock stands before the newest entry: all held")
		page.MayConfirm = v.person.Supervises()
	}
	if len(problems) > 0 {
		page.Submission = v.typed("submission")
	}
	page.Problems = problems
	v.Set("Cache-Control", "no-store")
	return v.show("clock", page, problems)
}

func (s *Server) confirmClock(v *visit) error {
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		if problems, err = problemsOf(v.desk.ConfirmClock(v.ctx(), v.submission(), v.person, v.now)); err != nil {
			return err
		}
	}
	if len(problems) > 0 {
		return v.clockPage(problems)
	}
	return v.moveOn("/", "clock")
}
