package store

import (
	"context"
	"errors"
	"slices"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// replayPage is how many entries are read together and share one transaction
// of the scratch database.
const replayPage = 1000

// faultsListed bounds the entries named that could not be replayed.
const faultsListed = 100

// replayed is what came of a replay.
type replayed struct {
	Entries int64 // read
	After   int64 // place of the last one, -1 for none

	Failed      []NotReplayed // the first hundred
	FailedCount int64
}

// NotReplayed is an entry of which nothing follows in the tables, as it can't be
// read or its projection failed.
type NotReplayed struct {
	Seq      int64
	ID, Kind string
	Why      plain.Sentence
}

func (r *replayed) fail(f NotReplayed) {
	r.FailedCount++
	if len(r.Failed) < faultsListed {
		r.Failed = append(r.Failed, f)
	}
}

// opened tells whether a replay may see the opening of an entry's personal
// field. A replay that doesn't makes the tables as they will be once it is
// dropped: the value is "" in them.
type opened func(seq int64, o record.Opening) bool

// replay projects the entries of mill into c as they are read from their leaves
// and openings, those after the place after (-1: all), in order. from is a read
// transaction, so that all of it is of one moment; keep may be nil for every
// opening. Memory doesn't grow with the record.
//
// An entry that can't be read or whose projection fails leaves no row; it is
// named in the result and the replay goes on. The error is one of a database or
// of ctx. To carry on with what was entered meanwhile, call it again with the
// After of the result.
//
// Some projections are right only together with what came before them: an event
// of a lockout is folded onto the row its earlier events made, closing an
// incident changes that incident's row, confirming the clock names inspections
// already there, equipment is replaced whole. So a mill is replayed from its
// beginning into an empty scratch database, never single entries into a full one.
func (c *scratch) replay(ctx context.Context, from reader, mill checklists.MillID, after int64, keep opened) (replayed, error) {
	ctx, stop := context.WithCancel(ctx)
	pages := make(chan replayPageRead, 1)
	go func() {
		defer close(pages)
		readPages(ctx, from, mill, after, keep, pages)
	}()
	defer func() {
		stop()
		for range pages { // the reader has let go of from when we return
		}
	}()
	done := replayed{After: after}
	for page := range pages {
		if page.err != nil {
			return done, page.err
		}
		if err := c.project(ctx, page.entries, &done); err != nil {
			return done, err
		}
	}
	return done, ctx.Err()
}

// replayEntry is an entry read back, or why it can't be.
type replayEntry struct {
	entry
	id   string
	body body
	bad  *NotReplayed
}

type replayPageRead struct {
	entries []replayEntry
	err     error
}

// readPages reads the entries of mill page by page while those before are projected.
func readPages(ctx context.Context, from reader, mill checklists.MillID, after int64, keep opened, pages chan<- replayPageRead) {
	for {
		rows, openings, err := pageFrom(from, mill, after+1, replayPage)
		page := replayPageRead{err: err, entries: make([]replayEntry, len(rows))}
		for i, row := range rows {
			kept := openings[row.Seq]
			if keep != nil {
				kept = slices.DeleteFunc(kept, func(o record.Opening) bool { return !keep(row.Seq, o) })
			}
			page.entries[i] = readBack(mill, row, kept)
			after = row.Seq
		}
		select {
		case pages <- page:
		case <-ctx.Done():
			return
		}
		if err != nil || len(rows) < replayPage {
			return
		}
	}
}

// pageFrom is a page of a mill's entries from a place on, with the openings of each.
func pageFrom(r reader, mill checklists.MillID, place int64, most int) (page []entryRow, openings map[int64][]record.Opening, err error) {
	var p entryPage
	if err := p.read(r, mill, place, most); err != nil || len(p.rows) == 0 {
		return nil, nil, err
	}
	openings = make(map[int64][]record.Opening, len(p.rows))
	for from := 0; from < len(p.openings); {
		until := from + 1
		for until < len(p.openings) && p.of[until] == p.of[from] {
			until++
		}
		openings[p.of[from]] = p.openings[from:until:until]
		from = until
	}
	for _, row := range p.rows {
		openings[row.Seq] = p.blanksOf(row).with(nil, openings[row.Seq])
	}
	return p.rows, openings, nil
}

// readBack reads an entry from its leaf and openings alone. An opening that
// doesn't fit counts as not there; the verification names it.
func readBack(mill checklists.MillID, row entryRow, openings []record.Opening) replayEntry {
	e := replayEntry{id: row.ID, entry: entry{Mill: string(mill), Seq: row.Seq, Day: row.Day}}
	e.bad = &NotReplayed{Seq: row.Seq, ID: row.ID, Kind: row.Kind}
	said, err := record.Reread(row.Leaf, openings)
	for wrong := (*record.OpeningError)(nil); errors.As(err, &wrong); {
		openings = slices.DeleteFunc(openings, func(o record.Opening) bool { return o.Path == wrong.Path })
		said, err = record.Reread(row.Leaf, openings)
	}
	if err == nil {
		e.bad.ID, e.bad.Kind, e.id = said.ID, said.Kind, said.ID
		if said.Mill != string(mill) {
			e.bad.Why = plain.Say("Entry %d belongs to another mill and was not replayed.", row.Seq)
			return e
		}
		e.Actor, e.At = procedures.PersonID(said.Actor), said.At
		e.body, err = decode(said.Kind, said.Version, said)
	}
	switch {
	case err != nil:
		e.bad.Why = plain.Say("Entry %d can't be read and was not replayed: %s.", row.Seq, err.Error())
	case e.body == nil:
		e.bad.Why = plain.Say("Entry %d is of a kind or version this Stillsaw doesn't know and was not replayed.", row.Seq)
	default:
		e.bad = nil
	}
	return e
}

// project writes what follows from the entries of a page in one transaction.
// Where one fails it is taken back and done again, each entry apart, so that
// only what follows from the failing one is left out.
func (c *scratch) project(ctx context.Context, page []replayEntry, done *replayed) error {
	tx := &Tx{db: c.late, ahead: c.ahead}
	if c.apart {
		tx = &Tx{db: c.db}
	}
	err := c.inTransaction(ctx, func() error {
		for i := range page {
			if err := c.projectOne(tx, &page[i]); err != nil {
				return err
			}
		}
		return c.ahead.flush()
	})
	c.ahead.folds.pageDone()
	if err != nil {
		c.ahead.forget()
		if ctx.Err() == nil {
			err = c.projectApart(ctx, page)
		}
	}
	if err != nil {
		return err
	}
	for i := range page {
		done.Entries, done.After = done.Entries+1, page[i].Seq
		if page[i].bad != nil {
			done.fail(*page[i].bad)
		}
	}
	return nil
}

func (c *scratch) projectApart(ctx context.Context, page []replayEntry) error {
	return c.inTransaction(ctx, func() error {
		for i := range page {
			e := &page[i]
			if err := c.db.Exec("SAVEPOINT entry").Error; err != nil {
				return err
			}
			if err := c.projectOne(&Tx{db: c.db}, e); err != nil {
				e.bad = &NotReplayed{Seq: e.Seq, ID: e.id, Why: plain.Say("What follows from entry %d can't be made: %s.", e.Seq, err.Error())}
				e.bad.Kind, _ = e.body.kind()
				if err := c.db.Exec("ROLLBACK TO entry").Error; err != nil {
					return err
				}
			}
			if err := c.db.Exec("RELEASE entry").Error; err != nil {
				return err
			}
		}
		return nil
	})
}

// projectOne writes what follows from one entry; a panic is an error of it.
func (c *scratch) projectOne(tx *Tx, e *replayEntry) error {
	if e.bad != nil {
		return nil
	}
	if c.before != nil {
		if err := c.before(e.Seq); err != nil {
			return err
		}
	}
	one := *tx // a command's own
	return guarded(func(tx *Tx) error { return e.body.project(tx, e.entry) }, &one)
}

// inTransaction runs do between BEGIN and COMMIT on the one connection. gorm's
// own transaction would prepare each statement anew in every one of them.
func (c *scratch) inTransaction(ctx context.Context, do func() error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := c.db.Exec("BEGIN").Error; err != nil {
		return err
	}
	if err := do(); err != nil {
		return errors.Join(err, c.db.Exec("ROLLBACK").Error)
	}
	return c.db.Exec("COMMIT").Error
}
