package store

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"sync/atomic"
	"time"

	"stillsaw/checklists"
)

var checkKept atomic.Int64

// CheckKeptFacts has the facts that stores opened from now on keep in memory held
// against what the tables say each nth time they are asked for, 1 for every time: where
// they differ the asker gets an error that names in what. It costs more than keeping
// them spares, and is for tests.
func CheckKeptFacts(nth int64) { checkKept.Store(nth) }

// checksNow tells whether this asking is one of those held against the tables. It is
// the same ones in every run: each store counts its own.
func (s *lasting) checksNow() bool {
	return s.checked > 0 && s.asked.Add(1)%s.checked == 0
}

// heldAgainst compares kept facts of a moment with those loaded anew.
func (tx *Tx) heldAgainst(kept checklists.Facts, mill checklists.MillID, head logHeadRow, now time.Time) error {
	anew := &Tx{db: tx.db}
	loaded, err := anew.loadFacts(mill, head, kept.Unsigned, now)
	if err != nil {
		return err
	}
	fresh := loaded.at(now)
	fresh.Unsigned, fresh.FoundUnsigned, fresh.LastEntry = kept.Unsigned, kept.FoundUnsigned, kept.LastEntry
	bearing(&kept, now)
	bearing(&fresh, now)
	of, a, b := reflect.TypeFor[checklists.Facts](), reflect.ValueOf(kept), reflect.ValueOf(fresh)
	for i := range of.NumField() {
		if a.Field(i).Kind() == reflect.Slice && a.Field(i).Len() == 0 && b.Field(i).Len() == 0 {
			continue
		}
		one, err := json.Marshal(a.Field(i).Interface())
		if err != nil {
			return err
		}
		other, err := json.Marshal(b.Field(i).Interface())
		if err != nil {
			return err
		}
		if !bytes.Equal(one, other) {
			return fmt.Errorf("facts kept in memory differ in %s from the tables at entry %d: %.2000s against %.2000s", of.Field(i).Name, head.Size, one, other)
		}
	}
	return nil
}

// bearing leaves of the inspections and returns those that bear: what was kept longer
// may have some more.
func bearing(f *checklists.Facts, now time.Time) {
	var stay []checklists.Inspection
	for i := 0; i < len(f.Inspections); {
		next := i
		for next < len(f.Inspections) && f.Inspections[next].List == f.Inspections[i].List {
			next++
		}
		of := f.Inspections[i:next]
		for _, l := range f.Lists {
			if l.ID == of[0].List && reachFor(l).bears {
				of = f.Bearing(of, now.Add(-factsBehind))
			}
		}
		stay = append(stay, of...)
		i = next
	}
	f.Inspections = stay
	f.Returned = f.BearingReturned(now.Add(-factsBehind))
}
