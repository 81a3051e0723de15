package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// EnterIncident keeps that somebody was hurt, something broke, or nearly so,
// together with the stop defect or departure that holds its equipment, or
// nothing of it. Of typed count what [checklists.EnterIncident] says.
func (m *Mill) EnterIncident(ctx context.Context, submission string, typed checklists.Incident, held checklists.Holding, by procedures.Person, at time.Time) (checklists.IncidentID, error) {
	result, err := m.do(ctx, submission, "incident", at, func(tx *Tx, at time.Time) (string, error) {
		facts, err := tx.facts(m.id, at)
		if err != nil {
			return "", err
		}
		i, err := checklists.EnterIncident(checklists.IncidentID(NewID()), typed, held, by.ID, facts.Plant, at)
		if err != nil {
			return "", err
		}
		switch held {
		case checklists.HoldByStop:
			var d checklists.Defect
			i, d = i.Stops(checklists.DefectID(NewID()))
			_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(d.ID)}, &defectBody{newDefectPart(d)})
		case checklists.HoldByDeparture:
			var d checklists.Departure
			i, d = i.Departs(checklists.DepartureID(NewID()))
			_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: d.Happened, Subject: string(d.ID)}, &departureBody{newDeparturePart(d)})
		}
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: i.Happened, Subject: string(i.ID)}, newIncidentBody(i))
		return string(i.ID), err
	})
	return checklists.IncidentID(result), err
}

// ActAfterIncident says what is to be done after an incident: of a what, who and
// when count.
func (m *Mill) ActAfterIncident(ctx context.Context, submission string, id checklists.IncidentID, a checklists.IncidentAction, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "incident-action", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[incidentRow](tx, "incident", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		to, err := personOrNone(tx, m.id, a.Person)
		if err != nil {
			return "", err
		}
		made, err := row.Doc.Act(checklists.IncidentActionID(NewID()), a.What, to, a.Due, by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, &incidentActionBody{newIncidentActionPart(made)})
		return string(made.ID), err
	})
	return err
}

// ReportIncidentAction reports something that was to be done after the incident
// as done.
func (m *Mill) ReportIncidentAction(ctx context.Context, submission string, incident checklists.IncidentID, id checklists.IncidentActionID, done string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "incident-action-done", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[incidentActionRow](tx, "action", "mill = ? AND incident = ? AND id = ?", m.id, incident, id)
		if err != nil {
			return "", err
		}
		a, err := row.Doc.Report(done, by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(incident)}, &incidentActionDoneBody{newIncidentActionPart(a)})
		return string(id), err
	})
	return err
}

// CloseIncident ends an incident with a supervisor's reason.
func (m *Mill) CloseIncident(ctx context.Context, submission string, id checklists.IncidentID, reason string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "close-incident", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[incidentRow](tx, "incident", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		confirmed, err := clockConfirmed(tx, m.id)
		if err != nil {
			return "", err
		}
		actions, err := incidentActions(tx, m.id, id)
		if err != nil {
			return "", err
		}
		i, err := row.Doc.Redated(confirmed, at).Close(actions, by, reason, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, newIncidentClosedBody(i))
		return string(id), err
	})
	return err
}

// LearnHarm enters what harm was learnt of after the incident was entered, and
// when the mill was told.
func (m *Mill) LearnHarm(ctx context.Context, submission string, id checklists.IncidentID, harm checklists.Harm, known time.Time, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "incident-harm", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[incidentRow](tx, "incident", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		i, err := row.Doc.Learned(harm, known.UTC(), by, at)
		if err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Happened: known.UTC(), Subject: string(id)}, &incidentHarmBody{IncidentHarm{id, i.Equipment, harm, known.UTC()}})
		return string(id), err
	})
	return err
}

// Incident loads one incident.
func (m *Mill) Incident(ctx context.Context, id checklists.IncidentID) (checklists.Incident, error) {
	row, err := one[incidentRow](ctxReader{m, ctx}, "incident", "mill = ? AND id = ?", m.id, id)
	return row.Doc, err
}

// Incidents lists incidents, newest first, at most limit of them.
func (m *Mill) Incidents(ctx context.Context, open bool, limit int) ([]checklists.Incident, error) {
	var rows []incidentRow
	err := m.gorm().WithContext(ctx).Order("at DESC, id DESC").Limit(limit).Find(&rows, "mill = ? AND open = ?", m.id, open).Error
	incidents := make([]checklists.Incident, len(rows))
	for i := range rows {
		incidents[i] = rows[i].Doc
	}
	return incidents, err
}

// IncidentActions lists what is done after an incident, oldest first.
func (m *Mill) IncidentActions(ctx context.Context, id checklists.IncidentID) ([]checklists.IncidentAction, error) {
	return incidentActions(ctxReader{m, ctx}, m.id, id)
}

func incidentActions(r reader, mill checklists.MillID, id checklists.IncidentID) ([]checklists.IncidentAction, error) {
	return actionsWhere(r, "mill = ? AND incident = ?", mill, id)
}

// OpenIncidentActions lists everything still to be done after incidents, oldest first.
func (m *Mill) OpenIncidentActions(ctx context.Context) ([]checklists.IncidentAction, error) {
	return actionsWhere(ctxReader{m, ctx}, "mill = ? AND open = ?", m.id, true)
}

func actionsWhere(r reader, condition string, args ...any) ([]checklists.IncidentAction, error) {
	var rows []incidentActionRow
	err := r.gorm().Order("at, id").Find(&rows, append([]any{condition}, args...)...).Error
	actions := make([]checklists.IncidentAction, len(rows))
	for i := range rows {
		actions[i] = rows[i].Doc
	}
	return actions, err
}
