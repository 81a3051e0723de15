package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// Remindable loads what reminders follow from beside the facts, as of one moment.
func (m *Mill) Remindable(ctx context.Context, facts checklists.Facts, now time.Time) (r checklists.Remindable, err error) {
	r.Facts = facts
	kept, err := m.registers(ctx, now)
	if err != nil {
		return r, err
	}
	r.Actions, r.Safety, r.Looks, r.Trainings, r.Gear, r.Card = kept.Actions, kept.Safety, kept.Looks, kept.Trainings, kept.Gear, kept.Card
	due, err := m.InspectionsDue(ctx, now)
	if err != nil {
		return r, err
	}
	for _, p := range due {
		r.Procedures = append(r.Procedures, checklists.ProcedureDue{ID: p.ID, Title: p.Title, Due: p.Due})
	}
	r.Backups, err = m.Backups(ctx)
	return r, err
}

// registers are what reminders follow from and only entries of the record change, as
// it was up to a head of the log. Every first page asks for them. Whoever gets them
// doesn't change them.
type registers struct {
	Actions   []checklists.IncidentAction
	Safety    []checklists.SafetyItem
	Looks     []checklists.SafetyCheck
	Trainings []procedures.Training
	Gear      []checklists.GearDue // no later moment changes when a part is due, only what standing idle asks of it
	Card      checklists.EmergencyCard

	head logHeadRow
}

// upTo tells whether they are those of the record up to that head.
func (r *registers) upTo(head logHeadRow) bool {
	return r.head.Size == head.Size && bytes.Equal(r.head.Root, head.Root)
}

// registers gives them from what is kept where no entry was made since, else from the
// tables.
func (m *Mill) registers(ctx context.Context, now time.Time) (*registers, error) {
	s, r := m.s.kept, ctxReader{m, ctx}
	head, err := logHeadOf(r, m.id)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return nil, err
	}
	var known *registers
	forgotten := 0
	if s != nil {
		s.mu.Lock()
		known, forgotten = s.registers[m.id], s.forgotten
		s.mu.Unlock()
	}
	if known != nil && known.upTo(head) && !s.checksNow() {
		return known, nil
	}
	made, err := m.loadRegisters(ctx, now)
	if err != nil || s == nil {
		return made, err
	}
	after, err := logHeadOf(r, m.id)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return nil, err
	}
	made.head = after
	if !made.upTo(head) {
		return made, nil // an entry was made meanwhile: they may be of either side of it
	}
	if known != nil && known.upTo(head) {
		return made, known.heldAgainst(made)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.forgotten == forgotten {
		for mill := range s.registers { // in no order
			if len(s.registers) < factsMills {
				break
			}
			delete(s.registers, mill)
		}
		s.registers[m.id] = made
	}
	return made, nil
}

func (m *Mill) loadRegisters(ctx context.Context, now time.Time) (*registers, error) {
	var r registers
	var err error
	if r.Actions, err = m.OpenIncidentActions(ctx); err != nil {
		return nil, err
	}
	if r.Safety, r.Looks, err = m.Safety(ctx); err != nil {
		return nil, err
	}
	if r.Trainings, err = m.Trainings(ctx); err != nil {
		return nil, err
	}
	gear, err := m.Gear(ctx, "")
	if err != nil {
		return nil, err
	}
	r.Gear = gear.due(now)
	r.Card, err = m.EmergencyCard(ctx)
	return &r, err
}

// heldAgainst compares kept registers with those loaded anew, see [CheckKeptFacts].
func (r *registers) heldAgainst(anew *registers) error {
	one, err := json.Marshal(r)
	if err != nil {
		return err
	}
	other, err := json.Marshal(anew)
	if err != nil {
		return err
	}
	if !bytes.Equal(one, other) {
		return fmt.Errorf("registers kept in memory differ from the tables at entry %d: %.2000s against %.2000s", r.head.Size, one, other)
	}
	return nil
}

// due is when each part of each rig in force is to be inspected next, by the
// register.
func (g Gear) due(now time.Time) []checklists.GearDue {
	var all []checklists.GearDue
	for _, version := range g.Register.Versions {
		if !version.InForce {
			continue
		}
		rig := g.Registered(version.Rig, now)
		for _, l := range rig.Links {
			all = append(all, checklists.GearDue{Rig: version.Rig.ID, RigName: rig.Name, Link: l.ID, LinkName: l.Name, Due: l.InspectionDue})
		}
	}
	return all
}
