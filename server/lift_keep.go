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
	l.Now = at
	var err error
	if kept.Asked, kept.RigTexts, err = (&judged{Lift: l}).ask(); err != nil {
		return "", err
	}
	return desk.KeepLift(ctx, submission, kept, by, at, func(facts checklists.Facts) (store.Judged, error) {
		now := judge(l, facts, kept.Hoist, kept.LandsOn, at)
		if now.Verdict.NeedsSupervisor {
			now.SignedBy = signer
		}
		return now.keep()
	})
}
