package store

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// filledFile is the database file of a closed mill with an act of every kind.
func filledFile(t *testing.T) (path string, h happened) {
	t.Helper()
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	m := setUp(t, s, fernhollow)
	publishAll(t, m)
	h = fill(t, m)
	require.NoError(t, s.Close())
	return filepath.Join(dir, FileName), h
}

// altered copies the database at path and runs change on the copy as somebody
// with the file in hand could.
func altered(t *testing.T, path string, change func(*gorm.DB) error) *Store {
	t.Helper()
	dir := t.TempDir()
	bytes, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), bytes, 0o600))
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	require.NoError(t, s.writes.Exec("PRAGMA foreign_keys = OFF").Error)
	require.NoError(t, change(s.writes))
	return s
}

func running(statement string) func(*gorm.DB) error {
	return func(db *gorm.DB) error {
		done := db.Exec(statement)
		if done.Error == nil && done.RowsAffected == 0 {
			return gorm.ErrRecordNotFound // an alteration that alters nothing proves nothing
		}
		return done.Error
	}
}

func TestVerifyNamesTheEntryThatWasTouched(t *testing.T) {
	path, _ := filledFile(t)
	untouched := altered(t, path, func(*gorm.DB) error { return nil })
	size := clean(t, untouched)
	require.Greater(t, size, int64(25))
	var blank int64 // an entry with places where nothing was written
	require.NoError(t, untouched.reads.Raw("SELECT min(seq) FROM entries WHERE kind = 'inspection' AND blank_paths LIKE '%' || char(10) || '%'").Scan(&blank).Error)
	require.Positive(t, blank)

	for name, c := range map[string]struct {
		change string
		seq    int64
		want   record.Change
	}{
		"leaf":                   {"UPDATE entries SET leaf = CAST(replace(CAST(leaf AS TEXT), 'Fernhollow', 'Fernhallow') AS BLOB) WHERE seq = 0", 0, record.LeafDiffers},
		"leaf cut short":         {"UPDATE entries SET leaf = substr(leaf, 1, length(leaf) - 1) WHERE seq = 7", 7, record.LeafDiffers},
		"leaf emptied":           {"UPDATE entries SET leaf = x'' WHERE seq = 7", 7, record.LeafDiffers},
		"id":                     {"UPDATE entries SET id = '01990000-0000-7000-8000-00000000ffff' WHERE seq = 3", 3, record.ColumnDiffers},
		"kind":                   {"UPDATE entries SET kind = 'lift' WHERE seq = 3", 3, record.ColumnDiffers},
		"version":                {"UPDATE entries SET version = 2 WHERE seq = 3", 3, record.ColumnDiffers},
		"subject":                {"UPDATE entries SET subject = 'ben' WHERE seq = 3", 3, record.ColumnDiffers},
		"actor":                  {"UPDATE entries SET actor = 'ben' WHERE seq = 3", 3, record.ColumnDiffers},
		"at":                     {"UPDATE entries SET at = at + 1 WHERE seq = 3", 3, record.ColumnDiffers},
		"at's offset":            {"UPDATE entries SET at_offset = 0 WHERE seq = 3", 3, record.ColumnDiffers},
		"happened":               {"UPDATE entries SET happened = happened - 1 WHERE seq = 3", 3, record.ColumnDiffers},
		"happened's offset":      {"UPDATE entries SET happened_offset = 0 WHERE seq = 3", 3, record.ColumnDiffers},
		"shown value":            {"UPDATE openings SET value = 'Ada Crow' WHERE value = 'Ada Rook'", 3, record.OpeningDiffers},
		"salt":                   {"UPDATE openings SET salt = zeroblob(32) WHERE seq = 3", 3, record.OpeningDiffers},
		"value at no field":      {"INSERT INTO openings (mill, seq, path, salt, value) SELECT mill, seq, '/role', salt, 'supervisor' FROM openings WHERE seq = 3 AND path = '/name'", 3, record.OpeningStray},
		"value moved":            {"UPDATE openings SET seq = 0 WHERE seq = 3 AND path = '/name'", 0, record.OpeningStray},
		"value gone":             {"DELETE FROM openings WHERE value = 'Ada Rook'", 3, record.OpeningMissing},
		"value of no entry":      {"INSERT INTO openings (mill, seq, path, salt, value) SELECT mill, 5000, path, salt, value FROM openings WHERE seq = 3", 5000, record.OpeningStray},
		"blank salt":             {"UPDATE entries SET blank_salts = zeroblob(length(blank_salts)) WHERE kind = 'inspection'", blank, record.OpeningDiffers},
		"blank salts cut short":  {"UPDATE entries SET blank_salts = substr(blank_salts, 1, length(blank_salts) - 1) WHERE kind = 'inspection'", blank, record.OpeningDiffers},
		"blank salts longer":     {"UPDATE entries SET blank_salts = CAST(blank_salts || x'00' AS BLOB) WHERE kind = 'inspection'", blank, record.OpeningDiffers},
		"blank salts, no paths":  {"UPDATE entries SET blank_salts = zeroblob(32) WHERE seq = 2", 2, record.OpeningStray},
		"blank gone":             {"UPDATE entries SET blank_paths = '', blank_salts = x'' WHERE kind = 'inspection'", blank, record.OpeningMissing},
		"blank at no field":      {"UPDATE entries SET blank_paths = blank_paths || char(10) || '/role', blank_salts = CAST(blank_salts || zeroblob(32) AS BLOB) WHERE kind = 'inspection'", blank, record.OpeningStray},
		"blank and written":      {"INSERT INTO openings (mill, seq, path, salt, value) SELECT mill, seq, substr(blank_paths, 1, instr(blank_paths, char(10)) - 1), substr(blank_salts, 1, 32), '' FROM entries WHERE kind = 'inspection'", blank, record.OpeningTwice},
		"day":                    {"UPDATE entries SET day = '2026-03-04' WHERE seq = 3", 3, record.ColumnDiffers},
		"equipment gone":         {"DELETE FROM entry_equipment WHERE seq = 2 AND equipment = 'hoist'", 2, record.EquipmentDiffers},
		"equipment of an entry":  {"UPDATE entry_equipment SET equipment = 'x' WHERE seq = 2 AND equipment = 'hoist'", 2, record.EquipmentDiffers},
		"equipment added":        {"INSERT INTO entry_equipment (mill, seq, equipment) SELECT id, 3, 'hoist' FROM mills", 3, record.EquipmentDiffers},
		"equipment of no entry":  {"INSERT INTO entry_equipment (mill, seq, equipment) SELECT id, 5000, 'hoist' FROM mills", 5000, record.EquipmentDiffers},
		"hash of a leaf":         {"UPDATE tree_hashes SET hash = zeroblob(32) WHERE place = 0", 0, record.LeafDiffers},
		"hash gone":              {"DELETE FROM tree_hashes WHERE place = 0", 0, record.HashMissing},
		"hash of the wrong size": {"UPDATE tree_hashes SET hash = x'00' WHERE place = 0", 0, record.HashMissing},
		"inner hash":             {"UPDATE tree_hashes SET hash = zeroblob(32) WHERE place = 2", 0, record.HashDiffers},
		"entry gone":             {"DELETE FROM entries WHERE seq = 5", 5, record.EntryMissing},
		"entries swapped":        {"UPDATE entries SET seq = CASE seq WHEN 4 THEN -4 WHEN 5 THEN -5 END WHERE seq IN (4, 5); UPDATE entries SET seq = CASE seq WHEN -4 THEN 5 ELSE 4 END WHERE seq < 0", 4, record.EntryMoved},
		"entry added":            {"INSERT INTO entries SELECT mill, seq + 1000, '01990000-0000-7000-8000-00000000fffe', kind, version, subject, actor, at, at_offset, happened, happened_offset, day, leaf, blank_paths, blank_salts FROM entries WHERE seq = 3", 1003, record.EntryExtra},
		"head's size":            {"UPDATE log_heads SET size = size - 1", -1, record.SizeDiffers},
		"head's root":            {"UPDATE log_heads SET root = zeroblob(32)", -1, record.RootDiffers},
		"head gone":              {"DELETE FROM log_heads", 0, record.EntryExtra},
	} {
		t.Run(name, func(t *testing.T) {
			s := altered(t, path, running(c.change))
			reports, err := s.Verify(t.Context())
			require.NoError(t, err)
			report := reports[fernhollow]
			require.False(t, report.OK())
			for _, fault := range report.Faults {
				if fault.Seq == c.seq && fault.Change == c.want {
					return
				}
			}
			require.Fail(t, "the entry is not named", "want %d %s in %v", c.seq, c.want, report.Faults)
		})
	}
}

func TestVerifyAnswersForAMillWhoseRowIsGone(t *testing.T) {
	path, _ := filledFile(t)
	s := altered(t, path, running("DELETE FROM mills"))
	reports, err := s.Verify(t.Context())
	require.NoError(t, err)
	require.True(t, reports[fernhollow].OK(), "the record does not rest on a projection")
	require.NoError(t, s.writes.Exec("DELETE FROM entries WHERE seq = 2").Error)
	reports, err = s.Verify(t.Context())
	require.NoError(t, err)
	require.False(t, reports[fernhollow].OK())
}

func TestRootOfAWrongSizeIsNeverTakenForClean(t *testing.T) {
	path, _ := filledFile(t)
	s := altered(t, path, running("UPDATE log_heads SET root = x'00'"))
	reports, err := s.Verify(t.Context())
	require.True(t, err != nil || !reports[fernhollow].OK())
}

func TestEntryThatNamesAPhotoNamesItByWhatItIs(t *testing.T) {
	path, h := filledFile(t)
	describes := "(SELECT min(seq) FROM entries WHERE kind = 'defect-described')"
	for name, c := range map[string]struct {
		change string
		want   record.Change
	}{
		"photo gone":    {"DELETE FROM photos", record.PhotoMissing},
		"other picture": {"UPDATE photos SET bytes = CAST('another picture' AS BLOB)", record.PhotoDiffers},
		"renamed":       {"UPDATE photos SET digest = replace(digest, substr(digest, 1, 8), '00000000')", record.PhotoMissing},
		"another mill":  {"UPDATE photos SET mill = 'x'", record.PhotoMissing},
	} {
		s := altered(t, path, running(c.change))
		reports, err := s.Verify(t.Context())
		require.NoError(t, err)
		var seq int64
		require.NoError(t, s.reads.Raw("SELECT "+describes).Scan(&seq).Error)
		var named bool
		for _, f := range reports[fernhollow].Faults {
			named = named || f.Seq == seq && f.Change == c.want && f.Field == h.Photo
		}
		require.True(t, named, "%s: want %d in %v", name, seq, reports[fernhollow].Faults)
	}
}

func TestPhotoNoEntryNamesIsCheckedToo(t *testing.T) {
	path, _ := filledFile(t)
	s := altered(t, path, running("INSERT INTO photos (mill, digest, type, width, height, at, bytes) SELECT mill, '00', type, width, height, at, bytes FROM photos"))
	reports, err := s.Verify(t.Context())
	require.NoError(t, err)
	require.Len(t, reports[fernhollow].Faults, 1)
	require.Equal(t, record.PhotoDiffers, reports[fernhollow].Faults[0].Change)
	require.EqualValues(t, -1, reports[fernhollow].Faults[0].Seq)
}

// Every field of a body that holds the digest of a photo is looked at: a body
// filled everywhere with another text names each of its photos.
func TestNoPhotoOfABodyIsOverlooked(t *testing.T) {
	for _, kind := range Kinds() {
		b := bodyOf(kind, 1)
		var want []string
		fillPhotos(reflect.ValueOf(b).Elem(), &want)
		slices.Sort(want)
		require.Equal(t, want, photosIn(b), kind)
	}
}

// fillPhotos puts a digest in every field whose name ends in Photo, one element
// in every list, and notes them.
func fillPhotos(v reflect.Value, put *[]string) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			switch _, outer := v.Type().FieldByName(f.Name); {
			case !outer, !f.IsExported() && !f.Anonymous, f.Name == "Inspection" && f.Anonymous, f.Name == "Amendment" && f.Anonymous:
				continue // what the body shadows is not in the entry
			case strings.HasSuffix(f.Name, "Photo"):
				*put = append(*put, fmt.Sprintf("%064d", len(*put)))
				v.Field(i).SetString((*put)[len(*put)-1])
			case f.IsExported() || f.Type.Kind() == reflect.Struct:
				fillPhotos(v.Field(i), put)
			}
		}
	case reflect.Slice:
		if v.CanSet() && v.Type().Elem().Kind() == reflect.Struct {
			v.Set(reflect.MakeSlice(v.Type(), 1, 1))
			fillPhotos(v.Index(0), put)
		}
	}
}

func TestDatabaseWithoutAMillHasNoReport(t *testing.T) {
	reports, err := open(t).Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, reports)
}

func TestMillWhoseLogIsGoneIsNotClean(t *testing.T) {
	path, _ := filledFile(t)
	s := altered(t, path, running("DELETE FROM log_heads; DELETE FROM entries"))
	reports, err := s.Verify(t.Context())
	require.NoError(t, err)
	require.Contains(t, reports, fernhollow)
	require.False(t, reports[fernhollow].OK())
}

func TestHashesAreReadInRuns(t *testing.T) {
	m := newMill(t)
	read := hashReader(m, m.id)
	one := func(place int64) tlog.Hash {
		hashes, err := read.ReadHashes([]int64{place})
		require.NoError(t, err)
		return hashes[0]
	}
	hashes, err := read.ReadHashes([]int64{3, 4, 5, 2, 9, 10})
	require.NoError(t, err)
	require.Equal(t, []tlog.Hash{one(3), one(4), one(5), one(2), one(9), one(10)}, hashes)
	_, err = read.ReadHashes([]int64{4, 5, 100000})
	require.ErrorIs(t, err, ErrNotFound)
}

func TestCommandOnATouchedTreeIsRefusedNotPaperedOver(t *testing.T) {
	path, _ := filledFile(t)
	s := altered(t, path, running("UPDATE log_heads SET root = zeroblob(32)"))
	before := dump(t, s.reads, "SELECT count(*) FROM entries")
	_, err := s.Of(fernhollow).StopIt(t.Context(), NewID(), checklists.Defect{Equipment: "head-saw"}, ada, six)
	require.ErrorContains(t, err, "hashes")
	require.Equal(t, before, dump(t, s.reads, "SELECT count(*) FROM entries"))
}
