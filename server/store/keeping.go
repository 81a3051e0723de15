package store

import (
	"bytes"
	"errors"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// keepSortOf is the sort of record a kind of entry is of, "" for entries about the
// record itself, of which nothing is dropped.
func keepSortOf(kind string) checklists.KeepSort {
	switch kind {
	case KindInspection, KindUnsigned, KindSetAside, KindAmendment, KindRunCheck, KindEvent, KindExcuse:
		return checklists.KeepChecks
	case KindDefect, KindDescribed, KindMended, KindReturned, KindDefectAssigned, KindDefectRedated, KindDefectNoted:
		return checklists.KeepDefects
	case KindDeparture, KindDepartureClosed, KindIncident, KindIncidentAction, KindIncidentActionDone, KindIncidentClosed, KindIncidentHarm:
		return checklists.KeepIncidents
	case KindLift, KindLiftOfRun, KindWeighed, KindLighter:
		return checklists.KeepLifts
	case KindGearInspected, KindGearMeasured:
		return checklists.KeepGear
	case KindLockout, KindLock:
		return checklists.KeepLockouts
	case KindProcedureInspected, KindFindingSeenTo, KindProgram, KindTask, KindContractor, KindCoast, KindDeclaration:
		return checklists.KeepProgram
	case KindTraining:
		return checklists.KeepTraining
	case KindBlade, KindBladeAct, KindSafetyItem, KindSafetyCheck:
		return checklists.KeepRegisters
	case KindPublished, KindEquipment, KindEmergencyCard, KindMill:
		return checklists.KeepDocuments
	case KindPerson:
		return checklists.KeepPeople
	}
	return ""
}

// kindsOf are the kinds of entry of one sort of record.
func kindsOf(sort checklists.KeepSort) []string {
	var kinds []string
	for _, kind := range Kinds() {
		if keepSortOf(kind) == sort {
			kinds = append(kinds, kind)
		}
	}
	return kinds
}

// keeping is what is open, in use and held at one mill, against which it is
// decided what of an entry may go.
type keeping struct {
	r     reader
	mill  checklists.MillID
	now   time.Time
	holds []checklists.KeepHold
	open  map[string]bool // ids of defects, departures, incidents and lockouts under way
	here  map[procedures.PersonID]bool
	after map[string]time.Time // when something newer followed, by what was asked
	hangs *hanging
}

func keepingOf(r reader, mill checklists.MillID, now time.Time) (*keeping, error) {
	k := &keeping{r: r, mill: mill, now: now, open: map[string]bool{}, here: map[procedures.PersonID]bool{}, after: map[string]time.Time{}}
	var err error
	if k.holds, err = keepHolds(r, mill); err != nil {
		return nil, err
	}
	if k.hangs, err = hangingOf(r, mill); err != nil {
		return nil, err
	}
	var ids []string
	err = r.gorm().Raw(`SELECT id FROM defects WHERE mill = ? AND open UNION ALL SELECT id FROM departures WHERE mill = ? AND open
		UNION ALL SELECT id FROM incidents WHERE mill = ? AND open UNION ALL SELECT incident FROM incident_actions WHERE mill = ? AND open
		UNION ALL SELECT id FROM lockouts WHERE mill = ? AND open`, mill, mill, mill, mill, mill).Scan(&ids).Error
	if err != nil {
		return nil, err
	}
	for _, id := range ids {
		k.open[id] = true
	}
	all, err := people(r, mill)
	for _, p := range all {
		k.here[p.ID] = !p.Left
	}
	return k, err
}

func keepHolds(r reader, mill checklists.MillID) ([]checklists.KeepHold, error) {
	var rows []keepHoldRow
	err := r.gorm().Order("at DESC, id").Find(&rows, "mill = ?", mill).Error
	holds := make([]checklists.KeepHold, len(rows))
	for i, row := range rows {
		holds[i] = row.Doc
	}
	return holds, err
}

// kept is an entry as the rules of keeping see it. One that can't be read is of no
// sort: nothing of it goes.
func (k *keeping) kept(row entryRow, openings []record.Opening) (checklists.Kept, body, error) {
	opened, err := record.Read(row.Leaf, openings)
	if err != nil {
		return checklists.Kept{}, nil, nil
	}
	b, err := decode(row.Kind, row.Version, opened)
	if err != nil || b == nil {
		return checklists.Kept{}, nil, nil
	}
	kept := checklists.Kept{Sort: keepSortOf(row.Kind), Day: row.Day, With: k.hangs.sorts(row.Subject)}
	if kept.Over, err = k.over(row, b); err != nil {
		return checklists.Kept{}, nil, err
	}
	if kept.Over.After(k.now) {
		kept.Over = time.Time{} // what follows it is to come
	}
	var equipment []string
	err = k.r.gorm().Raw("SELECT equipment FROM entry_equipment WHERE mill = ? AND seq = ?", k.mill, row.Seq).Scan(&equipment).Error
	kept.Mentions = func(id string) bool {
		for _, one := range equipment {
			if one == id {
				return true
			}
		}
		return row.Actor == id || row.Subject == id || slices.Contains(k.hangs.on(row.Subject), id) || bytes.Contains(row.Leaf, []byte(`"`+id+`"`))
	}
	return kept, b, err
}

// over is when what an entry is about was over, zero while it is open or in use.
func (k *keeping) over(row entryRow, b body) (time.Time, error) {
	switch b := b.(type) {
	case *inspectionBody:
		return k.unlessOpen(row, defectIDs(b.Defects)...)
	case *amendmentBody:
		return k.unlessOpen(row, defectIDs(b.Defects)...)
	case *asideBody:
		return k.unlessOpen(row, defectIDs(b.Defects)...)
	case *defectBody, *describedBody, *mendedBody, *returnedBody, *assignedBody, *redatedBody, *notedBody,
		*departureBody, *departureClosedBody, *incidentBody, *incidentActionBody, *incidentActionDoneBody, *incidentClosedBody, *incidentHarmBody, *lockoutBody:
		return k.last(timeOf(row.At), append([]string{row.Subject}, k.hangs.on(row.Subject)...)...)
	case *gearInspectedBody:
		return nextLike(k, gearInspectionRow{}, "rig = ? AND link = ? AND at >= ? AND id <> ?", []any{b.Rig, b.Link, millis(b.At), b.ID},
			func(r gearInspectionRow) (time.Time, bool) { return timeOf(r.At), r.Doc.Every == b.Every })
	case *procedureInspectedBody:
		return k.certificate(b)
	case *findingSeenToBody:
		return k.newer(row, "kind = ?", KindProcedureInspected)
	case *coastBody:
		return k.newer(row, "kind = ? AND subject = ?", KindCoast, row.Subject)
	case *safetyCheckBody:
		return nextLike(k, safetyCheckRow{}, "item = ? AND at >= ? AND id <> ?", []any{b.Item, row.At, b.ID},
			func(r safetyCheckRow) (time.Time, bool) { return timeOf(r.At), r.Doc.Work == b.Work })
	case *taskBody, *contractorBody, *lockItemBody, *declarationBody, *bladeBody, *safetyItemBody, *lighterBody:
		return k.newer(row, "kind = ? AND subject = ?", row.Kind, row.Subject)
	case *publishedBody:
		return k.published(row, b)
	case *plantBody, *millBody, *emergencyCardBody, *programBody:
		return k.newer(row, "kind = ?", row.Kind)
	case *trainingBody:
		return k.left(b.Person, row)
	case *personBody:
		return k.left(b.ID, row)
	}
	return timeOf(max(row.At, row.Happened)), nil
}

func defectIDs(parts []defectPart) []string {
	ids := make([]string, len(parts))
	for i, part := range parts {
		ids[i] = string(part.ID)
	}
	return ids
}

// unlessOpen is when the entry was made and what it found was over, zero while one
// of those things is open.
func (k *keeping) unlessOpen(row entryRow, ids ...string) (time.Time, error) {
	return k.last(timeOf(max(row.At, row.Happened)), ids...)
}

// last is the time of the newest entry about some things, no earlier than since,
// and zero while one of them is open.
func (k *keeping) last(since time.Time, subjects ...string) (time.Time, error) {
	for _, subject := range subjects {
		if k.open[subject] {
			return time.Time{}, nil
		}
		key := "last " + subject
		at, known := k.after[key]
		if !known {
			var ms int64
			if err := k.r.gorm().Raw("SELECT coalesce(max(at), 0) FROM entries WHERE mill = ? AND subject = ?", k.mill, subject).Scan(&ms).Error; err != nil {
				return time.Time{}, err
			}
			at = timeOf(ms)
			k.after[key] = at
		}
		if at.After(since) {
			since = at
		}
	}
	return since, nil
}

// newer is the time of the first entry after row that stands in its place, zero
// while there is none.
func (k *keeping) newer(row entryRow, query string, args ...any) (time.Time, error) {
	var at int64
	err := k.r.gorm().Raw("SELECT at FROM entries WHERE mill = ? AND seq > ? AND "+query+" ORDER BY seq LIMIT 1", append([]any{k.mill, row.Seq}, args...)...).Scan(&at).Error
	return timeOf(at), err
}

// nextLike is the time of the first row that stands in the place of one, zero
// while there is none. Where rows say so, alike tells; of the same time both do.
func nextLike[R any](k *keeping, _ R, query string, args []any, alike func(R) (time.Time, bool)) (time.Time, error) {
	var rows []R
	if err := k.r.gorm().Where("mill = ?", k.mill).Where(query, args...).Order("at, id").Find(&rows).Error; err != nil {
		return time.Time{}, err
	}
	for _, row := range rows {
		if at, ok := alike(row); ok {
			return at, nil
		}
	}
	return time.Time{}, nil
}

// certificate: the newest of a procedure is in use, and one with a finding nobody
// has seen to is open.
func (k *keeping) certificate(b *procedureInspectedBody) (time.Time, error) {
	var done int64
	if err := k.r.gorm().Raw("SELECT count(*) FROM findings_seen_to WHERE mill = ? AND inspection = ?", k.mill, b.ID).Scan(&done).Error; err != nil {
		return time.Time{}, err
	}
	if done < int64(len(b.Findings)) {
		return time.Time{}, nil
	}
	return nextLike(k, procedureInspectionRow{}, "procedure = ? AND at >= ? AND id > ?", []any{b.Procedure, millis(b.On), b.ID},
		func(r procedureInspectionRow) (time.Time, bool) { return timeOf(r.At), true })
}

// published: a version in force is in use, and so is a procedure's that a lockout
// under way goes by.
func (k *keeping) published(row entryRow, b *publishedBody) (time.Time, error) {
	if b.Sort == Procedures {
		var open int64
		if err := k.r.gorm().Raw("SELECT count(*) FROM lockouts WHERE mill = ? AND procedure = ? AND open", k.mill, b.ID).Scan(&open).Error; err != nil || open > 0 {
			return time.Time{}, err
		}
	}
	var next publicationRow
	found := k.r.gorm().Order("version").Limit(1).Find(&next, "mill = ? AND sort = ? AND id = ? AND version > ?", k.mill, string(b.Sort), b.ID, b.Version)
	if found.Error != nil || found.RowsAffected == 0 {
		return time.Time{}, found.Error
	}
	force := next.At
	if b.Sort == Lists {
		if release, err := one[releaseRow](k.r, "release", "mill = ? AND list = ? AND version = ?", k.mill, b.ID, next.Version); err == nil {
			force = max(force, release.Effective)
		} else if !errors.Is(err, ErrNotFound) {
			return time.Time{}, err
		}
	}
	return timeOf(max(force, row.At)), nil
}

// left is when a person left the mill, zero while they are here.
func (k *keeping) left(id procedures.PersonID, row entryRow) (time.Time, error) {
	if k.here[id] {
		return time.Time{}, nil
	}
	var at int64
	err := k.r.gorm().Raw("SELECT coalesce(max(at), 0) FROM entries WHERE mill = ? AND subject = ? AND kind = ?", k.mill, id, KindPerson).Scan(&at).Error
	return timeOf(max(at, row.At)), err
}
