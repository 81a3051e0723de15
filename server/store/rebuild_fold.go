package store

import (
	"slices"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// folds are the lockouts that events of a replay made, so that each event is put to
// the one before and not to all of them, and the long row is written once for those
// of a page.
type folds struct {
	lockouts   map[foldKey]*fold
	changed    []*fold
	procedures map[procedureKey]procedures.Procedure
}

type foldKey struct {
	mill string
	id   procedures.LockoutID
}

type procedureKey struct {
	mill    string
	id      procedures.ProcedureID
	version int
}

// fold is one lockout as the events so far make it.
type fold struct {
	row     lockoutRow // with the columns of the event that made it
	by      procedureKey
	changed bool // since it was written
}

func newFolds() folds {
	return folds{lockouts: map[foldKey]*fold{}, procedures: map[procedureKey]procedures.Procedure{}}
}

// foldsMost bounds the lockouts held between pages.
const foldsMost = 200

// procedure is a version of a procedure, which nothing changes once it is there.
func (a *ahead) procedure(tx *Tx, key procedureKey) (procedures.Procedure, error) {
	if known, ok := a.folds.procedures[key]; ok {
		return known, nil
	}
	p, err := procedure(tx, checklists.MillID(key.mill), key.id, key.version)
	if err == nil && key.version > 0 { // 0 is the newest
		if len(a.folds.procedures) >= foldsMost {
			clear(a.folds.procedures)
		}
		a.folds.procedures[key] = p
	}
	return p, err
}

// lockout is lockoutBody.project of a replay.
func (a *ahead) lockout(tx *Tx, e entry, b *lockoutBody) error {
	by := procedureKey{e.Mill, b.Procedure, b.Version}
	p, err := a.procedure(tx, by)
	if err != nil {
		return err
	}
	event := b.event()
	key := foldKey{e.Mill, b.Lockout}
	f := a.folds.lockouts[key]
	var l procedures.Lockout
	switch {
	case event.Kind == procedures.Began:
		l, err = procedures.Replay(b.Lockout, p, []procedures.Event{event})
	case f == nil:
		var row lockoutRow
		if row, err = one[lockoutRow](tx, "lockout", "mill = ? AND id = ?", e.Mill, b.Lockout); err == nil {
			l, err = procedures.Replay(b.Lockout, p, append(row.Doc.Events, event))
		}
	case f.by == by && by.version > 0:
		l = f.row.Doc
		err = l.Continue(event)
	default:
		l, err = procedures.Replay(b.Lockout, p, append(slices.Clip(f.row.Doc.Events), event))
	}
	if err != nil {
		return err
	}
	row := lockoutRowOf(e.Mill, l, p)
	if f == nil {
		f = &fold{row: row}
		a.folds.lockouts[key] = f
	}
	// What put doesn't set stays as the first event made it.
	f.row.Open, f.row.Doc, f.row.Ended, f.by = row.Open, row.Doc, row.Ended, by
	if !f.changed {
		f.changed = true
		a.folds.changed = append(a.folds.changed, f)
	}
	if changesTold(event) {
		return untold(tx, e.Mill, l)
	}
	return nil
}

// folded has the lockouts that changed written with what waits.
func (a *ahead) folded() error {
	changed := a.folds.changed
	a.folds.changed = nil
	for _, f := range changed {
		f.changed = false
		if err := a.row(&f.row, setting(keysOf(&f.row), lockoutColumns)); err != nil {
			return err
		}
	}
	return nil
}

// pageDone lets go of the lockouts that are over, once they are written.
func (f *folds) pageDone() {
	for key, one := range f.lockouts {
		if !one.row.Open || len(f.lockouts) > foldsMost {
			delete(f.lockouts, key)
		}
	}
}
