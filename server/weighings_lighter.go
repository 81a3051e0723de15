package server

import (
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// lighterAllowed tells whether a supervisor's word stands that such wood may be
// taken for lighter than published.
func lighterAllowed(signed []store.Lighter, kind string, condition lift.Condition) bool {
	for _, one := range signed {
		if one.Kind == kind && one.Condition == condition {
			return one.Allowed
		}
	}
	return false
}

// signLighter keeps a supervisor's word on one kind of wood, or takes it back.
func (s *Server) signLighter(v *visit) error {
	submission := v.submission()
	problems, err := v.sign()
	if err != nil {
		return err
	}
	kind, known := lift.FindSpecies(v.typed("kind"))
	condition, wrong := lift.ParseCondition(v.typed("condition"))
	problems.Unless(known && wrong == nil, "", "a kind of wood and its condition, as in the table")
	if len(problems) > 0 {
		return v.weighedPage(submission, kind.Scientific, condition.String(), problems)
	}
	word := store.Lighter{Kind: kind.Scientific, Condition: condition, Allowed: v.typed("allow") == "yes"}
	err = v.desk.SignLighter(v.ctx(), submission, word, v.person, v.now, func(kept []store.Weighed) (lift.Learned, error) {
		all, err := weighingsOf(kept)
		if err != nil {
			return lift.Learned{}, err
		}
		learned, _ := lift.Learn(all, kind, condition)
		return learned, nil
	})
	if err != nil {
		var more plain.Problems
		if more, err = problemsOf(err); err != nil {
			return err
		}
		return v.weighedPage(submission, kind.Scientific, condition.String(), more)
	}
	return v.moveOn("/lifts/weighed", "lighter")
}
