package store

import (
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// dropped tells which openings and photos the record itself says were dropped, by
// entries that may say so. The table that says where is only a way to find the
// entry, which is read and asked: memory doesn't grow with what was ever dropped.
type dropped struct {
	r    reader
	mill checklists.MillID
	none bool // a database from before anything could be dropped
	said map[int64]saidDrop
}

// droppedCached is how many drop entries are kept read: a night's drop names
// entries that follow each other.
const droppedCached = 16

func droppedOf(r reader, mill checklists.MillID) (*dropped, error) {
	d := &dropped{r: r, mill: mill, said: map[int64]saidDrop{}}
	there, err := hasTable(r.gorm(), "dropped_values")
	d.none = !there
	return d, err
}

// entry is what the entry at seq says was dropped; nothing where it is no entry of
// that kind.
func (d *dropped) entry(seq int64) (saidDrop, error) {
	if said, known := d.said[seq]; known {
		return said, nil
	}
	row, b, err := d.read("seq = ?", seq)
	if err != nil {
		return saidDrop{}, err
	}
	var said saidDrop
	if body, ok := b.(*droppedBody); ok && row.Seq == seq {
		if said, err = d.judged(row, body.Dropped); err != nil {
			return saidDrop{}, err
		}
	}
	if len(d.said) >= droppedCached {
		clear(d.said)
	}
	d.said[seq] = said
	return said, nil
}

// paths are the openings of the entries that were dropped, by entry.
func (d *dropped) paths(page []entryRow) (map[int64][]string, error) {
	if d.none || len(page) == 0 {
		return nil, nil
	}
	entries := make(map[int64]entryRow, len(page))
	first, last := page[0].Seq, page[0].Seq
	for _, row := range page {
		entries[row.Seq] = row
		first, last = min(first, row.Seq), max(last, row.Seq)
	}
	var rows []droppedValueRow
	if err := d.r.gorm().Order("seq, path").Find(&rows, "mill = ? AND seq BETWEEN ? AND ?", d.mill, first, last).Error; err != nil {
		return nil, err
	}
	paths := map[int64][]string{}
	for _, row := range rows {
		said, err := d.entry(row.Entry)
		if err != nil {
			return nil, err
		}
		if of, ok := entries[row.Seq]; ok && said.names(row.Seq, row.Path) && said.mayDrop(of) {
			paths[row.Seq] = append(paths[row.Seq], row.Path)
		}
	}
	return paths, nil
}

func (d Dropped) names(seq int64, path string) bool {
	i, found := slices.BinarySearchFunc(d.Values, seq, func(one DroppedValues, seq int64) int { return int(one.Seq - seq) })
	return found && slices.Contains(d.Values[i].Paths, path)
}

// stillKept are the faults of an entry that says something was dropped which is
// there all the same.
func (b *besides) stillKept(said body, at time.Time) (faults []record.Fault, err error) {
	body, ok := said.(*droppedBody)
	if !ok || b.dropped.none {
		return nil, nil
	}
	for part := range slices.Chunk(body.Values, 200) {
		seqs := make([]int64, len(part))
		for i, one := range part {
			seqs[i] = one.Seq
		}
		var rows []openingRow
		if err := b.tx.gorm().Select("seq", "path").Order("seq, path").Find(&rows, "mill = ? AND seq IN ?", b.mill, seqs).Error; err != nil {
			return nil, err
		}
		blank, err := b.blank(seqs)
		if err != nil {
			return nil, err
		}
		for _, row := range append(rows, blank...) {
			if body.names(row.Seq, row.Path) {
				faults = append(faults, record.Fault{Change: record.DroppedKept, Field: row.Path, What: plain.Say(
					"The personal value at %[1]s of entry %[2]d is said to be dropped, and is still kept.", row.Path, row.Seq)})
			}
		}
	}
	for part := range slices.Chunk(body.Photos, 200) {
		// One that was taken in again since is kept again, as of then.
		var kept []string
		if err := b.tx.gorm().Raw("SELECT digest FROM photos WHERE mill = ? AND digest IN ? AND length(bytes) > 0 AND at <= ?", b.mill, part, millis(at)).Scan(&kept).Error; err != nil {
			return nil, err
		}
		for _, digest := range kept {
			faults = append(faults, record.Fault{Change: record.DroppedKept, Field: digest, What: plain.Say("The photo %s is said to be dropped, and is still kept.", digest)})
		}
	}
	return faults, nil
}

// blank are the places of entries where nothing was written.
func (b *besides) blank(seqs []int64) (places []openingRow, err error) {
	if packs, err := packsBlanks(b.tx); err != nil || !packs {
		return nil, err
	}
	var rows []entryRow
	if err := b.tx.gorm().Select("seq", "blank_paths").Order("seq").Find(&rows, "mill = ? AND seq IN ? AND blank_paths <> ''", b.mill, seqs).Error; err != nil {
		return nil, err
	}
	for _, row := range rows {
		for _, path := range blanksIn(row.BlankPaths, nil).paths {
			places = append(places, openingRow{Seq: row.Seq, Path: path})
		}
	}
	return places, nil
}

// photos are those of the digests named by an entry that the record says were
// dropped.
func (d *dropped) photos(digests []string, of entryRow) (gone []string, err error) {
	if d.none || len(digests) == 0 {
		return nil, nil
	}
	var rows []photoRow
	if err := d.r.gorm().Select("digest", "dropped").Find(&rows, "mill = ? AND digest IN ? AND dropped > 0 AND length(bytes) = 0", d.mill, digests).Error; err != nil {
		return nil, err
	}
	for _, row := range rows {
		said, err := d.entry(row.Dropped)
		if err != nil {
			return nil, err
		}
		if slices.Contains(said.Photos, row.Digest) && said.mayDrop(of) {
			gone = append(gone, row.Digest)
		}
	}
	return gone, nil
}
