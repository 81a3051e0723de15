package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// Cut is where a copy of the database ends: what comes after it goes into the
// next increment.
type Cut struct {
	At     time.Time
	Schema int
	Heads  map[checklists.MillID]record.Head

	last map[string]int64 // row of each growing table
}

// ErrNeedsBase is an increment that can't be made, because more than rows added to
// the record happened since: an upgrade, or something dropped. A whole copy can.
var ErrNeedsBase = errors.New("since the last backup something was dropped or upgraded; a whole copy is to be made")

// increment is the name an increment's database goes by where it is attached.
const incrementName = "increment"

// growing are the tables whose rows are added and, but for a drop, never taken
// away: an increment has those added since the last.
func growing() []string {
	return []string{"entries", "openings", "tree_hashes", "entry_equipment", "photos", "submissions", "checkpoints", "cosignatures"}
}

// carriedWhole are the tables an increment has whole: the heads of the record, and
// all that stands in no entry and is small. Projections follow from the entries,
// as do the words they are found by.
func carriedWhole() []string {
	var all []string
	for _, other := range notProjected() {
		switch {
		case slices.Contains(growing(), other.Table), other.Table == "migrations", strings.HasPrefix(other.Table, "search_"), other.Table == "backup_states":
		default:
			all = append(all, other.Table)
		}
	}
	return all
}

// CutNow is where the database ends now. A whole copy made after it has all up to
// there; what it has besides, the next increment has once more.
func (s *Store) CutNow(ctx context.Context, at time.Time) (cut Cut, err error) {
	err = s.reads.WithContext(ctx).Transaction(func(db *gorm.DB) (err error) {
		cut, err = cutOf(&Tx{db: db}, at)
		return err
	})
	return cut, err
}

func cutOf(r reader, at time.Time) (Cut, error) {
	schema, err := schemaIn(r)
	if err != nil {
		return Cut{}, err
	}
	cut := Cut{At: at, Schema: schema.step, last: map[string]int64{}}
	if cut.Heads, err = headsOf(r); err != nil {
		return Cut{}, err
	}
	if onPostgres(r.gorm()) {
		return cut, nil // its rows have no number to go on from
	}
	for _, table := range growing() {
		var last int64
		if err := r.gorm().Raw("SELECT coalesce(max(rowid), 0) FROM " + table).Scan(&last).Error; err != nil {
			return Cut{}, err
		}
		cut.last[table] = last
	}
	return cut, nil
}

func headsOf(r reader) (map[checklists.MillID]record.Head, error) {
	var rows []logHeadRow
	if err := r.gorm().Find(&rows).Error; err != nil {
		return nil, err
	}
	heads := map[checklists.MillID]record.Head{}
	for _, row := range rows {
		head, err := row.head()
		if err != nil {
			return nil, err
		}
		heads[checklists.MillID(row.Mill)] = head
	}
	return heads, nil
}

// Increment writes to file, which is made, what was written since a cut, all of
// one moment, and returns where it ends. The error is ErrNeedsBase where a whole
// copy is needed instead.
func (s *Store) Increment(ctx context.Context, since Cut, at time.Time, file string) (now Cut, err error) {
	if s.postgres != nil {
		return now, ErrNeedsBase
	}
	return s.increment(ctx, since, at, file, func(r reader, now Cut) error {
		if now.Schema != since.Schema {
			return ErrNeedsBase
		}
		var dropped int64
		err := r.gorm().Raw("SELECT count(*) FROM entries WHERE rowid > ? AND kind = ?", since.last["entries"], KindDropped).Scan(&dropped).Error
		if err == nil && dropped > 0 {
			err = ErrNeedsBase
		}
		return err
	})
}

// increment is Increment, where may lets it.
func (s *Store) increment(ctx context.Context, since Cut, at time.Time, file string, may func(reader, Cut) error) (now Cut, err error) {
	if err := onlyForUs(file); err != nil {
		return now, fmt.Errorf("the file %s can't be made: %w", file, Cause(err))
	}
	db, err := connect(s.path, "", 1)
	if err != nil {
		return now, fmt.Errorf("the database %s can't be opened: %w", s.path, err)
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	db = db.WithContext(ctx)
	if err := db.Exec("ATTACH DATABASE ? AS "+incrementName, file).Error; err != nil {
		return now, err
	}
	err = db.Transaction(func(db *gorm.DB) (err error) {
		if now, err = cutOf(&Tx{db: db}, at); err != nil {
			return err
		}
		if err := may(&Tx{db: db}, now); err != nil {
			return err
		}
		for _, table := range growing() {
			which := fmt.Sprintf("rowid > %d", since.last[table])
			if table == "photos" { // one that had been dropped may be taken in again
				which += fmt.Sprintf(" OR at >= %d", millis(since.At))
			}
			if err := copyOut(db, table, which); err != nil {
				return err
			}
		}
		for _, table := range carriedWhole() {
			if err := copyOut(db, table, "TRUE"); err != nil {
				return err
			}
		}
		return nil
	})
	return now, err
}

func copyOut(db *gorm.DB, table, which string) error {
	err := db.Exec(fmt.Sprintf("CREATE TABLE %[1]s.%[2]s AS SELECT * FROM main.%[2]s WHERE %[3]s", incrementName, table, which)).Error
	if err != nil {
		return fmt.Errorf("table %s: %w", table, err)
	}
	return nil
}

// CheckIncrement reads an increment made by [Store.Increment] through and holds it
// against where it begins and ends: every new leaf gives the root the record had,
// every personal value and photo is the one committed to.
func (s *Store) CheckIncrement(ctx context.Context, file string, from, to map[checklists.MillID]record.Head) (err error) {
	db, err := openAlone(file)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shut(db)) }()
	db = db.WithContext(ctx)
	if err := intact(db); err != nil {
		return err
	}
	return checkIncrement(&Tx{db: db}, &Tx{db: s.reads.WithContext(ctx)}, from, to)
}

// checkIncrement holds what inc has against where it begins, whose tree base
// reads, and ends.
func checkIncrement(inc, base reader, from, to map[checklists.MillID]record.Head) error {
	said, err := headsOf(inc)
	if err != nil {
		return err
	}
	for mill, end := range to {
		if said[mill] != end {
			return fmt.Errorf("the increment says its record has %d entries and not %d", said[mill].Size, end.Size)
		}
		start, ok := from[mill]
		if !ok {
			var none record.Frontier
			start = none.Head(string(mill))
		}
		edge, err := record.RestoreFrontier(start, hashReader(base, mill))
		if err != nil {
			return err
		}
		for edge.Size() < end.Size {
			rows, openings, err := pageFrom(inc, mill, edge.Size(), verifyPage)
			if err != nil {
				return err
			}
			if len(rows) == 0 {
				return fmt.Errorf("entry %d is not in the increment", edge.Size())
			}
			for _, row := range rows {
				if row.Seq != edge.Size() {
					return fmt.Errorf("entry %d is not in the increment", edge.Size())
				}
				if e := readBack(mill, row, openings[row.Seq]); e.bad != nil {
					return errors.New(e.bad.Why.String())
				}
				if _, err := record.Reread(row.Leaf, openings[row.Seq]); err != nil {
					return fmt.Errorf("entry %d: %w", row.Seq, err)
				}
				edge.Append(tlog.RecordHash(row.Leaf))
			}
		}
		if edge.Head(string(mill)) != end {
			return fmt.Errorf("the entries of the increment do not give the root of the record at %d entries", end.Size)
		}
	}
	return checkPhotos(inc)
}

// checkPhotos holds the photos of an increment against their digests.
func checkPhotos(inc reader) error {
	var digests []struct{ Mill, Digest string }
	if err := inc.gorm().Raw("SELECT mill, digest FROM photos WHERE dropped = 0").Scan(&digests).Error; err != nil {
		return err
	}
	for _, named := range digests {
		row, err := one[photoRow](inc, "photo", "mill = ? AND digest = ?", named.Mill, named.Digest)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(row.Bytes)
		if hex.EncodeToString(sum[:]) != row.Digest {
			return fmt.Errorf("the photo %.12s is not the one its digest names", row.Digest)
		}
	}
	return nil
}
