package store

import (
	"bytes"
	"maps"
	"slices"
	"sync"
	"time"

	"stillsaw/checklists"
)

// factsBehind is how far behind a moment the facts of it can still be asked for: the
// time of a request is taken before the transaction that answers it.
const factsBehind = time.Minute

// factsLast is how long facts are kept at most: what is loaded of a span of time
// would grow for ever.
const factsLast = 12 * time.Hour

// factsEntries is how many entries since facts were loaded are looked through for
// what they change, rather than loading everything again.
const factsEntries = 512

// factsMills is of how many mills facts are kept at once.
const factsMills = 256

// knownFacts are a mill's facts as its first size entries tell them, for any moment
// of [from, until). They never change: what comes after is another. In them are
// inspections of somewhat more than the time that matters.
type knownFacts struct {
	size        int64
	root        []byte // of the log then
	last        string // id of the last of these entries
	from, until time.Time
	runsUntil   time.Time // when the next run check runs out; zero: none is in force
	forgotten   int       // see [lasting.forget]
	facts       checklists.Facts
	signed      map[checklists.ListID]signedList
	returnsBore int // how many returns to service did when they were last gone through
}

// signedList are the inspections of one list that bear, newest first.
type signedList struct {
	of   reachOf
	all  []checklists.Inspection
	bore int // how many did when they were last gone through
}

// facets of facts: what is loaded together, and changes together.
type facets uint

const (
	facetMill       facets = 1 << iota // what is set up
	facetReadings                      // of meters
	facetDefects                       // open ones
	facetUnderWay                      // lockouts, departures, run checks
	facetSigned                        // inspections and amendments, other than by a further inspection
	facetHappenings                    // excuses, events, returns to service, quiet stretches

	allFacets = facetMill | facetReadings | facetDefects | facetUnderWay | facetSigned | facetHappenings
)

// changedBy tells for the kinds of entries that come often what facts they change;
// any other kind has everything loaded again. That an inspection is one more of its
// list is seen to in [Tx.signedSince], and that of a return in [Tx.returnedSince].
var changedBy = map[string]facets{
	KindInspection:      facetReadings | facetDefects,
	KindAmendment:       facetReadings | facetDefects | facetSigned,
	KindUnsigned:        0,
	KindSetAside:        facetDefects,
	KindRunCheck:        facetUnderWay,
	KindDefect:          facetDefects,
	KindDescribed:       facetDefects,
	KindDefectAssigned:  facetDefects,
	KindDefectRedated:   facetDefects,
	KindDefectNoted:     facetDefects,
	KindMended:          facetDefects,
	KindReturned:        facetDefects | facetUnderWay,
	KindLockout:         facetUnderWay,
	KindDeparture:       facetUnderWay,
	KindDepartureClosed: facetUnderWay,
	KindLift:            0,
	KindWeighed:         0,
	KindLiftOfRun:       0,
	KindLighter:         0,
	KindEvent:           facetHappenings,
	KindExcuse:          facetHappenings,
}

// keptFacts are the facts kept of each mill, as of what is committed.
type keptFacts struct {
	mu    sync.Mutex
	known map[checklists.MillID]*knownFacts
}

func (k *keptFacts) all() map[checklists.MillID]*knownFacts {
	k.mu.Lock()
	defer k.mu.Unlock()
	return maps.Clone(k.known)
}

// keep takes what is of no earlier moment than what is kept.
func (k *keptFacts) keep(known map[checklists.MillID]*knownFacts) {
	k.mu.Lock()
	defer k.mu.Unlock()
	for mill, f := range known {
		if before := k.known[mill]; before == nil || before.size <= f.size || before.forgotten < f.forgotten {
			k.known[mill] = f
		}
	}
	for mill := range k.known { // in no order
		if len(k.known) <= factsMills {
			break
		}
		delete(k.known, mill)
	}
}

func (k *keptFacts) forget() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.known = map[checklists.MillID]*knownFacts{}
}

// knownFacts gives the mill's facts as its record up to that head tells them: those
// kept, where they hold at now, with what changed since.
func (tx *Tx) knownFacts(mill checklists.MillID, head logHeadRow, waiting []checklists.Unsigned, now time.Time) (*knownFacts, error) {
	before := tx.known[mill]
	if tx.kept == nil || before == nil || before.size > head.Size || before.size == 0 || before.forgotten != tx.kept.forgets() || !before.holds(now) {
		return tx.loadFacts(mill, head, waiting, now)
	}
	var changed facets
	if !before.runsUntil.IsZero() && !now.Before(before.runsUntil) {
		changed = facetUnderWay
	}
	if before.size == head.Size {
		switch {
		case !bytes.Equal(before.root, head.Root):
			return tx.loadFacts(mill, head, waiting, now)
		case changed == 0:
			return before, nil
		}
	}
	// The last entry that was known is read too: a record that was made anew behind
	// this program's back has another.
	var since []struct{ ID, Kind, Subject string }
	err := tx.gorm().Model(&entryRow{}).Select("id, kind, subject").Order("seq").Limit(factsEntries).
		Find(&since, "mill = ? AND seq >= ? AND seq < ?", mill, before.size-1, head.Size).Error
	if err != nil {
		return nil, err
	}
	if int64(len(since)) != head.Size-before.size+1 || since[0].ID != before.last {
		return tx.loadFacts(mill, head, waiting, now)
	}
	var more further
	for _, e := range since[1:] {
		facets, often := changedBy[e.Kind]
		if !often {
			return tx.loadFacts(mill, head, waiting, now)
		}
		changed |= facets
		switch e.Kind {
		case KindInspection:
			more.inspections = append(more.inspections, e.Subject)
		case KindReturned:
			more.returned = append(more.returned, e.Subject)
		}
	}
	next := *before
	next.size, next.root, next.last, next.facts.Unsigned = head.Size, head.Root, since[len(since)-1].ID, waiting
	next.only(now.Add(-factsBehind), time.Time{})
	return &next, tx.bringUp(&next, mill, changed, more, now)
}

// loadFacts loads everything.
func (tx *Tx) loadFacts(mill checklists.MillID, head logHeadRow, waiting []checklists.Unsigned, now time.Time) (*knownFacts, error) {
	fresh := &knownFacts{size: head.Size, root: head.Root, from: now.Add(-factsBehind), until: now.Add(factsLast)}
	err := tx.gorm().Model(&entryRow{}).Select("id").Where("mill = ? AND seq = ?", mill, head.Size-1).Scan(&fresh.last).Error
	if err != nil {
		return nil, err
	}
	fresh.facts.Unsigned = waiting
	if tx.kept != nil {
		fresh.forgotten = tx.kept.forgets()
	}
	return fresh, tx.bringUp(fresh, mill, allFacets, further{}, now)
}

func (k *knownFacts) holds(now time.Time) bool { return !now.Before(k.from) && now.Before(k.until) }

// only narrows the time the facts hold for; a zero until does not.
func (k *knownFacts) only(from, until time.Time) {
	if from.After(k.from) {
		k.from = from
	}
	if !until.IsZero() && until.Before(k.until) {
		k.until = until
	}
}

// further are the ids of what there is one more of.
type further struct{ inspections, returned []string }

// bringUp loads what changed into k, with what there is more of, and keeps it.
func (tx *Tx) bringUp(k *knownFacts, mill checklists.MillID, changed facets, more further, now time.Time) (err error) {
	f := &k.facts
	if changed&facetMill != 0 {
		if err := tx.ofMill(mill, now, f); err != nil {
			return err
		}
		from, until, err := tx.releasesAbout(mill, now)
		if err != nil {
			return err
		}
		k.only(from, until)
	}
	if changed&facetReadings != 0 {
		if f.Readings, err = readings(tx, mill); err != nil {
			return err
		}
	}
	if changed&facetDefects != 0 {
		if f.Defects, err = tx.openDefects(mill); err != nil {
			return err
		}
	}
	if changed&facetUnderWay != 0 {
		from, until, err := tx.underWay(mill, now, f)
		if err != nil {
			return err
		}
		k.only(from, time.Time{})
		k.runsUntil = until
	}
	switch {
	case changed&facetSigned != 0:
		if err := tx.loadSigned(k, mill); err != nil {
			return err
		}
	case len(more.inspections) > 0:
		also, err := tx.signedSince(k, mill, more.inspections, now)
		if err != nil {
			return err
		}
		changed |= also
	}
	switch {
	case changed&facetHappenings != 0:
		loaded := k.at(now)
		if err := tx.happenings(mill, now, &loaded); err != nil {
			return err
		}
		f.Excuses, f.Events, f.Quiet = loaded.Excuses, loaded.Events, loaded.Quiet
		k.bear(loaded, now)
	case len(more.returned) > 0:
		if err := tx.returnedSince(k, mill, more.returned, now); err != nil {
			return err
		}
	}
	if tx.kept != nil {
		tx.keepFacts(mill, k)
	}
	return nil
}

// releasesAbout gives between which moments around now no list takes force.
func (tx *Tx) releasesAbout(mill checklists.MillID, now time.Time) (from, until time.Time, err error) {
	var last, next int64
	if err = tx.gorm().Raw("SELECT coalesce(max(effective), 0) FROM releases WHERE mill = ? AND effective <= ?", mill, millis(now)).Scan(&last).Error; err != nil {
		return from, until, err
	}
	err = tx.gorm().Raw("SELECT coalesce(min(effective), 0) FROM releases WHERE mill = ? AND effective > ?", mill, millis(now)).Scan(&next).Error
	return timeOf(last), timeOf(next), err
}

// keepFacts keeps them for this command and those after it; a reader's, which are of
// what is committed, for everybody.
func (tx *Tx) keepFacts(mill checklists.MillID, k *knownFacts) {
	if tx.known == nil {
		return
	}
	tx.known[mill] = k
	if tx.logs == nil {
		tx.kept.facts.keep(map[checklists.MillID]*knownFacts{mill: k})
	}
}

// at gives the facts of a moment they hold for; whoever gets them may change what
// is in their slices, but nothing within it that others see.
func (k *knownFacts) at(now time.Time) checklists.Facts {
	f := k.facts
	f.Defects, f.Lockouts, f.RunChecks, f.Departures = slices.Clone(f.Defects), slices.Clone(f.Lockouts), slices.Clone(f.RunChecks), slices.Clone(f.Departures)
	f.Plant, f.Lists, f.People, f.Quiet = slices.Clone(f.Plant), slices.Clone(f.Lists), slices.Clone(f.People), slices.Clone(f.Quiet)
	f.Readings, f.Blades, f.BladeActs = slices.Clip(f.Readings), slices.Clip(f.Blades), slices.Clip(f.BladeActs)
	f.Inspections = nil
	for _, l := range f.Lists {
		signed := k.signed[l.ID]
		f.Inspections = append(f.Inspections, signed.of.within(signed.all, now)...)
	}
	f.Amendments = nil
	if len(k.facts.Amendments) > 0 {
		among := make(map[checklists.InspectionID]bool, len(f.Inspections))
		for i := range f.Inspections {
			among[f.Inspections[i].ID] = true
		}
		for _, a := range k.facts.Amendments {
			if among[a.Inspection] {
				f.Amendments = append(f.Amendments, a)
			}
		}
	}
	return f
}
