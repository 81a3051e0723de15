package store

import (
	"slices"
	"time"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// uses is when a rig, or the hoist it hangs on, is known to have been used or
// looked over as a whole, once for each day: lifts allowed with it, signed
// inspections by a list that has items of the hoist, its versions put in force.
func uses(r reader, mill, rig string) ([]time.Time, error) {
	var all []time.Time
	daily := func(rows *gorm.DB) error {
		var at []int64
		err := rows.Group("at / 86400000").Select("max(at)").Scan(&at).Error
		for _, one := range at {
			all = append(all, timeOf(one))
		}
		return err
	}
	if err := daily(r.gorm().Table("publications").Where("mill = ? AND sort = ? AND id = ?", mill, Rigs, rig)); err != nil || len(all) == 0 {
		return nil, err
	}
	if err := daily(r.gorm().Table("lifts").Where("mill = ? AND rig = ? AND go = ?", mill, rig, true)); err != nil {
		return nil, err
	}
	lists, err := hoistLists(r, mill, rig)
	if err != nil {
		return nil, err
	}
	err = daily(r.gorm().Table("inspections").Where("mill = ? AND list IN ?", mill, lists))
	return all, err
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
		l, err := read[checklists.List](p.Doc)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(hoists, l.Covers) {
			lists = append(lists, l.ID)
		}
	}
	return lists, nil
}
