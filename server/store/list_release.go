package store

import (
	"context"
	"errors"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// releaseRow says of a version of a list that it takes force later than it was
// signed; a version without one is in force from its signature on.
type releaseRow struct {
	Mill      string `gorm:"primaryKey"`
	List      string `gorm:"primaryKey"`
	Version   int    `gorm:"primaryKey"`
	Effective int64
}

func (releaseRow) TableName() string { return "releases" }

// releases keeps when a list's version takes force, where that is later than
// its entry.
func releases(tx *Tx, mill string, doc string, at time.Time) error {
	l, err := read[checklists.List](doc)
	if err != nil || !l.InForce.After(at) {
		return err
	}
	return tx.db.Create(&releaseRow{Mill: mill, List: string(l.ID), Version: l.Version, Effective: millis(l.InForce)}).Error
}

// listsInForce lists of every list the version in force at a time: the highest
// whose own time has come. A version signed to take
// force later gives way to a higher one signed before that.
func listsInForce(r reader, mill checklists.MillID, at time.Time) ([]Publication, error) {
	var rows []publicationRow
	err := r.gorm().Order("title, id").Find(&rows, `mill = @mill AND sort = @sort AND version = (
		SELECT max(version) FROM publications AS newer WHERE newer.mill = @mill AND newer.sort = publications.sort AND newer.id = publications.id
		AND NOT EXISTS (SELECT 1 FROM releases WHERE releases.mill = @mill AND releases.list = newer.id AND releases.version = newer.version AND releases.effective > @at))`,
		map[string]any{"mill": mill, "sort": Lists, "at": millis(at)}).Error
	published := make([]Publication, len(rows))
	for i, row := range rows {
		published[i] = publicationOf(row)
	}
	return published, err
}

// ListsInForce lists of every list the version in force at that time.
func (m *Mill) ListsInForce(ctx context.Context, at time.Time) ([]Publication, error) {
	return listsInForce(ctxReader{m, ctx}, m.id, at)
}

// ListInForce loads the version of a list in force at that time; ErrNotFound if
// there was none yet.
func (m *Mill) ListInForce(ctx context.Context, id checklists.ListID, at time.Time) (Publication, error) {
	return listInForce(ctxReader{m, ctx}, m.id, id, at)
}

func listInForce(r reader, mill checklists.MillID, id checklists.ListID, at time.Time) (Publication, error) {
	var version int
	err := r.gorm().Raw(`SELECT coalesce(max(version), 0) FROM publications WHERE mill = ? AND sort = ? AND id = ?
		AND NOT EXISTS (SELECT 1 FROM releases WHERE releases.mill = ? AND releases.list = publications.id AND releases.version = publications.version AND releases.effective > ?)`,
		mill, Lists, id, mill, millis(at)).Scan(&version).Error
	if err != nil {
		return Publication{}, err
	}
	row, err := one[publicationRow](r, string(Lists), "mill = ? AND sort = ? AND id = ? AND version = ?", mill, Lists, id, version)
	return publicationOf(row), err
}

// Versions lists every version of a list, newest first.
func (m *Mill) Versions(ctx context.Context, id checklists.ListID) ([]Publication, error) {
	var rows []publicationRow
	err := m.gorm().WithContext(ctx).Order("version DESC").Find(&rows, "mill = ? AND sort = ? AND id = ?", m.id, Lists, id).Error
	published := make([]Publication, len(rows))
	for i, row := range rows {
		published[i] = publicationOf(row)
	}
	return published, err
}

// numbered is the list of d as the version it is published as, held against the
// version it takes the place of.
func (m *Mill) numbered(tx *Tx, d Draft, version int, at time.Time) (string, error) {
	l, err := read[checklists.List](d.Doc)
	if err != nil {
		return "", err
	}
	word := checklists.Publishing{Version: version, At: at, From: d.From, Reasons: d.Reasons}
	if word.Plant, err = plant(tx, m.id); err != nil {
		return "", err
	}
	mill, err := tx.Mill(m.id)
	if err != nil {
		return "", err
	}
	word.SetUp = mill.SetUp
	before, err := listInForce(tx, m.id, checklists.ListID(d.ID), later(at, d.From))
	switch {
	case err == nil:
		if word.Before, err = read[checklists.List](before.Doc); err != nil {
			return "", err
		}
	case !errors.Is(err, ErrNotFound):
		return "", err
	}
	l.ID = checklists.ListID(d.ID)
	signed, err := l.Published(word)
	if err != nil {
		return "", err
	}
	return marshal(signed)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// Release is a list's next version as its author read it before signing.
type Release struct {
	Draft
	Over int // the newest version the author had seen
	// Anew: the text is that of an older version, published again. The draft, if
	// there is one, stays as it is.
	Anew bool
}

// ReleaseList puts a list in force, now or from a later time on. Its error is
// ErrChanged when somebody saved the draft or published since r was read.
func (m *Mill) ReleaseList(ctx context.Context, submission string, r Release, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "publish", at, func(tx *Tx, at time.Time) (string, error) {
		if err := m.seen(tx, r.Draft, r.Over); err != nil {
			return "", err
		}
		if r.Anew {
			return r.ID, m.publishAs(tx, r.Draft, by, at, nil)
		}
		row, err := one[draftRow](tx, "draft", "mill = ? AND sort = ? AND id = ?", m.id, Lists, r.ID)
		if err != nil && !errors.Is(err, ErrNotFound) {
			return "", err
		}
		if row.Revision != r.Revision {
			return "", ErrChanged
		}
		return r.ID, m.putInForce(tx, r.Draft, by, at, nil)
	})
	return err
}
