package store

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
)

// tampering is an alteration of a database, and what each of the holders must
// find of it, in their order: "place: what" where it is caught, else the letter of
// a reason why it can't be (see whyNot). "=" is what the one before finds, too.
type tampering struct {
	what string
	do   func(t *testing.T, b *bench)
	want [8]string
}

// tamperings begin with what anybody can do who has the file in hand, and go on
// to what takes knowing how the record is kept, and then its key.
func tamperings() []struct {
	who  string
	rows []tampering
} {
	sql := func(statement string, args func(b *bench) []any) func(*testing.T, *bench) {
		return func(t *testing.T, b *bench) { b.sql(t, statement, args(b)...) }
	}
	at := func(seq func(b *bench) int64) func(b *bench) []any {
		return func(b *bench) []any { return []any{b.m.id, seq(b)} }
	}
	signed := at(func(b *bench) int64 { return b.signed })
	none := bytesOf(strings.Repeat("00", 32))
	mill := func(b *bench) []any { return []any{b.m.id} }
	return []struct {
		who  string
		rows []tampering
	}{
		{"by anybody with the file in hand", []tampering{
			{"a byte of an entry", func(t *testing.T, b *bench) { b.leaf(t, b.signed, `"seq"`, `"sep"`) }, [8]string{"{signed}: entry changed", "=", "record: other than the checkpoint", "b", "record: other than the checkpoint", "record: other than the checkpoint", "{signed} seq", "{signed} seq"}},
			{"an entry says something else, well-formed", func(t *testing.T, b *bench) { b.leaf(t, b.signed, `"number":0.25`, `"number":0.15`) }, [8]string{"{signed}: entry changed", "table inspections: field changed", "record: other than the checkpoint", "b", "record: other than the checkpoint", "record: other than the checkpoint", "{signed} proof", "{signed} proof"}},
			{"the same, with the hash of that entry made anew", func(t *testing.T, b *bench) {
				b.leaf(t, b.signed, `"number":0.25`, `"number":0.15`)
				hash := tlog.RecordHash(b.record[b.signed].said(t, `"number":0.25`, `"number":0.15`).row.Leaf)
				b.sql(t, "UPDATE tree_hashes SET hash = ? WHERE mill = ? AND place = ?", hash[:], b.m.id, tlog.StoredHashIndex(0, b.signed))
			}, [8]string{"{signed}: stored hash changed", "table inspections: field changed", "record: other than the checkpoint", "b", "record: other than the checkpoint", "record: other than the checkpoint", "{signed} proof", "{signed} proof"}},
			{"a hash over several entries", sql("UPDATE tree_hashes SET hash = "+none+" WHERE mill = ? AND place = ?", func(b *bench) []any { return []any{b.m.id, tlog.StoredHashIndex(1, 0)} }), [8]string{"entry 0: stored hash changed", "=", "h", "b", "h", "entry 2 proof", "entry 2 proof", "entry 2 proof"}},
			{"a hash is gone", sql("DELETE FROM tree_hashes WHERE mill = ? AND place = ?", func(b *bench) []any { return []any{b.m.id, tlog.StoredHashIndex(0, b.signed)} }), [8]string{"{signed}: stored hash not readable", "=", "h", "b", "h", "no export can be made", "no export can be made", "no export can be made"}},
			{"the root in the head", sql("UPDATE log_heads SET root = "+none+" WHERE mill = ?", mill), [8]string{"record: root differs", "=", "h", "record: does not go on from what the phone saw", "h", "entry 0 proof", "entry 0 proof", "entry 0 proof"}},
			{"the size in the head, one less", sql("UPDATE log_heads SET size = size - 1 WHERE mill = ?", mill), [8]string{"record: size differs", "=", "h", "record: does not go on from what the phone saw", "h", "entry 0 proof", "entry 0 proof", "entry 0 proof"}},
			{"an entry removed from the middle", sql("DELETE FROM entries WHERE mill = ? AND seq = ?", signed), [8]string{"{signed}: entry missing", "table inspections: row too many", "record: other than the checkpoint", "b", "record: other than the checkpoint", "record: other than the checkpoint", "{signed}: The export was asked for everything", "{signed}: The export was asked for everything"}},
			{"the last entry removed", sql("DELETE FROM entries WHERE mill = ? AND seq = ?", at(func(b *bench) int64 { return b.end.Size - 1 })), [8]string{"{last}: entry missing", "table mills: field changed", "d", "d", "d", "{last}: The export was asked for everything", "{last}: The export was asked for everything", "{last}: The export was asked for everything"}},
			{"an entry added at the end", func(t *testing.T, b *bench) {
				f := b.record[b.signed]
				f.row.Seq, f.row.ID = b.end.Size, "01990000-0000-7000-8000-00000000fffe"
				require.NoError(t, b.tx.gorm().Create(&f.row).Error)
			}, [8]string{"{end}: entry outside the log", "{end}: not replayed", "j", "j", "j", "j", "j", "j"}},
			{"an entry doubled over the one after it", func(t *testing.T, b *bench) {
				b.sql(t, "UPDATE entries SET leaf = ? WHERE mill = ? AND seq = ?", b.record[b.signed].row.Leaf, b.m.id, b.left)
			}, [8]string{"{left}: entry moved", "table departures: row too many", "record: other than the checkpoint", "b", "record: other than the checkpoint", "record: other than the checkpoint", "{left} seq", "{left} seq"}},
			{"two entries swapped", func(t *testing.T, b *bench) {
				b.sql(t, "UPDATE entries SET seq = -1 WHERE mill = ? AND seq = ?", b.m.id, b.signed)
				b.sql(t, "UPDATE entries SET seq = ? WHERE mill = ? AND seq = ?", b.signed, b.m.id, b.left)
				b.sql(t, "UPDATE entries SET seq = ? WHERE mill = ? AND seq = -1", b.left, b.m.id)
			}, [8]string{"{signed}: entry moved", "=", "record: other than the checkpoint", "b", "record: other than the checkpoint", "record: other than the checkpoint", "{signed} seq", "{signed} seq"}},
			{"an entry of another mill put in its place", func(t *testing.T, b *bench) {
				b.sql(t, "UPDATE entries SET leaf = ? WHERE mill = ? AND seq = ?", b.others[0].row.Leaf, b.m.id, b.signed)
			}, [8]string{"{signed}: entry moved", "table inspections: row too many", "record: other than the checkpoint", "b", "record: other than the checkpoint", "record: other than the checkpoint", "{signed} seq", "{signed} seq"}},
			{"the column of who acted", sql("UPDATE entries SET actor = 'ben' WHERE mill = ? AND seq = ?", signed), [8]string{"{signed}: column changed", "=", "a", "a", "a", "a", "a", "a"}},
			{"the column of the day", sql("UPDATE entries SET day = '2026-03-04' WHERE mill = ? AND seq = ?", signed), [8]string{"{signed}: column changed", "=", "a", "a", "a", "a", "a", "a"}},
			{"the column of the kind", sql("UPDATE entries SET kind = 'lift' WHERE mill = ? AND seq = ?", signed), [8]string{"{signed}: column changed", "=", "a", "a", "a", "a", "a", "a"}},
			{"the column of when it happened", sql("UPDATE entries SET happened = happened + 3600000 WHERE mill = ? AND seq = ?", at(func(b *bench) int64 { return b.left })), [8]string{"{left}: column changed", "=", "a", "a", "a", "a", "a", "a"}},
			{"a personal value changed", sql("UPDATE openings SET value = 'all well' WHERE mill = ? AND seq = ? AND path = '/what'", at(func(b *bench) int64 { return b.photographed })), [8]string{"{photographed}: does not fit its commitment", "table defects: field changed", "a", "a", "a", "{photographed} opening /what", "{photographed} opening /what", "{photographed} opening /what"}},
			{"a personal value removed", sql("DELETE FROM openings WHERE mill = ? AND seq = ? AND path = '/what'", at(func(b *bench) int64 { return b.photographed })), [8]string{"{photographed}: value not kept", "table defects: field changed", "a", "a", "a", "{photographed} opening /what", "=", "="}},
			{"a value added at a field that is none", sql("INSERT INTO openings SELECT mill, seq, '/more', salt, 'said' FROM openings WHERE mill = ? AND seq = ? AND path = '/what'", at(func(b *bench) int64 { return b.photographed })), [8]string{"{photographed}: no personal field there", "=", "a", "a", "a", "{photographed} opening /more", "{photographed} opening /more", "{photographed} opening /more"}},
			{"a value that was dropped put back", sql("INSERT INTO openings VALUES (?, ?, '/note', "+none+", 'with calipers')", at(func(b *bench) int64 { return b.measured })), [8]string{"{dropped}: said to be dropped, still kept", "=", "a", "a", "a", "{measured} opening /note", "{measured} opening /note", "{measured} opening /note"}},
			{"a value removed, and the table of drops says it was dropped", func(t *testing.T, b *bench) {
				b.sql(t, "DELETE FROM openings WHERE mill = ? AND seq = ? AND path = '/what'", b.m.id, b.photographed)
				b.sql(t, "INSERT INTO dropped_values (mill, seq, path, entry) VALUES (?, ?, '/what', ?)", b.m.id, b.photographed, b.dropped)
			}, [8]string{"{photographed}: value not kept", "table dropped_values: row too many", "a", "a", "a", "{photographed} opening /what", "=", "="}},
			{"the equipment an entry is found by", sql("DELETE FROM entry_equipment WHERE mill = ? AND seq = ? AND equipment = 'carriage'", signed), [8]string{"{signed}: equipment changed", "=", "a", "a", "a", "a", "a", "a"}},
			{"a word an entry is found by", sql("DELETE FROM search_places WHERE mill = ? AND word = 'squeals'", mill), [8]string{"{photographed}: words changed", "=", "a", "a", "a", "a", "a", "a"}},
			{"a photo's bytes", sql("UPDATE photos SET bytes = "+bytesOf("62")+" WHERE mill = ?", mill), [8]string{"{photographed}: photo changed", "=", "a", "a", "a", "photo", "photo", "photo"}},
			{"a photo removed", sql("DELETE FROM photos WHERE mill = ?", mill), [8]string{"{photographed}: photo not kept", "=", "a", "a", "a", "photo ", "=", "="}},
			{"a photo replaced by another, with its own digest", sql("UPDATE photos SET digest = '2d8b9d5d36d3f8cc7bb8b3a1ce0d2a16a9b1f0a6dc7a8fbbaf7bd2d5bfa4b5a4', bytes = "+bytesOf("62")+" WHERE mill = ?", mill), [8]string{"{photographed}: photo not kept", "=", "a", "a", "a", "photo ", "=", "="}},
			{"a photo emptied as if it were dropped", sql("UPDATE photos SET bytes = "+bytesOf("")+", dropped = (SELECT max(seq) FROM entries WHERE kind = 'dropped') WHERE mill = ?", mill), [8]string{"{photographed}: photo not kept", "=", "a", "a", "a", "photo ", "=", "="}},
			{"a defect shown as mended", sql("UPDATE defects SET open = FALSE WHERE mill = ?", mill), [8]string{"c", "table defects: field changed", "a", "a", "a", "a", "a", "a"}},
			{"a departure removed from its table", sql("DELETE FROM departures WHERE mill = ?", mill), [8]string{"c", "table departures: row missing", "a", "a", "a", "a", "a", "a"}},
			{"a departure put into its table", sql("INSERT INTO departures SELECT mill, id || 'x', equipment, open, at, doc FROM departures WHERE mill = ?", mill), [8]string{"c", "table departures: row too many", "a", "a", "a", "a", "a", "a"}},
			{"a key's row replaced", sql("UPDATE log_keys SET verifier = replace(verifier, '+', '+0') WHERE mill = ? AND until = 0", mill), [8]string{"c", "table log_keys: field changed", "a", "n", "a", "no export can be made", "no export can be made", "no export can be made"}},
			{"the root in a checkpoint put by", sql("UPDATE checkpoints SET text = replace(text, ? || size || ?, ? || (size - 1) || ?) WHERE mill = ?", func(b *bench) []any { return []any{"\n", "\n", "\n", "\n", b.m.id} }), [8]string{"record: checkpoint without a known key", "=", "a", "a", "a", "a", "a", "a"}},
			{"a checkpoint put by, signed by a stranger's key", func(t *testing.T, b *bench) {
				private, _ := strangersKey(t)
				signer, err := note.NewSigner(private)
				require.NoError(t, err)
				b.sql(t, "UPDATE checkpoints SET text = ? WHERE mill = ? AND size = ?", signedHead(t, b.paper.Head, signer), b.m.id, b.paper.Size)
			}, [8]string{"record: checkpoint without a known key", "=", "a", "a", "a", "a", "a", "a"}},
			{"the checkpoints put by removed", func(t *testing.T, b *bench) { b.dropKept(t, 0) }, [8]string{"k", "k", "a", "a", "a", "a", "a", "a"}},
			{"a secret and work under way", func(t *testing.T, b *bench) {
				b.sql(t, "UPDATE credentials SET digest = 'of another PIN' WHERE mill = ?", b.m.id)
			}, [8]string{"i", "i", "a", "a", "a", "a", "a", "a"}},
		}},
		{"by somebody who knows how the record is kept", []tampering{
			{"an entry rewritten with every hash above it, the head as it was", func(t *testing.T, b *bench) {
				b.rewritten(t, b.signed)
				b.sql(t, "UPDATE log_heads SET root = ? WHERE mill = ?", b.end.Root[:], b.m.id)
			}, [8]string{"record: root differs", "=", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "entry 0 proof", "entry 0 proof", "entry 0 proof"}},
			{"the same with the head", func(t *testing.T, b *bench) { b.rewritten(t, b.signed) }, [8]string{"record: other than a checkpoint", "=", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "f"}},
			{"the same, and the checkpoints put by removed", func(t *testing.T, b *bench) {
				b.rewritten(t, b.signed)
				b.dropKept(t, 0)
			}, [8]string{"e", "e", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "f"}},
			{"a note rewritten with its commitment, all as above", func(t *testing.T, b *bench) {
				entries := b.copied()
				entries[b.photographed] = entries[b.photographed].shown(t, "/what", "all well")
				b.forge(t, entries)
				b.dropKept(t, 0)
			}, [8]string{"e", "e", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "f"}},
			{"an entry taken out and the rest moved up, all as above", func(t *testing.T, b *bench) {
				b.forge(t, slices.Delete(b.copied(), int(b.left), int(b.left)+1))
				b.dropKept(t, 0)
			}, [8]string{"e", "e", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "f"}},
			{"an entry put in, all as above", func(t *testing.T, b *bench) {
				entries := b.copied()
				b.forge(t, slices.Insert(entries, int(b.left), entries[b.left].another()))
				b.dropKept(t, 0)
			}, [8]string{"e", "e", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "f"}},
			{"two entries in the other order, all as above", func(t *testing.T, b *bench) {
				entries := b.copied()
				entries[b.signed], entries[b.left] = entries[b.left], entries[b.signed]
				b.forge(t, entries)
				b.dropKept(t, 0)
			}, [8]string{"e", "e", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "f"}},
			{"an older copy from before the checkpoint put back", func(t *testing.T, b *bench) { b.olderCopy(t, b.paper.Size-1) }, [8]string{"e", "e", "record: shorter than the checkpoint", "record: shorter than the phone saw it", "record: shorter than the checkpoint", "record: shorter than the checkpoint", "f", "f"}},
			{"an older copy from between checkpoint and phone", func(t *testing.T, b *bench) { b.olderCopy(t, b.phone.Size-1) }, [8]string{"e", "e", "d", "record: shorter than the phone saw it", "record: shorter than the checkpoint", "d", "f", "f"}},
			{"an older copy from after the phone", func(t *testing.T, b *bench) { b.olderCopy(t, b.phone.Size) }, [8]string{"e", "e", "d", "d", "record: shorter than the checkpoint", "d", "f", "f"}},
			{"an older copy newer than all that is held", func(t *testing.T, b *bench) { b.olderCopy(t, b.end.Size-1) }, [8]string{"e", "e", "d", "d", "d", "d", "f", "f"}},
			{"an older copy gone on otherwise", func(t *testing.T, b *bench) {
				b.olderCopy(t, b.paper.Size)
				b.goOn(t, int(b.end.Size-b.paper.Size)+1)
			}, [8]string{"e", "e", "d", "record: does not go on from what the phone saw", "record: other than the checkpoint", "d", "f", "f"}},
			{"an entry younger than all that is held rewritten", func(t *testing.T, b *bench) {
				entries := b.copied()
				entries[b.end.Size-1] = entries[b.end.Size-1].said(t, "Fernhollow", "Fernhollov")
				b.forge(t, entries)
			}, [8]string{"e", "e", "d", "d", "d", "d", "f", "f"}},
			{"a drop forged: the value is gone, and an entry at the end in a supervisor's name says so", func(t *testing.T, b *bench) {
				b.forgedDrop(t, act{Actor: sam.ID}, Dropped{}, true)
			}, [8]string{"l", "l", "l", "l", "l", "l", "l", "l"}},
			{"the same in the name of somebody who was no supervisor", func(t *testing.T, b *bench) {
				b.forgedDrop(t, act{Actor: ben.ID}, Dropped{}, true)
			}, [8]string{"{end}: a drop nobody may have made", "=", "h", "h", "h", "g", "g", "g"}},
			{"the same by a policy that was not in force", func(t *testing.T, b *bench) {
				b.forgedDrop(t, act{}, Dropped{Sort: checklists.KeepDefects, Policy: b.left}, true)
			}, [8]string{"{photographed}: value not kept", "=", "h", "h", "h", "g", "g", "g"}},
			{"a drop that names what is still kept", func(t *testing.T, b *bench) { b.forgedDrop(t, act{Actor: sam.ID}, Dropped{}, false) }, [8]string{"{end}: said to be dropped, still kept", "=", "m", "m", "m", "m", "m", "m"}},
			{"all rewritten on a computer without the key, which names a new one", func(t *testing.T, b *bench) {
				b.rewritten(t, b.signed)
				b.dropKept(t, 0)
				private, verifier := strangersKey(t)
				b.signWith(t, private)
				b.enter(t, act{At: six.Add(time.Hour)}, &logKeyBody{Verifier: verifier, Why: LostKey})
			}, [8]string{"e", "e", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "key:"}},
			{"the entry of the key replaced by one that names a stranger's", func(t *testing.T, b *bench) {
				private, verifier := strangersKey(t)
				b.signWith(t, private)
				entries := b.copied()
				entries[b.rotated] = entries[b.rotated].said(t, b.key, verifier)
				b.forge(t, entries)
			}, [8]string{"record: checkpoint without a known key", "=", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "key:"}},
		}},
		{"by whoever holds the mill's key", []tampering{
			{"an entry rewritten with all above it, the checkpoints put by signed anew", func(t *testing.T, b *bench) {
				b.rewritten(t, b.signed)
				b.signAnew(t)
			}, [8]string{"e", "e", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "f"}},
			{"the record cut back, the checkpoints put by signed anew", func(t *testing.T, b *bench) {
				b.olderCopy(t, b.left)
				b.signAnew(t)
			}, [8]string{"e", "e", "record: shorter than the checkpoint", "record: shorter than the phone saw it", "record: shorter than the checkpoint", "record: shorter than the checkpoint", "f", "f"}},
			{"cut back and grown past its length again, signed anew", func(t *testing.T, b *bench) {
				b.olderCopy(t, b.left)
				b.goOn(t, int(b.end.Size-b.left)+2)
				b.signAnew(t)
			}, [8]string{"e", "e", "record: other than the checkpoint", "record: does not go on from what the phone saw", "record: other than the checkpoint", "record: other than the checkpoint", "f", "f"}},
		}},
	}
}

// copied are the entries of the untouched record, to be changed.
func (b *bench) copied() []forged { return append([]forged(nil), b.record...) }

// rewritten has an inspection say something else, all the way up to the head.
func (b *bench) rewritten(t *testing.T, seq int64) {
	t.Helper()
	entries := b.copied()
	entries[seq] = entries[seq].said(t, `"number":0.25`, `"number":0.15`)
	b.forge(t, entries)
}

// olderCopy is the database as it was at a size.
func (b *bench) olderCopy(t *testing.T, size int64) {
	t.Helper()
	b.forge(t, b.copied()[:size])
	b.dropKept(t, size+1)
}

// goOn lets n more entries be written by the program.
func (b *bench) goOn(t *testing.T, n int) {
	t.Helper()
	for range n {
		b.enter(t, act{Actor: sam.ID, Subject: string(b.m.id), At: six.Add(time.Hour)}, newMillBody(millOf(b.m.id)))
	}
}

// forgedDrop has an entry say that a note was dropped, which the program would
// refuse: the defect is open.
func (b *bench) forgedDrop(t *testing.T, a act, d Dropped, gone bool) {
	t.Helper()
	if gone {
		b.sql(t, "DELETE FROM openings WHERE mill = ? AND seq = ? AND path = '/what'", b.m.id, b.photographed)
	}
	a.At = six.Add(time.Hour)
	d.Values = []DroppedValues{{Seq: b.photographed, Paths: []string{"/what"}}}
	if d.Sort == "" {
		d.Rule, d.Reason = "own request", "asked to"
	}
	b.enter(t, a, newDroppedBody(d))
	if gone {
		entries, err := forgeryOf(b.tx, b.m.id)
		require.NoError(t, err)
		b.forge(t, entries)
	}
}
