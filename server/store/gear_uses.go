package store

import (
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// usesWithin is the span of which only the first and the last use are told. It is
// shorter than any month, so that who is told these finds each month between two uses
// that follow each other, and no other.
const usesWithin = 20 * 24 * time.Hour

// uses is when a rig, or the hoist it hangs on, is known to have been used or
// looked over as a whole, the first and the last time in each [usesWithin]: lifts
// allowed with it, signed inspections by a list that has items of the hoist, its
// versions put in force.
func uses(r reader, mill, rig string) (all []time.Time, err error) {
	told := func(table, where string, args ...any) error {
		times, err := firstAndLast(r, table, where, args...)
		all = append(all, times...)
		return err
	}
	if err := told("publications", "mill = ? AND sort = ? AND id = ?", mill, Rigs, rig); err != nil || len(all) == 0 {
		return nil, err
	}
	if err := told("lifts", "mill = ? AND rig = ? AND go = ?", mill, rig, true); err != nil {
		return nil, err
	}
	lists, err := hoistLists(r, mill, rig)
	if err != nil {
		return nil, err
	}
	for _, list := range lists {
		if err := told("inspections", "mill = ? AND list = ?", mill, list); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// firstAndLast are the times of rows of a table, the first and the last of each
// [usesWithin]. With an index that ends in their time each is found at once, however
// many rows lie between them.
func firstAndLast(r reader, table, where string, args ...any) ([]time.Time, error) {
	of := "FROM " + table + " WHERE " + where
	const next = "(firsts.first / ? + 1) * ?"
	span := []any{usesWithin.Milliseconds(), usesWithin.Milliseconds()}
	var found []int64
	err := r.gorm().Raw(`WITH RECURSIVE firsts(first) AS (
			SELECT min(at) `+of+`
			UNION ALL
			SELECT (SELECT min(at) `+of+` AND at >= `+next+`) FROM firsts WHERE first IS NOT NULL)
		SELECT first FROM firsts WHERE first IS NOT NULL
		UNION
		SELECT (SELECT max(at) `+of+` AND at < `+next+`) FROM firsts WHERE first IS NOT NULL`,
		slices.Concat(args, args, span, args, span)...).Scan(&found).Error
	times := make([]time.Time, len(found))
	for i, at := range found {
		times[i] = timeOf(at)
	}
	return times, err
}

// hoistLists are the lists in force with items of the hoist the rig hangs on.
// Of several hoists it is those it was last lifted with.
func hoistLists(r reader, mill, rig string) ([]checklists.ListID, error) {
	equipment, err := plant(r, checklists.MillID(mill))
	if err != nil {
		return nil, err
	}
	var hoists []procedures.EquipmentID
	for _, e := range equipment {
		if e.Kind == procedures.Hoist {
			hoists = append(hoists, e.ID)
		}
	}
	if len(hoists) > 1 {
		var rows []liftRow
		if err := r.gorm().Order("at DESC").Limit(20).Find(&rows, "mill = ? AND rig = ? AND go = ?", mill, rig, true).Error; err != nil {
			return nil, err
		}
		hoists = nil
		for i := range rows {
			hoists = append(hoists, rows[i].Doc.Hoist)
		}
	}
	published, err := inForce(r, checklists.MillID(mill), Lists)
	if err != nil {
		return nil, err
	}
	var lists []checklists.ListID
	for _, p := range published {
		l, err := readOnce[checklists.List](r, p.Doc)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(hoists, l.Covers) {
			lists = append(lists, l.ID)
		}
	}
	return lists, nil
}
