package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// going is one drop at work: what goes, and the tables made again without it.
type going struct {
	m        *Mill
	ctx      context.Context
	drops    []Dropped
	subjects []string // things it is about, sorted
	mailed   []string // what goes that stands in mails

	submission string // "" for the program's own

	made *scratch // nil where nothing that stands in a table goes
	at   replayed
	gone map[int64][]string // paths that go, by entry
	rows []rowDifference    // of the tables, that held what goes
}

// folder holds the scratch database of a drop, beside the database: what is made
// there has what is kept of people in it.
func (g *going) folder() string { return filepath.Join(filepath.Dir(g.m.s.path), droppingFolder) }

// droppingFolder lies beside the database while something is dropped.
const droppingFolder = "dropping"

func (g *going) close() error {
	if g.made == nil {
		return nil
	}
	return errors.Join(g.made.Close(), os.RemoveAll(g.folder()))
}

// prepare makes the tables again as if what goes were gone, and finds the rows
// that held it. Rows that differ otherwise were altered, which is for a rebuild to
// say and not for a drop to cover up.
func (g *going) prepare(tx *Tx) (err error) {
	var words map[string]bool
	if g.gone, words, err = wordsOfDrops(tx, g.m.id, g.drops); err != nil {
		return err
	}
	if g.subjects, err = subjectsOf(tx, g.m.id, g.drops); err != nil {
		return err
	}
	head, err := headOf(tx, g.m.id)
	if err != nil {
		return err
	}
	g.at.After = head.Size - 1
	if len(words) == 0 {
		return nil
	}
	if err := errors.Join(os.RemoveAll(g.folder()), os.MkdirAll(g.folder(), 0o700)); err != nil {
		return fmt.Errorf("no folder to make the tables again: %w", err)
	}
	if g.made, err = newScratch(g.ctx, g.folder()); err != nil {
		return err
	}
	if err := g.replay(tx, -1); err != nil {
		return err
	}
	for _, table := range projections() {
		shape, err := shapeOf(g.made, table)
		if err != nil {
			return err
		}
		_, err = compareTable(g.ctx, g.made, tx, shape, func(d rowDifference) error {
			if d.made != nil && d.kept != nil && d.holdsWord(words) {
				g.rows = append(g.rows, d)
			}
			return nil
		})
		if err != nil {
			return fmt.Errorf("table %s: %w", table, err)
		}
	}
	g.mailed, err = inOutbox(tx, g.m.id, words)
	return err
}

func (g *going) replay(tx *Tx, after int64) error {
	done, err := g.made.replay(g.ctx, tx, g.m.id, after, func(seq int64, o record.Opening) bool { return !slices.Contains(g.gone[seq], o.Path) })
	if err != nil {
		return err
	}
	if done.FailedCount > 0 {
		return fmt.Errorf("nothing was dropped, since the tables can't be made again from the record: %s", done.Failed[0].Why)
	}
	g.at = done
	return nil
}

// catchUp replays what was entered since prepare and reads the rows again.
func (g *going) catchUp(tx *Tx) error {
	if g.made == nil {
		return nil
	}
	if err := g.replay(tx, g.at.After); err != nil {
		return err
	}
	for i := range g.rows {
		if err := g.rows[i].readAgain(g.made); err != nil {
			return err
		}
	}
	return nil
}

// readAgain reads the row that follows from the record as it is now.
func (d *rowDifference) readAgain(made reader) error {
	where := make([]string, len(d.shape.key))
	for i, column := range d.shape.key {
		where[i] = `"` + column + `" = ?`
	}
	rows, err := made.gorm().Raw(d.shape.selected(made.gorm())+" WHERE "+strings.Join(where, " AND "), d.key()...).Rows()
	if err != nil {
		return err
	}
	c := newCursor(rows, d.shape)
	err = c.next()
	if err == nil && c.row == nil {
		err = fmt.Errorf("%s %v: %w", d.shape.name, d.key(), ErrNotFound)
	}
	d.made = c.row
	return errors.Join(err, rows.Close())
}

// holdsWord tells whether a column of the kept row, or a text in its document, is
// one of words.
func (d rowDifference) holdsWord(words map[string]bool) bool {
	for _, value := range d.kept {
		text, ok := value.(string)
		if !ok {
			continue
		}
		var doc any
		if words[text] || json.Unmarshal([]byte(text), &doc) == nil && textIn(doc, func(text string) bool { return words[text] }) {
			return true
		}
	}
	return false
}

// textIn tells whether is holds for a text in a document.
func textIn(doc any, is func(string) bool) bool {
	switch doc := doc.(type) {
	case string:
		return is(doc)
	case []any:
		return slices.ContainsFunc(doc, func(part any) bool { return textIn(part, is) })
	case map[string]any:
		for _, part := range doc {
			if textIn(part, is) {
				return true
			}
		}
	}
	return false
}

// touched tells whether entries made since prepare are about what goes, name one
// of the photos, or change what is kept: then all is planned anew.
func (g *going) touched(tx *Tx) (bool, error) {
	var since []entryRow
	if err := tx.gorm().Find(&since, "mill = ? AND seq > ?", g.m.id, g.at.After).Error; err != nil {
		return false, err
	}
	for _, row := range since {
		if _, found := slices.BinarySearch(g.subjects, row.Subject); found {
			return true, nil
		}
		switch row.Kind {
		case KindKeepFor, KindHold, KindDropped:
			return true, nil
		}
		for _, d := range g.drops {
			for text := range quoted(row.Leaf) {
				if _, found := slices.BinarySearchFunc(d.Photos, text, func(digest string, text []byte) int { return bytes.Compare([]byte(digest), text) }); found {
					return true, nil
				}
			}
		}
	}
	return false, nil
}

// carryOut appends the entries, takes away what they name, and sets the rows that
// held it to what the record gives without it.
func (g *going) carryOut(tx *Tx, a act) error {
	var err error
	if a.At, err = tx.inTurn(g.m, a.At); err != nil {
		return err
	}
	for _, d := range g.drops {
		if d.Sort != "" {
			a.Subject = keepForSubject(d.Sort)
		}
		e, err := tx.append(g.m.id, a, newDroppedBody(d))
		if err != nil {
			return err
		}
		if err := g.takeAway(tx, d, e); err != nil {
			return err
		}
		if err := g.forgetAddresses(tx, d); err != nil {
			return err
		}
	}
	for _, row := range g.rows {
		if err := row.mend(tx); err != nil {
			return err
		}
	}
	if g.submission != "" {
		if err := tx.carriedOut(g.m.id, g.submission, "dropped", "", a.At); err != nil {
			return err
		}
	}
	return unmail(tx, g.m.id, g.mailed)
}

func (g *going) takeAway(tx *Tx, d Dropped, e entry) error {
	var found []int64
	for _, values := range d.Values {
		gone := tx.gorm().Delete(&openingRow{}, "mill = ? AND seq = ? AND path IN ?", g.m.id, values.Seq, values.Paths)
		if gone.Error != nil {
			return gone.Error
		}
		there := gone.RowsAffected
		if there != int64(len(values.Paths)) {
			blank, err := takeBlanks(tx, g.m.id, values)
			if err != nil {
				return err
			}
			there += blank
		}
		if there != int64(len(values.Paths)) {
			return fmt.Errorf("entry %d: of %d values to drop %d are there", values.Seq, len(values.Paths), there)
		}
		found = append(found, values.Seq)
	}
	tx.reindex(g.m.id, found)
	for _, digest := range d.Photos {
		gone := tx.gorm().Exec("UPDATE photos SET size = length(bytes), bytes = ?, dropped = ? WHERE mill = ? AND digest = ? AND dropped = 0", []byte{}, e.Seq, g.m.id, digest)
		if gone.Error != nil {
			return gone.Error
		}
		if gone.RowsAffected != 1 {
			return fmt.Errorf("photo %s: %w", digest, ErrNotFound)
		}
	}
	return nil
}

// forgetAddresses removes where mail went to people whose name goes.
func (g *going) forgetAddresses(tx *Tx, d Dropped) error {
	for part := range slices.Chunk(d.Values, 500) {
		var seqs []int64
		for _, one := range part {
			if slices.Contains(one.Paths, "/name") {
				seqs = append(seqs, one.Seq)
			}
		}
		var rows []entryRow
		if err := tx.gorm().Find(&rows, "mill = ? AND seq IN ? AND kind = ?", g.m.id, seqs, KindPerson).Error; err != nil {
			return err
		}
		for _, row := range rows {
			p, ok := bodyIn(row, nil).(*personBody)
			if !ok {
				continue
			}
			if err := tx.gorm().Delete(&mailRecipientRow{}, "mill = ? AND person = ?", g.m.id, p.ID).Error; err != nil {
				return err
			}
		}
	}
	return nil
}

// wordsOfDrops are the paths that go, by entry, and what stands there.
func wordsOfDrops(r reader, mill checklists.MillID, drops []Dropped) (map[int64][]string, map[string]bool, error) {
	gone, words := map[int64][]string{}, map[string]bool{}
	for _, d := range drops {
		for _, one := range d.Values {
			gone[one.Seq] = append(gone[one.Seq], one.Paths...)
			var values []string
			if err := r.gorm().Model(&openingRow{}).Where("mill = ? AND seq = ? AND path IN ? AND value <> ''", mill, one.Seq, one.Paths).Pluck("value", &values).Error; err != nil {
				return nil, nil, err
			}
			for _, value := range values {
				words[value] = true
			}
		}
	}
	return gone, words, nil
}

// subjectsOf are the things the drops are about.
func subjectsOf(r reader, mill checklists.MillID, drops []Dropped) ([]string, error) {
	var all []string
	for _, d := range drops {
		var seqs []int64
		for _, one := range d.Values {
			seqs = append(seqs, one.Seq)
		}
		for part := range slices.Chunk(seqs, 500) {
			var subjects []string
			if err := r.gorm().Model(&entryRow{}).Where("mill = ? AND seq IN ? AND subject <> '' AND subject <> ?", mill, part, mill).Distinct("subject").Pluck("subject", &subjects).Error; err != nil {
				return nil, err
			}
			all = append(all, subjects...)
		}
	}
	slices.Sort(all)
	return slices.Compact(all), nil
}

// shortestMailed is the shortest text, in letters, that is looked for in mails:
// shorter ones stand in any text by chance.
const shortestMailed = 3

// inOutbox are the words that stand in mails of the outbox.
func inOutbox(r reader, mill checklists.MillID, words map[string]bool) ([]string, error) {
	var mails []outboxRow
	if err := r.gorm().Find(&mails, "mill = ?", mill).Error; err != nil {
		return nil, err
	}
	var found []string
	for word := range words {
		if len([]rune(word)) >= shortestMailed && slices.ContainsFunc(mails, func(row outboxRow) bool {
			return strings.Contains(row.Subject, word) || strings.Contains(row.Body, word)
		}) {
			found = append(found, word)
		}
	}
	// The longer first: one may stand in another.
	slices.SortFunc(found, func(a, b string) int { return len(b) - len(a) })
	return found, nil
}

func unmail(tx *Tx, mill checklists.MillID, words []string) error {
	for _, word := range words {
		err := tx.gorm().Exec("UPDATE mail_outbox SET subject = replace(subject, ?, '…'), body = replace(body, ?, '…') WHERE mill = ?", word, word, mill).Error
		if err != nil {
			return err
		}
	}
	return nil
}

// foldLog folds the write-ahead log into the file and cuts it to nothing, so that
// what was dropped stands in neither. Where somebody reads for long it can't be
// folded whole; the next drop or the end of the program does it.
func (s *Store) foldLog(ctx context.Context) error {
	if s.postgres != nil {
		return nil // the server's log is the server's
	}
	var folded struct{ Busy, Log, Checkpointed int }
	return s.reads.WithContext(ctx).Raw("PRAGMA wal_checkpoint(TRUNCATE)").Scan(&folded).Error
}
