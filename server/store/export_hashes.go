package store

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
)

// hashesAPage is how many tree hashes a proof reads at once. The hashes near a
// leaf are stored beside it, so that neighbours' proofs come from one page.
const hashesAPage = 256

// hashPagesMost bounds the pages in memory: two generations of this many, about
// 8 MB.
const hashPagesMost = 512

// pagedHashes reads tree hashes for many proofs under one head.
type pagedHashes struct {
	tx          *Tx
	mill        checklists.MillID
	count       int64 // hashes of the log
	young, aged map[int64][]*tlog.Hash
}

func newPagedHashes(tx *Tx, mill checklists.MillID, size int64) *pagedHashes {
	return &pagedHashes{tx: tx, mill: mill, count: tlog.StoredHashCount(size), young: map[int64][]*tlog.Hash{}}
}

// ReadHashes implements [tlog.HashReader].
func (p *pagedHashes) ReadHashes(places []int64) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(places))
	for i, place := range places {
		page, err := p.page(place / hashesAPage)
		if err != nil {
			return nil, err
		}
		hash := page[place%hashesAPage]
		if hash == nil || place >= p.count {
			return nil, fmt.Errorf("tree hash %d: %w", place, ErrNotFound)
		}
		hashes[i] = *hash
	}
	return hashes, nil
}

func (p *pagedHashes) page(number int64) ([]*tlog.Hash, error) {
	page, ok := p.young[number]
	if ok {
		return page, nil
	}
	if page, ok = p.aged[number]; !ok {
		var err error
		if page, err = p.read(number); err != nil {
			return nil, err
		}
	}
	if len(p.young) == hashPagesMost {
		p.young, p.aged = map[int64][]*tlog.Hash{}, p.young
	}
	p.young[number] = page
	return page, nil
}

func (p *pagedHashes) read(number int64) ([]*tlog.Hash, error) {
	first := number * hashesAPage
	var rows []hashRow
	if err := p.tx.gorm().Find(&rows, "mill = ? AND place >= ? AND place < ?", p.mill, first, first+hashesAPage).Error; err != nil {
		return nil, err
	}
	page := make([]*tlog.Hash, hashesAPage)
	for _, row := range rows {
		if len(row.Hash) != tlog.HashSize {
			return nil, fmt.Errorf("tree hash %d has %d bytes: %w", row.Place, len(row.Hash), ErrNotFound)
		}
		hash := tlog.Hash(row.Hash)
		page[row.Place-first] = &hash
	}
	return page, nil
}
