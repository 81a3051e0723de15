package store

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// forged is an entry in the hands of somebody who knows how the record is kept.
type forged struct {
	row      entryRow
	openings []openingRow
}

// forgeryOf are the entries of a mill, to be written anew.
func forgeryOf(r reader, mill checklists.MillID) (all []forged, err error) {
	rows, openings, err := pageFrom(r, mill, 0, 1000)
	for _, row := range rows {
		f := forged{row: row}
		for _, o := range openings[row.Seq] {
			f.openings = append(f.openings, openingRow{Mill: string(mill), Seq: row.Seq, Path: o.Path, Salt: o.Salt, Value: o.Value})
		}
		all = append(all, f)
	}
	return all, err
}

var seqOfLeaf = regexp.MustCompile(`,"seq":\d+,"subject":`)

// said makes a leaf say something else, in the one form a leaf has.
func (f forged) said(t *testing.T, old, new string) forged {
	t.Helper()
	require.Contains(t, string(f.row.Leaf), old)
	f.row.Leaf = bytes.Replace(f.row.Leaf, []byte(old), []byte(new), 1)
	return f
}

// shown gives a personal field another value, with the commitment to fit it.
func (f forged) shown(t *testing.T, path, value string) forged {
	t.Helper()
	at := slices.IndexFunc(f.openings, func(o openingRow) bool { return o.Path == path })
	require.GreaterOrEqual(t, at, 0)
	o := f.openings[at]
	old := commitmentTo(o.Salt, o.Value)
	f.openings = slices.Clone(f.openings)
	f.openings[at].Value = value
	return f.said(t, old, commitmentTo(o.Salt, value))
}

// forge replaces the whole record by entries: leaves with their places, columns,
// openings, hashes, head and everything that follows from them, so that nothing
// within the database contradicts it.
func (b *bench) forge(t *testing.T, entries []forged) {
	t.Helper()
	db := b.tx.gorm
	for _, table := range []string{"entries", "openings", "entry_equipment", "tree_hashes", "search_words", "search_places"} {
		require.NoError(t, db().Exec("DELETE FROM "+table+" WHERE mill = ?", b.m.id).Error)
	}
	var edge record.Frontier
	words := wordSets{}
	for i, f := range entries {
		f.row.Mill, f.row.Seq = string(b.m.id), int64(i)
		f.row.Leaf = seqOfLeaf.ReplaceAll(f.row.Leaf, fmt.Appendf(nil, `,"seq":%d,"subject":`, i))
		var openings []record.Opening
		f.openings = slices.Clone(f.openings)
		for j := range f.openings {
			o := &f.openings[j]
			o.Mill, o.Seq = f.row.Mill, f.row.Seq
			openings = append(openings, record.Opening{Path: o.Path, Salt: o.Salt, Value: o.Value})
		}
		read, err := record.Read(f.row.Leaf, openings)
		require.NoError(t, err)
		c := read.Columns()
		row := entryRow{Mill: f.row.Mill, Seq: f.row.Seq, ID: c.ID, Kind: c.Kind, Version: c.Version, Subject: c.Subject, Actor: c.Actor, At: millis(c.At), AtOffset: c.Offset,
			Happened: millis(c.Happened), HappenedOffset: c.HappenedOffset, Day: c.Day, Leaf: f.row.Leaf, BlankSalts: []byte{}}
		require.NoError(t, db().Create(&row).Error)
		require.NoError(t, createAll(b.tx, f.openings))
		said, err := decode(c.Kind, c.Version, read)
		require.NoError(t, err)
		for _, id := range distinct(said.about()) {
			require.NoError(t, db().Create(&entryEquipmentRow{Mill: row.Mill, Equipment: string(id), Seq: row.Seq}).Error)
		}
		words.add(row.Seq, wordsOf(c.Kind, c.Actor, c.Day, said))
		for _, h := range edge.Append(tlog.RecordHash(row.Leaf)) {
			require.NoError(t, db().Create(&hashRow{Mill: row.Mill, Place: h.Index, Hash: h.Hash[:]}).Error)
		}
	}
	require.NoError(t, b.tx.addWords(b.m.id, 0, words))
	root := edge.Root()
	require.NoError(t, db().Exec("UPDATE log_heads SET size = ?, root = ? WHERE mill = ?", len(entries), root[:], b.m.id).Error)
	b.mendTables(t)
}

// mendTables makes the tables what the entries give.
func (b *bench) mendTables(t *testing.T) {
	t.Helper()
	made, err := newScratch(t.Context(), t.TempDir())
	require.NoError(t, err)
	defer func() { require.NoError(t, made.Close()) }()
	for _, mill := range b.mills() {
		_, err = made.replay(t.Context(), b.tx, mill, -1, nil)
		require.NoError(t, err)
	}
	for _, table := range projections() {
		shape, err := shapeOf(made, table)
		require.NoError(t, err)
		var differ []rowDifference
		_, err = compareTable(t.Context(), made, b.tx, shape, func(d rowDifference) error { differ = append(differ, d); return nil })
		require.NoError(t, err)
		for _, d := range differ {
			require.NoError(t, d.mend(b.tx))
		}
	}
}

// signAnew makes every checkpoint put by one of the record as it now stands,
// signed by the key in use; those of before it was named are beyond its holder
// and are removed.
func (b *bench) signAnew(t *testing.T) {
	t.Helper()
	signer, _, err := b.m.s.keys.signer(b.m.id, b.key)
	require.NoError(t, err)
	var rows []checkpointRow
	require.NoError(t, b.tx.gorm().Order("size, text").Find(&rows, "mill = ?", b.m.id).Error)
	size, err := headOf(b.tx, b.m.id)
	require.NoError(t, err)
	require.NoError(t, b.tx.gorm().Delete(&checkpointRow{}, "mill = ?", b.m.id).Error)
	for _, row := range rows {
		if row.Size > size.Size {
			continue
		}
		root, err := record.Root(row.Size, hashReader(b.tx, b.m.id))
		require.NoError(t, err)
		row.Text = signedHead(t, record.Head{Mill: string(b.m.id), Size: row.Size, Root: root}, signer)
		require.NoError(t, b.tx.gorm().Create(&row).Error)
	}
}

func signedHead(t *testing.T, head record.Head, signer note.Signer) string {
	t.Helper()
	text, err := head.Sign(signer)
	require.NoError(t, err)
	return text
}

// dropKept removes the checkpoints put by from a size on.
func (b *bench) dropKept(t *testing.T, from int64) {
	t.Helper()
	require.NoError(t, b.tx.gorm().Exec("DELETE FROM checkpoints WHERE mill = ? AND size >= ?", b.m.id, from).Error)
}

// sql runs a statement that must change something.
func (b *bench) sql(t *testing.T, statement string, args ...any) {
	t.Helper()
	done := b.tx.gorm().Exec(statement, args...)
	require.NoError(t, done.Error)
	require.Positive(t, done.RowsAffected, "an alteration that alters nothing proves nothing")
}

// leaf replaces text in the leaf of one entry and nothing else.
func (b *bench) leaf(t *testing.T, seq int64, old, new string) {
	t.Helper()
	require.Contains(t, string(b.record[seq].row.Leaf), old)
	b.sql(t, "UPDATE entries SET leaf = ? WHERE mill = ? AND seq = ?", []byte(strings.Replace(string(b.record[seq].row.Leaf), old, new, 1)), b.m.id, seq)
}

// another is the same once more, under other ids.
func (f forged) another() forged {
	for _, id := range []string{f.row.ID, f.row.Subject} {
		f.row.Leaf = bytes.ReplaceAll(f.row.Leaf, []byte(id), []byte(id[:32]+"ffff"))
	}
	return f
}

// enter writes an entry as the program does.
func (b *bench) enter(t *testing.T, a act, said body) {
	t.Helper()
	tx := &Tx{db: b.tx.db, logs: logs{}}
	_, err := tx.append(b.m.id, a, said)
	require.NoError(t, err)
	require.NoError(t, tx.say(tx.unsaid))
}

// strangersKey is a key that bears the mill's name and is not the mill's.
func strangersKey(t *testing.T) (private, verifier string) {
	t.Helper()
	private, verifier, err := record.NewKey(string(fernhollow), rand.Reader)
	require.NoError(t, err)
	return private, verifier
}

// signWith has the mill's checkpoints signed by another key from here on.
func (b *bench) signWith(t *testing.T, private string) {
	t.Helper()
	s := &Store{path: b.m.s.path, reads: b.m.s.reads, writes: b.m.s.writes, keys: keyring{dir: t.TempDir()}}
	require.NoError(t, s.keys.write(s.keys.path(b.m.id), private))
	b.m = s.Of(b.m.id)
}

// commitmentTo is what stands in a leaf in place of a personal value (see the doc
// of server/record).
func commitmentTo(salt []byte, value string) string {
	sum := sha256.Sum256([]byte("stillsaw personal value 1\n" + string(salt) + value))
	return "sha256:" + hex.EncodeToString(sum[:])
}
