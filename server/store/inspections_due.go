package store

import (
	"context"
	"time"

	"stillsaw/procedures"
)

// ProcedureDue is a procedure in force and when its yearly inspection is due.
type ProcedureDue struct {
	ID    procedures.ProcedureID
	Title string
	Due   procedures.InspectionDue
}

// inspectionDates are the three days the next inspection follows from; 0 where
// there is none.
type inspectionDates struct {
	ID, Title              string
	First, Inspected, Used int64
}

// InspectionsDue lists when each procedure in force is to be inspected next, by
// title, 29 CFR 1910.147(c)(6)(i). It is one query however many there are, since
// every front page asks.
func (m *Mill) InspectionsDue(ctx context.Context, now time.Time) ([]ProcedureDue, error) {
	var rows []inspectionDates
	err := m.gorm().WithContext(ctx).Raw(`SELECT newest.id, newest.title, first.at AS first,
			COALESCE((SELECT max(at) FROM procedure_inspections WHERE mill = @mill AND procedure = newest.id AND at <= @now), 0) AS inspected,
			COALESCE((SELECT max(at) FROM lockouts WHERE mill = @mill AND procedure = newest.id), 0) AS used
		FROM publications AS newest JOIN publications AS first ON first.mill = @mill AND first.sort = newest.sort AND first.id = newest.id AND first.version = 1
		WHERE newest.mill = @mill AND newest.sort = @sort AND newest.version = (
			SELECT max(version) FROM publications WHERE mill = @mill AND sort = newest.sort AND id = newest.id)
		ORDER BY newest.title, newest.id`, map[string]any{"mill": m.id, "sort": Procedures, "now": millis(now)}).Scan(&rows).Error
	all := make([]ProcedureDue, len(rows))
	for i, row := range rows {
		id := procedures.ProcedureID(row.ID)
		all[i] = ProcedureDue{id, row.Title, row.due(id, now)}
	}
	return all, err
}

func (d inspectionDates) due(id procedures.ProcedureID, now time.Time) procedures.InspectionDue {
	var inspected []procedures.ProcedureInspection
	if d.Inspected > 0 {
		inspected = append(inspected, procedures.ProcedureInspection{Procedure: id, On: timeOf(d.Inspected)})
	}
	var used []time.Time
	if d.Used > 0 {
		used = append(used, timeOf(d.Used))
	}
	return procedures.NextInspection(id, timeOf(d.First), inspected, used, now)
}
