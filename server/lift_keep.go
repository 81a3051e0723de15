package server

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

// KeepLift judges l on what is reported in the mill at that time and keeps it
// with its answer, GO or not; it returns the kept lift's id. Of kept the rig
// with its version, the hoist and where the load is set down count. signer is
// who signed for more than the house margin, "" for nobody.
func KeepLift(ctx context.Context, desk *store.Mill, submission string, kept store.Lift, l lift.Lift, signer procedures.PersonID, by procedures.Person, at time.Time) (string, error) {
	return desk.KeepLift(ctx, submission, kept, by, at, func(facts store.LiftFacts) (store.Judged, error) {
		now, err := judge(l, facts, kept.Hoist, kept.LandsOn, at)
		if err != nil {
			return store.Judged{}, err
		}
		if now.Verdict.NeedsSupervisor {
			now.SignedBy = signer
		}
		return now.keep()
	})
}

// judge asks the rules, with what is reported elsewhere in the mill and what
// the register of gear says and the mill's own scale has shown.
func judge(l lift.Lift, facts store.LiftFacts, hoist, lands procedures.EquipmentID, now time.Time) (judged, error) {
	l.Now, l.Holds = now, checklists.LiftHolds(facts.Facts, hoist, lands, now)
	weighings, err := weighingsOf(facts.Weighed)
	if err != nil {
		return judged{}, err
	}
	l.Rig = registered(l.Rig, facts.Gear, now)
	l.Piece.Learned = learnedOf(weighings, facts, l.Piece.Species, l.Piece.Condition)
	l.Piece = heaviestSawn(l.Piece, weighings, facts)
	return judged{Lift: l, Verdict: lift.Check(l), Track: trackOf(facts.Plant, lands)}, nil
}

// heaviestSawn is the piece with the heaviest of the mill's own list in place of a
// kind nobody knows.
func heaviestSawn(p lift.Piece, weighings []lift.Weighing, facts store.LiftFacts) lift.Piece {
	sawn := facts.Mill.SawnHere()
	var learned []lift.Learned
	for _, kind := range sawn {
		learned = append(learned, learnedOf(weighings, facts, kind, p.Condition))
	}
	return p.WithHeaviestOf(sawn, learned)
}

// learnedOf is what the mill's scale has shown of such wood, signed for where a
// supervisor did.
func learnedOf(weighings []lift.Weighing, facts store.LiftFacts, kind lift.Species, condition lift.Condition) lift.Learned {
	learned, _ := lift.Learn(weighings, kind, condition)
	return learned.SignedFor(lighterAllowed(facts.Lighter, kind.Scientific, condition))
}

// weighingsOf sets what the scale showed against what each piece, as it was
// entered, should have weighed. A piece of which nobody knew the kind teaches
// nothing and is passed over.
func weighingsOf(weighed []store.Weighed) ([]lift.Weighing, error) {
	var all []lift.Weighing
	for _, one := range weighed {
		w, fits, err := one.Reckoned(reckon)
		if err != nil {
			return nil, err
		}
		if fits {
			all = append(all, w)
		}
	}
	return all, nil
}

// reckon compares what the scale said with what was reckoned before the lift.
func reckon(one store.Weighed) (w lift.Weighing, fits bool, err error) {
	j, err := readLift(one.Lift)
	if err != nil {
		return w, false, err
	}
	if w, err = lift.CompareScale(j.Lift.Piece, one.Weighing.Reading, one.Weighing.Gear); err != nil {
		return w, false, nil // a piece no scale can teach of
	}
	w.Lift, w.Aside = one.Lift.ID, one.Weighing.Aside
	w.Lifted, w.At = one.Lift.Go, one.Lift.At
	return w, true, nil
}
