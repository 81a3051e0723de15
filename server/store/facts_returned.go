package store

import (
	"cmp"
	"slices"
	"time"

	"stillsaw/checklists"
)

// returnsMore is how many returns to service may be kept beside twice those that bore
// when they were last gone through, before they are again.
const returnsMore = 32

// returnedSince adds the defects of those ids to those returned to service.
func (tx *Tx) returnedSince(k *knownFacts, mill checklists.MillID, ids []string, now time.Time) error {
	if !slices.ContainsFunc(k.facts.Lists, onEvent) {
		return nil
	}
	all := slices.Clone(k.facts.Returned)
	for part := range slices.Chunk(ids, signedPage) {
		var rows []defectRow
		if err := tx.gorm().Find(&rows, "mill = ? AND open = ? AND id IN ?", mill, false, evened(part)).Error; err != nil {
			return err
		}
		for _, row := range rows {
			all = append(all, row.Doc)
		}
	}
	slices.SortFunc(all, byRaised)
	k.facts.Returned = all
	if len(all) > 2*k.returnsBore+returnsMore {
		k.bear(k.at(now), now)
	}
	return nil
}

func byRaised(a, b checklists.Defect) int {
	return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID))
}

// bear keeps of the returns to service among the facts of now those that bear.
func (k *knownFacts) bear(f checklists.Facts, now time.Time) {
	k.facts.Returned = f.BearingReturned(now.Add(-factsBehind))
	k.returnsBore = len(k.facts.Returned)
}
