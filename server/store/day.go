package store

import (
	"context"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// Day is what a page shows of one local day.
type Day struct {
	Lists       []checklists.List // the versions in force at the day's end
	Inspections []checklists.Inspection
	Excuses     []checklists.Excuse // of what started by the day's end
	Raised      []checklists.Defect // by server time
	Mended      []checklists.Defect // as they then were
	Returned    []checklists.Defect
	Departures  []checklists.Departure // by when they happened
	Lockouts    []procedures.Lockout   // begun that day, as they stand now
	Go, NoGo    int                    // lifts
}

// dayMost bounds what one day shows of a sort.
const dayMost = 500

// Day loads the day from one local midnight to the next. Inspections reach back
// and on as far as any schedule's period does.
func (m *Mill) Day(ctx context.Context, from, until time.Time) (d Day, err error) {
	r := ctxReader{m, ctx}
	var versions []publicationRow
	err = r.gorm().Order("title, id").Find(&versions, `mill = @mill AND sort = @sort AND version = (
		SELECT max(version) FROM publications AS newer WHERE newer.mill = @mill AND newer.sort = publications.sort AND newer.id = publications.id AND newer.at < @until
		AND NOT EXISTS (SELECT 1 FROM releases WHERE releases.mill = @mill AND releases.list = newer.id AND releases.version = newer.version AND releases.effective >= @until))`,
		map[string]any{"mill": m.id, "sort": Lists, "until": millis(until)}).Error
	if err != nil {
		return d, err
	}
	for _, row := range versions {
		l, err := read[checklists.List](row.Doc)
		if err != nil {
			return d, err
		}
		d.Lists = append(d.Lists, l)
		back := reach
		switch l.Schedule.Every {
		case checklists.EachShift, checklists.EachDay:
			back = 48 * time.Hour
		case checklists.EachWeek:
			back = 8 * 24 * time.Hour
		}
		var signed []inspectionRow
		err = r.gorm().Order("at DESC").Limit(dayMost).Find(&signed, "mill = ? AND list = ? AND at >= ? AND at < ?", m.id, l.ID, millis(from.Add(-back)), millis(until.Add(48*time.Hour))).Error
		if err != nil {
			return d, err
		}
		for i := range signed {
			d.Inspections = append(d.Inspections, signed[i].Doc)
		}
	}
	var excuses []excuseRow
	if err := r.gorm().Order("starts, id").Find(&excuses, "mill = ? AND starts > ? AND starts < ?", m.id, millis(from.Add(-reach)), millis(until)).Error; err != nil {
		return d, err
	}
	for i := range excuses {
		d.Excuses = append(d.Excuses, excuses[i].Doc)
	}
	return d, m.dayActs(ctx, from, until, &d)
}

func (m *Mill) dayActs(ctx context.Context, from, until time.Time, d *Day) error {
	r := ctxReader{m, ctx}
	var raised []defectRow
	if err := r.gorm().Order("at, id").Limit(dayMost).Find(&raised, "mill = ? AND at >= ? AND at < ?", m.id, millis(from), millis(until)).Error; err != nil {
		return err
	}
	for i := range raised {
		d.Raised = append(d.Raised, raised[i].Doc)
	}
	var lockouts []lockoutRow
	if err := r.gorm().Order("at, id").Limit(dayMost).Find(&lockouts, "mill = ? AND at >= ? AND at < ?", m.id, millis(from), millis(until)).Error; err != nil {
		return err
	}
	for i := range lockouts {
		d.Lockouts = append(d.Lockouts, lockouts[i].Doc)
	}
	mill, err := one[millRow](r, "mill", "id = ?", m.id)
	if err != nil {
		return err
	}
	zone, err := mill.Doc.LocationAt(from)
	if err != nil {
		return err
	}
	for _, kind := range []string{KindMended, KindReturned, KindDeparture} {
		entries, _, err := m.Entries(ctx, Filter{Day: from.In(zone).Format(time.DateOnly), Kind: kind, Limit: dayMost})
		if err != nil {
			return err
		}
		for _, e := range entries {
			switch body := e.Body.(type) {
			case checklists.Defect:
				if kind == KindMended {
					d.Mended = append(d.Mended, body)
				} else {
					d.Returned = append(d.Returned, body)
				}
			case checklists.Departure:
				d.Departures = append(d.Departures, body)
			}
		}
	}
	var counts []struct {
		Went bool
		N    int
	}
	err = r.gorm().Raw("SELECT go AS went, count(*) AS n FROM lifts WHERE mill = ? AND at >= ? AND at < ? GROUP BY go", m.id, millis(from), millis(until)).Scan(&counts).Error
	for _, c := range counts {
		if c.Went {
			d.Go = c.N
		} else {
			d.NoGo = c.N
		}
	}
	return err
}
