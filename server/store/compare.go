package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// Agreement is how a record stands to a checkpoint of it kept elsewhere. The
// zero value is the safe one: nothing can be told.
type Agreement int

// The agreements told apart.
const (
	CantTell Agreement = iota
	Agrees             // the record goes on from what the checkpoint saw
	Changed            // what it saw is no longer what stands there
	CutBack            // it saw more entries than there are
)

// Signature is what can be said of who signed a checkpoint.
type Signature int

// The signatures told apart.
const (
	Unsigned   Signature = iota // only the three lines of a head
	Altered                     // a key the record names, but the signature does not fit the lines
	UnknownKey                  // by no key the record names at that size
	Signed                      // by a key the record names at that size
)

// Comparison holds a record against one checkpoint.
type Comparison struct {
	record.Found
	Now       record.Head
	Agreement Agreement
	Signature Signature
	Key       LogKey // that signed, where one is known
}

// OK tells whether the record is what the checkpoint saw, by a key it names.
func (c Comparison) OK() bool { return c.Agreement == Agrees && c.Signature == Signed }

// Outcome is what a [Comparison] means for the record. The zero value says nothing.
type Outcome int

// The outcomes told apart.
const (
	Useless   Outcome = iota // the checkpoint can't be used: mistyped, spoilt, of another mill, or it can't be told
	InAccord                 // the record is what it saw
	InDispute                // it speaks against the record
)

// Outcome tells what the comparison means. One whose signature does not fit its
// lines, or that is of another mill, says nothing of the record, whatever its root.
func (c Comparison) Outcome() Outcome {
	switch {
	case c.Mill != c.Now.Mill || c.Signature == Altered || c.Agreement == CantTell, c.Agreement == Agrees && c.Signature == UnknownKey:
		return Useless
	case c.Agreement == Agrees:
		return InAccord
	}
	return InDispute
}

// OutcomeOf is what comparisons mean together: dispute where one speaks against
// the record, else accord where all agree. One that can't be used keeps the rest
// from being called in accord.
func OutcomeOf(all []Comparison) Outcome {
	together := InAccord
	for _, c := range all {
		switch c.Outcome() {
		case InDispute:
			return InDispute
		case Useless:
			together = Useless
		}
	}
	return together
}

// Compare holds the record against every checkpoint that stands in text. It reads
// the entries up to the largest of them.
func (m *Mill) Compare(ctx context.Context, text string) ([]Comparison, error) {
	var all []Comparison
	err := m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) (err error) {
		all, err = compareMill(&Tx{db: db}, m.id, record.FindCheckpoints(text))
		return err
	})
	return all, err
}

// CompareIn holds the records of the database in dir, which is only read, against
// every checkpoint that stands in text. Each is held against the mill it names.
func CompareIn(ctx context.Context, dir, text string) (all []Comparison, err error) {
	path := filepath.Join(dir, FileName)
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("there is no database in %s: %w", dir, Cause(err))
	}
	db, err := connectToRead(ctx, path)
	if err != nil {
		return nil, fmt.Errorf("the database %s can't be read: %w", path, err)
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	err = db.WithContext(ctx).Transaction(func(db *gorm.DB) (err error) {
		all, err = compareMills(&Tx{db: db}, record.FindCheckpoints(text))
		return err
	})
	return all, err
}

// compareMills holds each checkpoint against the mill it names, one that names
// none of the database against the first.
func compareMills(tx *Tx, found []record.Found) ([]Comparison, error) {
	var mills []checklists.MillID
	if err := tx.gorm().Raw("SELECT mill FROM log_heads ORDER BY mill").Scan(&mills).Error; err != nil {
		return nil, err
	}
	if len(mills) == 0 {
		return nil, fmt.Errorf("no mill is set up in the database: %w", ErrNotFound)
	}
	places := map[checklists.MillID][]int{}
	for i, f := range found {
		mill := checklists.MillID(f.Mill)
		if !slices.Contains(mills, mill) {
			mill = mills[0]
		}
		places[mill] = append(places[mill], i)
	}
	all := make([]Comparison, len(found))
	for mill, at := range places {
		own := make([]record.Found, len(at))
		for n, i := range at {
			own[n] = found[i]
		}
		compared, err := compareMill(tx, mill, own)
		if err != nil {
			return nil, err
		}
		for n, i := range at {
			all[i] = compared[n]
		}
	}
	return all, nil
}

func compareMill(tx *Tx, mill checklists.MillID, found []record.Found) ([]Comparison, error) {
	now, err := headOf(tx, mill)
	if err != nil {
		return nil, err
	}
	named, err := keysOfEntries(tx, mill)
	if err != nil {
		return nil, err
	}
	roots, err := rootsOfLeaves(tx, mill, now.Size, found)
	if err != nil {
		return nil, err
	}
	all := make([]Comparison, len(found))
	for i, f := range found {
		c := Comparison{Found: f, Now: now}
		c.Signature, c.Key = signedBy(f, named)
		if f.Mill == string(mill) {
			c.Agreement = Changed
			if root, whole := roots[f.Size]; f.Size > now.Size {
				c.Agreement = CutBack
			} else if whole && root == f.Root {
				c.Agreement = Agrees
			}
		}
		all[i] = c
	}
	return all, nil
}

// rootsOfLeaves makes the roots at the sizes of found anew from the entries
// themselves: a stored hash may have been left as it was where an entry was not.
// For a size whose entries are not all there it has none.
func rootsOfLeaves(tx *Tx, mill checklists.MillID, size int64, found []record.Found) (map[int64]tlog.Hash, error) {
	asked, last := map[int64]bool{}, int64(0)
	for _, f := range found {
		if f.Mill == string(mill) && f.Size <= size {
			asked[f.Size], last = true, max(last, f.Size)
		}
	}
	roots := map[int64]tlog.Hash{}
	var edge record.Frontier
	note := func() {
		if asked[edge.Size()] {
			roots[edge.Size()] = edge.Root()
		}
	}
	note()
	rows, err := tx.gorm().Raw("SELECT seq, leaf FROM entries WHERE mill = ? AND seq >= 0 AND seq < ? ORDER BY seq", mill, last).Rows()
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var seq int64
		var leaf []byte
		if err := rows.Scan(&seq, &leaf); err != nil {
			return nil, err
		}
		if seq != edge.Size() {
			break
		}
		edge.Append(tlog.RecordHash(leaf))
		note()
	}
	return roots, rows.Err()
}

// keysOfEntries reads the keys from their entries, not from the table made of
// them: whoever changed that table must not have changed the answer.
func keysOfEntries(tx *Tx, mill checklists.MillID) ([]LogKey, error) {
	var rows []entryRow
	if err := tx.gorm().Order("seq").Find(&rows, "mill = ? AND kind = ?", mill, KindLogKey).Error; err != nil {
		return nil, err
	}
	var named []LogKey
	for _, row := range rows {
		e, err := record.Read(row.Leaf, nil)
		if err != nil {
			continue // the verification names it
		}
		if said, err := decode(row.Kind, row.Version, e); err == nil {
			named = keysWith(named, said, row.Seq)
		}
	}
	return named, nil
}

// keysWith adds the key an entry names to those named before it.
func keysWith(named []LogKey, said body, seq int64) []LogKey {
	b, ok := said.(*logKeyBody)
	if !ok {
		return named
	}
	if len(named) > 0 {
		named[len(named)-1].Until = seq
	}
	key := b.named()
	key.From = seq
	return append(named, key)
}

// agreement holds an older head against the hashes of the record under now.
func agreement(older, now record.Head, hashes *pagedHashes) (Agreement, error) {
	if older.Size > now.Size {
		return CutBack, nil
	}
	root, err := record.Root(older.Size, hashes)
	switch {
	case errors.Is(err, ErrNotFound):
		return CantTell, nil // a hash is missing, which the verification names
	case err != nil:
		return CantTell, err
	case root == older.Root:
		return Agrees, nil
	}
	return Changed, nil
}

// signedBy tells by which of the keys a checkpoint is signed.
func signedBy(f record.Found, named []LogKey) (Signature, LogKey) {
	if f.Text == "" {
		return Unsigned, LogKey{}
	}
	best := UnknownKey
	for i := len(named) - 1; i >= 0; i-- { // the newest first
		verifier, err := note.NewVerifier(named[i].Verifier)
		if err != nil {
			continue
		}
		_, _, err = record.OpenCheckpoint(f.Text, verifier)
		var wrong *note.InvalidSignatureError
		var unknown *note.UnverifiedNoteError
		switch {
		case err == nil && named[i].Held(f.Size):
			return Signed, named[i]
		case errors.As(err, &wrong), err != nil && !errors.As(err, &unknown):
			best = Altered // or not even whole
		}
	}
	return best, LogKey{}
}

// Said is what a comparison means, for whoever kept the checkpoint.
func (c Comparison) Said() plain.Sentence {
	if record.Origin(c.Mill) != record.Origin(c.Now.Mill) {
		return plain.Say("This checkpoint can't be used: it is of another mill's record, %s. It shows nothing about this one.", c.Mill)
	}
	if c.Signature == Altered {
		return plain.Say("This checkpoint can't be used: its signature does not fit its lines, so it was mistyped, cut short or changed after it was signed. It shows nothing about the record. Take it again from where it was kept.")
	}
	switch {
	case c.Agreement == Agrees && c.Signature == Signed:
		return plain.Say("It agrees: the first %[1]d entries are still those of the day this checkpoint was signed. The record has %[2]d now.", c.Size, c.Now.Size)
	case c.Agreement == Agrees && c.Signature == Unsigned:
		return plain.Say("It agrees: the first %[1]d entries still have this root. The record has %[2]d now. These lines bear no signature, so they show nothing to somebody who did not keep them.", c.Size, c.Now.Size)
	case c.Agreement == Agrees:
		return plain.Say("The first %d entries still have this root, but the key that signed is none the record names for that time.", c.Size)
	case c.Signature == Unsigned && (c.Agreement == Changed || c.Agreement == CutBack):
		return plain.Say("It does not agree: the record of %[2]d entries does not have this root at %[1]d. These lines bear no signature that would show a slip: compare them letter by letter with what was kept. If they are right, the record was changed or cut back.", c.Size, c.Now.Size)
	case c.Agreement == CutBack && c.Signature == UnknownKey, c.Agreement == Changed && c.Signature == UnknownKey:
		return plain.Say("It does not agree, and the key that signed is none this record names for that time. Either this was never a checkpoint of this record, or the record was made anew with another key. Compare the key's fingerprint with one noted earlier.")
	case c.Agreement == CutBack:
		return plain.Say("The record was cut back: this checkpoint saw %[1]d entries, and there are only %[2]d. A backup put back does that, too; then a restore of that time must be known.", c.Size, c.Now.Size)
	case c.Agreement == Changed:
		return plain.Say("The record was changed: among its first %d entries at least one is other than when this checkpoint was made, is gone or was put in. If a backup was put back and the work went on from there, that is a lawful reason; else it is not.", c.Size)
	}
	return plain.Say("It can't be told: hashes of the record are missing. Check the whole record.")
}
