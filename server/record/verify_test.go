package record_test

import (
	"bytes"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"stillsaw/server/record"
)

func TestAnUntouchedRecordIsClean(t *testing.T) {
	for size := range int64(40) {
		k := log(t, size)
		report := k.verify()
		require.True(t, report.OK(), "%d entries: %+v", size, report.Faults)
		require.Equal(t, size, report.Entries)
		require.Equal(t, k.head.Root, report.Root)
		require.Equal(t, 2*size, report.FieldsOpen)
	}
	k := log(t, 3000) // several blocks of hashes
	require.True(t, k.verify().OK())
}

func TestTheZeroReportIsNotClean(t *testing.T) {
	require.False(t, record.Report{}.OK())
}

// replaceInLeaf rewrites text inside the leaf of one entry, as an editor of the
// database file would.
func replaceInLeaf(k *kept, seq int, old, new string) {
	k.rows[seq].Leaf = bytes.Replace(k.rows[seq].Leaf, []byte(old), []byte(new), 1)
}

// spoil flips a bit of one stored hash.
func spoil(k *kept, index int64) {
	hash := k.hashes[index]
	hash[3] ^= 1
	k.hashes[index] = hash
}

// rehash stores the hashes of the rows as they are now, as one who knows the
// construction would, and leaves the head.
func rehash(k *kept) record.Head {
	var edge record.Frontier
	for _, row := range k.rows {
		for _, h := range edge.Append(tlog.RecordHash(row.Leaf)) {
			k.hashes[h.Index] = h.Hash
		}
	}
	return edge.Head(mill)
}

// The alteration suite: thirteen entries, one thing changed, and exactly what
// the report must say, as "place change field".
func TestEachAlterationIsCaughtAndNamed(t *testing.T) {
	index := tlog.StoredHashIndex
	for name, c := range map[string]struct {
		alter func(k *kept)
		want  []string
	}{
		"a word in a leaf":       {func(k *kept) { replaceInLeaf(k, 5, `"result":"OK"`, `"result":"NO"`) }, []string{"5 entry changed"}},
		"the actor in a leaf":    {func(k *kept) { replaceInLeaf(k, 5, "person-7", "person-8") }, []string{"5 entry changed", "5 column changed actor"}},
		"a time in a leaf":       {func(k *kept) { replaceInLeaf(k, 0, `"at":"2026-03-02T12:04`, `"at":"2026-03-02T12:03`) }, []string{"0 entry changed", "0 column changed at"}},
		"a space in a leaf":      {func(k *kept) { replaceInLeaf(k, 12, `{"actor"`, `{ "actor"`) }, []string{"12 entry changed"}},
		"a commitment in a leaf": {func(k *kept) { replaceInLeaf(k, 5, `"sealed":"sha256:`, `"sealed":"sha256:0`) }, []string{"5 entry changed"}},
		"a leaf emptied":         {func(k *kept) { k.rows[5].Leaf = nil }, []string{"5 entry changed"}},
		"a leaf and its hash": {func(k *kept) {
			replaceInLeaf(k, 5, `"OK"`, `"NO"`)
			k.hashes[index(0, 5)] = tlog.RecordHash(k.rows[5].Leaf)
		}, []string{"4 stored hash changed"}},
		"the last leaf and hash": {func(k *kept) {
			replaceInLeaf(k, 12, `"OK"`, `"NO"`)
			k.hashes[index(0, 12)] = tlog.RecordHash(k.rows[12].Leaf)
		}, []string{"-1 root differs"}},
		"a leaf and every hash":     {func(k *kept) { replaceInLeaf(k, 5, `"OK"`, `"NO"`); rehash(k) }, []string{"-1 root differs"}},
		"no entry, hash fits":       {func(k *kept) { k.rows[5].Leaf = []byte("{}"); k.head = rehash(k) }, []string{"5 entry not readable"}},
		"an entry of another mill":  {func(k *kept) { replaceInLeaf(k, 5, mill, strings.Replace(mill, "aa", "bb", 1)); k.head = rehash(k) }, []string{"5 entry moved mill"}},
		"an entry removed":          {func(k *kept) { k.rows = slices.Delete(k.rows, 5, 6) }, []string{"5 entry missing", "-1 size differs"}},
		"three entries removed":     {func(k *kept) { k.rows = slices.Delete(k.rows, 5, 8) }, []string{"5 entry missing", "-1 size differs"}},
		"the first removed":         {func(k *kept) { k.rows = k.rows[1:] }, []string{"0 entry missing", "-1 size differs"}},
		"the end removed":           {func(k *kept) { k.rows = k.rows[:10] }, []string{"10 entry missing", "-1 size differs"}},
		"all removed":               {func(k *kept) { k.rows = nil }, []string{"0 entry missing", "-1 size differs"}},
		"an end, head lowered":      {func(k *kept) { k.rows, k.head.Size = k.rows[:10], 10 }, []string{"-1 root differs"}},
		"the head lowered":          {func(k *kept) { k.head.Size = 12 }, []string{"12 entry outside the log", "-1 size differs", "-1 root differs"}},
		"the head raised":           {func(k *kept) { k.head.Size = 14 }, []string{"13 stored hash not readable", "13 entry missing", "-1 size differs"}},
		"the head raised far":       {func(k *kept) { k.head.Size = 1 << 50 }, []string{"13 stored hash not readable", "13 entry missing", "1024 stored hash not readable", "-1 size differs"}},
		"the head's size spoilt":    {func(k *kept) { k.head.Size = -3 }, []string{"-1 size differs"}},
		"the head's root":           {func(k *kept) { k.head.Root[0] ^= 1 }, []string{"-1 root differs"}},
		"an entry put in":           {func(k *kept) { k.rows = slices.Insert(k.rows, 5, k.rows[4]) }, []string{"4 second entry at one place", "-1 size differs"}},
		"an entry added":            {func(k *kept) { r := k.rows[12]; r.Seq = 13; k.rows = append(k.rows, r) }, []string{"13 entry outside the log", "-1 size differs"}},
		"a negative place":          {func(k *kept) { k.rows = slices.Insert(k.rows, 0, record.Row{Seq: -1}) }, []string{"-1 entry outside the log", "-1 size differs"}},
		"two entries exchanged":     {func(k *kept) { k.rows[5], k.rows[6] = k.rows[6], k.rows[5]; k.rows[5].Seq, k.rows[6].Seq = 5, 6 }, []string{"5 entry moved seq", "6 entry moved seq"}},
		"an earlier entry repeated": {func(k *kept) { k.rows = append(k.rows, k.rows[2]) }, []string{"2 entry out of order", "-1 size differs"}},
		"one entry over another":    {func(k *kept) { k.rows[5] = k.rows[6]; k.rows[5].Seq = 5 }, []string{"5 entry moved seq"}},
		"a leaf's hash":             {func(k *kept) { spoil(k, index(0, 5)) }, []string{"5 entry changed"}},
		"an inner hash":             {func(k *kept) { spoil(k, index(1, 2)) }, []string{"4 stored hash changed"}},
		"a higher inner hash":       {func(k *kept) { spoil(k, index(2, 1)) }, []string{"4 stored hash changed"}},
		"a hash at the edge":        {func(k *kept) { spoil(k, index(3, 0)) }, []string{"0 stored hash changed"}},
		"two inner hashes":          {func(k *kept) { spoil(k, index(1, 0)); spoil(k, index(1, 4)) }, []string{"0 stored hash changed", "8 stored hash changed"}},
		"a leaf's hash removed":     {func(k *kept) { delete(k.hashes, index(0, 5)) }, []string{"5 stored hash not readable"}},
		"an inner hash removed":     {func(k *kept) { delete(k.hashes, index(2, 1)) }, []string{"4 stored hash not readable"}},
		"the last hash removed":     {func(k *kept) { delete(k.hashes, index(0, 12)) }, []string{"12 stored hash not readable"}},
		"all hashes removed":        {func(k *kept) { clear(k.hashes) }, []string{"0 stored hash not readable"}},
		"column id":                 {func(k *kept) { k.rows[5].Columns.ID = "x" }, []string{"5 column changed id"}},
		"column kind":               {func(k *kept) { k.rows[5].Columns.Kind = "lift" }, []string{"5 column changed kind"}},
		"column version":            {func(k *kept) { k.rows[5].Columns.Version++ }, []string{"5 column changed version"}},
		"column subject":            {func(k *kept) { k.rows[5].Columns.Subject = "saw" }, []string{"5 column changed subject"}},
		"column actor":              {func(k *kept) { k.rows[5].Columns.Actor = "" }, []string{"5 column changed actor"}},
		"column at":                 {func(k *kept) { k.rows[5].Columns.At = k.rows[5].Columns.At.Add(time.Millisecond) }, []string{"5 column changed at"}},
		"column offset":             {func(k *kept) { k.rows[5].Columns.Offset = 0 }, []string{"5 column changed offset"}},
		"column happened":           {func(k *kept) { k.rows[5].Columns.Happened = time.Time{} }, []string{"5 column changed happened"}},
		"column happened offset":    {func(k *kept) { k.rows[5].Columns.HappenedOffset++ }, []string{"5 column changed happenedOffset"}},
		"a note":                    {func(k *kept) { k.rows[5].Openings[0].Value = "all well" }, []string{"5 does not fit its commitment /note"}},
		"a salt":                    {func(k *kept) { k.rows[5].Openings[0].Salt[0] ^= 1 }, []string{"5 does not fit its commitment /note"}},
		"a note of another entry":   {func(k *kept) { k.rows[5].Openings[0].Value = k.rows[6].Openings[0].Value }, []string{"5 does not fit its commitment /note"}},
		"a note for another field":  {func(k *kept) { k.rows[5].Openings[0].Path = "/item" }, []string{"5 no personal field there /item", "5 value not kept /note"}},
		"column day":                {func(k *kept) { k.rows[5].Columns.Day = "" }, []string{"5 column changed day"}},
		"a note gone":               {func(k *kept) { k.rows[5].Openings = k.rows[5].Openings[1:] }, []string{"5 value not kept /note"}},
		"a second note":             {func(k *kept) { k.rows[5].Openings = append(k.rows[5].Openings, k.rows[5].Openings[0]) }, []string{"5 given twice /note"}},
	} {
		k := log(t, 13)
		c.alter(k)
		report := k.verify()
		var got []string
		for _, f := range report.Faults {
			got = append(got, strings.TrimSpace(fmt.Sprintf("%d %s %s", f.Seq, f.Change, f.Field)))
			require.NotEmpty(t, f.What.String(), name)
			require.NotContains(t, f.What.String(), "%!", name)
		}
		require.Equal(t, c.want, got, name)
		require.False(t, report.OK(), name)
		require.EqualValues(t, len(got), report.FaultCount, name)
		if len(k.rows) > 5 && len(k.rows[5].Openings) > 1 && k.rows[5].Openings[0].Path == "/note" {
			require.Empty(t, report.Withheld, "%s: what is shown wrongly is not withheld", name)
		}
	}
}

func TestAFaultNamesTheEntry(t *testing.T) {
	k := log(t, 6)
	k.rows[5].Columns.Actor = "somebody"
	k.rows[5].Columns.ID = "another"
	for _, fault := range k.verify().Faults {
		require.Equal(t, "01970000-0000-7000-8000-000000000005", fault.ID, "the leaf's own id, proven by its hash")
		require.Equal(t, "inspection", fault.Kind)
	}
	k.rows[5].Leaf = []byte("gone")
	report := k.verify()
	require.Len(t, report.Faults, 1)
	require.Equal(t, "another", report.Faults[0].ID)
}

// No entry says yet that a value was dropped, so one that is gone was removed.
func TestAMissingOpeningIsAFaultThatNamesTheEntry(t *testing.T) {
	k := log(t, 9)
	k.rows[3].Openings = k.rows[3].Openings[:1]
	k.rows[4].Openings = nil
	report := k.verify()
	require.False(t, report.OK())
	require.Equal(t, []record.Withheld{
		{Seq: 3, ID: "01970000-0000-7000-8000-000000000003", Paths: []string{"/seen"}},
		{Seq: 4, ID: "01970000-0000-7000-8000-000000000004", Paths: []string{"/note", "/seen"}},
	}, report.Withheld)
	require.EqualValues(t, 3, report.FieldsWithheld)
	require.EqualValues(t, 15, report.FieldsOpen)
	require.EqualValues(t, 2, report.FaultCount)
	require.Equal(t, record.OpeningMissing, report.Faults[0].Change)
	require.Equal(t, "/seen", report.Faults[0].Field)
	require.Equal(t, "Entry 3: the personal value at /seen is not kept, and no entry says that it was dropped.", report.Faults[0].What.String())
	require.Equal(t, "Entry 4: 2 personal values are not kept, the first at /note, and no entry says that they were dropped.", report.Faults[1].What.String())
}

func TestTheDayAnEntryIsFoundByFollowsFromWhatHappened(t *testing.T) {
	k := log(t, 3)
	require.Equal(t, "2026-03-02", k.rows[1].Columns.Day)
	k.rows[1].Columns.Day = "2026-03-01"
	report := k.verify()
	require.False(t, report.OK())
	require.Len(t, report.Faults, 1)
	require.EqualValues(t, 1, report.Faults[0].Seq)
	require.Equal(t, record.ColumnDiffers, report.Faults[0].Change)
	require.Equal(t, "day", report.Faults[0].Field)

	late := envelope(0, answer{})
	late.At = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	late.Happened, late.HappenedOffset = time.Date(2026, 3, 2, 2, 0, 0, 0, time.UTC), -300
	require.Equal(t, "2026-03-01", late.Columns().Day, "the day at the mill, of what happened")
	late.Happened, late.HappenedOffset, late.Offset = time.Time{}, 0, 13*60
	require.Equal(t, "2026-03-04", late.Columns().Day, "an entry that was not late happened when it was made")
}

func TestEachEntryGoesThroughTheChecksOfWhoeverKeepsIt(t *testing.T) {
	k := log(t, 4)
	k.rows[2].Openings = k.rows[2].Openings[1:]
	k.rows[3].Leaf = nil
	var bodies []string
	report := record.Verify(k.head, k.all(), k, func(row record.Row, e record.Entry) []record.Fault {
		bodies = append(bodies, string(e.Body))
		if row.Seq != 1 {
			return nil
		}
		return []record.Fault{{Change: record.PhotoMissing, Field: "x"}}
	})
	require.Equal(t, []string{
		`{"item":"item 0","note":"note 0","result":"OK","seen":""}`, `{"item":"item 1","note":"note 1","result":"OK","seen":""}`,
		`{"item":"item 2","note":"","result":"OK","seen":""}`}, bodies, "what is not kept is empty; an entry nobody can read is not asked about")
	require.Equal(t, record.Fault{Seq: 1, ID: "01970000-0000-7000-8000-000000000001", Kind: "inspection", Change: record.PhotoMissing, Field: "x"}, report.Faults[0])
	require.EqualValues(t, 3, report.FaultCount)
}

func TestRowsThatCannotBeReadToTheEndAreNotClean(t *testing.T) {
	k := log(t, 9)
	rows := iter.Seq2[record.Row, error](func(yield func(record.Row, error) bool) {
		for _, row := range k.rows[:4] {
			if !yield(row, nil) {
				return
			}
		}
		yield(record.Row{}, errors.New("disk I/O error"))
	})
	report := record.Verify(k.head, rows, k)
	require.False(t, report.OK())
	require.Len(t, report.Faults, 1)
	require.Equal(t, record.Unfinished, report.Faults[0].Change)
	require.Contains(t, report.Faults[0].What.String(), "from entry 4 on: disk I/O error")
}

func TestARuinedRecordIsReportedInLittleMemory(t *testing.T) {
	k := log(t, 1500)
	for i := range k.rows {
		k.rows[i].Leaf = nil
	}
	report := k.verify()
	require.Len(t, report.Faults, 1000)
	require.EqualValues(t, 1500, report.FaultCount)
}

// No single change of a byte anywhere in leaves, openings or stored hashes
// goes unseen, in a log of any size.
func TestNoByteCanBeChangedUnseen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Int64Range(1, 40).Draw(t, "size")
		k := log(new(testing.T), size)
		seq := rapid.Int64Range(0, size-1).Draw(t, "entry")
		bit := byte(1) << rapid.IntRange(0, 7).Draw(t, "bit")
		row := &k.rows[seq]
		switch rapid.IntRange(0, 4).Draw(t, "where") {
		case 0:
			row.Leaf[rapid.IntRange(0, len(row.Leaf)-1).Draw(t, "byte")] ^= bit
		case 1:
			row.Openings[0].Salt[rapid.IntRange(0, 31).Draw(t, "byte")] ^= bit
		case 2:
			value := []byte(row.Openings[0].Value)
			value[rapid.IntRange(0, len(value)-1).Draw(t, "byte")] ^= bit
			row.Openings[0].Value = string(value)
		case 3:
			index := rapid.Int64Range(0, tlog.StoredHashCount(size)-1).Draw(t, "index")
			hash := k.hashes[index]
			hash[rapid.IntRange(0, 31).Draw(t, "byte")] ^= bit
			k.hashes[index] = hash
		case 4:
			k.head.Root[rapid.IntRange(0, 31).Draw(t, "byte")] ^= bit
		}
		require.False(t, k.verify().OK())
	})
}
