package store

import (
	"context"
	"time"

	"stillsaw/checklists"
)

// Remindable loads what reminders follow from beside the facts, as of one moment.
func (m *Mill) Remindable(ctx context.Context, facts checklists.Facts, now time.Time) (r checklists.Remindable, err error) {
	r.Facts = facts
	if r.Actions, err = m.OpenIncidentActions(ctx); err != nil {
		return r, err
	}
	if r.Safety, r.Looks, err = m.Safety(ctx); err != nil {
		return r, err
	}
	states, err := m.ProgramState(ctx, now)
	if err != nil {
		return r, err
	}
	for _, state := range states {
		r.Procedures = append(r.Procedures, checklists.ProcedureDue{ID: state.Procedure.ID, Title: state.Procedure.Title, Due: state.Due})
	}
	if r.Trainings, err = m.Trainings(ctx); err != nil {
		return r, err
	}
	if r.Gear, err = m.gearDue(ctx, now); err != nil {
		return r, err
	}
	if r.Card, err = m.EmergencyCard(ctx); err != nil {
		return r, err
	}
	r.Backups, err = m.Backups(ctx)
	return r, err
}

// gearDue is when each part of each rig in force is to be inspected next, by the
// register.
func (m *Mill) gearDue(ctx context.Context, now time.Time) ([]checklists.GearDue, error) {
	known, err := m.Gear(ctx, "")
	if err != nil {
		return nil, err
	}
	var all []checklists.GearDue
	for _, version := range known.Register.Versions {
		if !version.InForce {
			continue
		}
		rig := known.Registered(version.Rig, now)
		for _, l := range rig.Links {
			all = append(all, checklists.GearDue{Rig: version.Rig.ID, RigName: rig.Name, Link: l.ID, LinkName: l.Name, Due: l.InspectionDue})
		}
	}
	return all, nil
}
