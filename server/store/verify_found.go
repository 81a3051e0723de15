package store

import (
	"slices"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// foundWindow is for how many entries the equipment is read at once.
const foundWindow = 1 << 14

// foundUnder is the equipment the entries of a mill are found by, a bit for each: the
// index on it has the equipment first, so each is read by itself for many entries.
type foundUnder struct {
	tx   *Tx
	mill checklists.MillID

	names []procedures.EquipmentID // sorted
	words int                      // of bits an entry has
	start int64                    // the window; none before the first entry
	end   int64
	begun bool
	bits  []uint64
	come  []bool // entries of the window that were come by

	strays []int64
}

func newFoundUnder(tx *Tx, mill checklists.MillID) (*foundUnder, error) {
	f := &foundUnder{tx: tx, mill: mill}
	if err := tx.gorm().Raw("SELECT DISTINCT equipment FROM entry_equipment WHERE mill = ?", mill).Scan(&f.names).Error; err != nil {
		return nil, err
	}
	slices.Sort(f.names)
	f.names = slices.Compact(f.names)
	f.words = (len(f.names) + 63) / 64
	return f, nil
}

// of are the bits of the entry at seq; entries are asked for in their order.
func (f *foundUnder) of(seq int64) ([]uint64, error) {
	if !f.begun || seq >= f.end {
		if err := f.read(seq); err != nil {
			return nil, err
		}
	}
	i := int(seq - f.start)
	f.come[i] = true
	return f.bits[i*f.words : (i+1)*f.words], nil
}

// read reads the window that begins at start.
func (f *foundUnder) read(start int64) error {
	f.leave()
	if err := f.between(start); err != nil {
		return err
	}
	f.start, f.end, f.begun = start, start+foundWindow, true
	f.bits, f.come = slices.Grow(f.bits[:0], foundWindow*f.words)[:foundWindow*f.words], slices.Grow(f.come[:0], foundWindow)[:foundWindow]
	clear(f.bits)
	clear(f.come)
	var seq number
	for i, name := range f.names {
		err := scanned(f.tx, []any{&seq.value}, func() error {
			at, err := seq.whole()
			if err == nil {
				f.bits[int(at-f.start)*f.words+i/64] |= 1 << (i % 64)
			}
			return err
		}, "SELECT seq FROM entry_equipment WHERE mill = ? AND equipment = ? AND seq >= ? AND seq < ?", f.mill, name, f.start, f.end)
		if err != nil {
			return err
		}
	}
	return nil
}

// leave notes which entries of the window are not there.
func (f *foundUnder) leave() {
	for i := 0; f.begun && i < len(f.come) && len(f.strays) < straysMost; i++ {
		if !f.come[i] && slices.Max(append(f.bits[i*f.words:(i+1)*f.words:(i+1)*f.words], 0)) > 0 {
			f.strays = append(f.strays, f.start+int64(i))
		}
	}
}

// between notes those from the window's end until the next one begins.
func (f *foundUnder) between(next int64) error {
	query, args := "SELECT DISTINCT seq FROM entry_equipment WHERE mill = ? AND equipment = ? AND seq < ?", []any{f.mill, "", next}
	if f.begun {
		if next == f.end {
			return nil
		}
		query, args = query+" AND seq >= ?", append(args, f.end)
	}
	return f.also(query, args)
}

func (f *foundUnder) also(query string, args []any) error {
	var all []int64
	for _, name := range f.names {
		var seqs []int64
		args[1] = name
		if err := f.tx.gorm().Raw(query+" ORDER BY seq LIMIT ?", append(slices.Clip(args), straysMost)...).Scan(&seqs).Error; err != nil {
			return err
		}
		all = append(all, seqs...)
	}
	slices.Sort(all)
	all = slices.Compact(all)
	f.strays = append(f.strays, all[:min(len(all), straysMost-len(f.strays))]...)
	return nil
}

// straysOf are the entries that equipment is named for which are not there; done
// tells whether every entry was come by.
func (f *foundUnder) straysOf(done bool) ([]int64, error) {
	if !done || !f.begun {
		return f.tx.straysIn("entry_equipment", f.mill)
	}
	f.leave()
	return f.strays, f.also("SELECT DISTINCT seq FROM entry_equipment WHERE mill = ? AND equipment = ? AND seq >= ?", []any{f.mill, "", f.end})
}

// is tells whether bits are those of exactly the equipment in about.
func (f *foundUnder) is(bits []uint64, about []procedures.EquipmentID) bool {
	named := make([]uint64, f.words)
	for _, id := range about {
		if id == "" {
			continue
		}
		i, found := slices.BinarySearch(f.names, id)
		if !found {
			return false
		}
		named[i/64] |= 1 << (i % 64)
	}
	return slices.Equal(named, bits)
}
