package store

import (
	"maps"
	"slices"

	"stillsaw/checklists"
)

// leaning finds the entries that those of an export lean on: whoever reads it must
// see that its keys are the mill's, and that what is missing was dropped.
type leaning struct {
	tx     *Tx
	mill   checklists.MillID
	on     map[int64]bool
	lost   []int64         // seqs with values no longer kept, not yet looked up
	photos map[string]bool // named
}

// take notes what one entry leans on.
func (l *leaning) take(e Exported) {
	if len(e.Dropped) > 0 {
		l.lost = append(l.lost, e.Row.Seq)
	}
	for _, digest := range e.Photos {
		l.photos[digest] = true
	}
}

// look finds the entries that say what of those taken was dropped.
func (l *leaning) look() error {
	if len(l.lost) == 0 {
		return nil
	}
	var found []int64
	err := l.tx.gorm().Model(&droppedValueRow{}).Where("mill = ? AND seq IN ?", l.mill, l.lost).Distinct().Pluck("entry", &found).Error
	l.lost = nil
	for _, seq := range found {
		l.on[seq] = true
	}
	return err
}

// entries are those leant on that are not selected anyway, rising.
func (l *leaning) entries(selected []int64, size int64) ([]int64, error) {
	keys, err := logKeys(l.tx, string(l.mill))
	if err != nil {
		return nil, err
	}
	for _, key := range keys {
		l.on[key.From] = true
	}
	for part := range slices.Chunk(slices.Sorted(maps.Keys(l.photos)), exportPage) {
		var found []int64
		if err := l.tx.gorm().Model(&photoRow{}).Where("mill = ? AND digest IN ? AND dropped > 0 AND length(bytes) = 0", l.mill, part).Pluck("dropped", &found).Error; err != nil {
			return nil, err
		}
		for _, seq := range found {
			l.on[seq] = true
		}
	}
	return slices.DeleteFunc(slices.Sorted(maps.Keys(l.on)), func(seq int64) bool {
		_, there := slices.BinarySearch(selected, seq)
		return there || seq < 0 || seq >= size
	}), nil
}
