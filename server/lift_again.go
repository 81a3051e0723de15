package server

import (
	"stillsaw/procedures/lift"
	"stillsaw/server/store"
)

// lastAgain is the address of a fresh form with the piece that was kept last,
// "" where none was, or with a rig no longer in force.
func (v *visit) lastAgain() (string, error) {
	kept, err := v.desk.Lifts(v.ctx(), 1)
	if err != nil || len(kept) == 0 {
		return "", err
	}
	rigs, err := v.desk.InForce(v.ctx(), store.Rigs)
	if err != nil {
		return "", err
	}
	for _, rig := range rigs {
		if rig.ID == kept[0].Rig {
			j, err := readLift(kept[0])
			return again(kept[0].Rig, kept[0].LandsOn, &j.Lift, v.mill.Units), err
		}
	}
	return "", nil
}

// remedy fills in what would make the lift a GO, each proven by the rules.
func (a *liftAnswer) remedy(l *lift.Lift) {
	for _, one := range lift.Remedies(*l) {
		a.Remedies = append(a.Remedies, one.Said())
	}
}
