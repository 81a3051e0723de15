package store

import (
	"crypto/rand"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// NewID makes an id that sorts by the time it was made.
func NewID() string { return uuid.Must(uuid.NewV7()).String() }

// entry is what a projection may know of the entry it follows from.
type entry struct {
	Mill  string
	Seq   int64
	Actor procedures.PersonID
	At    time.Time
	Day   string // local date it is filed under, "2026-03-02"
}

// act says who does a thing, when the server learned of it and when it happened.
type act struct {
	Actor    procedures.PersonID
	Subject  string
	At       time.Time
	Happened time.Time // zero: at At
}

type entryRow struct {
	Mill           string `gorm:"primaryKey"`
	Seq            int64  `gorm:"primaryKey;autoIncrement:false"`
	ID             string
	Kind           string
	Version        int
	Subject        string
	Actor          string
	At             int64
	AtOffset       int
	Happened       int64
	HappenedOffset int
	Day            string // local date of what happened
	Leaf           []byte

	// Of personal fields where nothing was written, see blanks.
	BlankPaths string
	BlankSalts []byte
}

func (entryRow) TableName() string { return "entries" }

type entryEquipmentRow struct {
	Mill      string `gorm:"primaryKey"`
	Equipment string `gorm:"primaryKey"`
	Seq       int64  `gorm:"primaryKey;autoIncrement:false"`
}

func (entryEquipmentRow) TableName() string { return "entry_equipment" }

type openingRow struct {
	Mill  string `gorm:"primaryKey"`
	Seq   int64  `gorm:"primaryKey;autoIncrement:false"`
	Path  string `gorm:"primaryKey"`
	Salt  []byte
	Value string
}

func (openingRow) TableName() string { return "openings" }

type hashRow struct {
	Mill  string `gorm:"primaryKey"`
	Place int64  `gorm:"primaryKey;autoIncrement:false"`
	Hash  []byte
}

func (hashRow) TableName() string { return "tree_hashes" }

type logHeadRow struct {
	Mill string `gorm:"primaryKey"`
	Size int64
	Root []byte
	Last int64 // latest time of the entries since the clock was last confirmed
}

func (logHeadRow) TableName() string { return "log_heads" }

// logs keeps the right edge of each mill's tree between commands, so that an
// entry costs no reading.
type logs map[checklists.MillID]record.Frontier

// append adds one entry to the mill's log and projects it into the tables.
func (tx *Tx) append(mill checklists.MillID, a act, b body) (entry, error) {
	zone, err := tx.zone(mill, b, a.At)
	if err != nil {
		return entry{}, err
	}
	head, frontier, err := tx.head(mill)
	if err != nil {
		return entry{}, err
	}
	if a.Happened.IsZero() {
		a.Happened = a.At
	}
	kind, version := b.kind()
	envelope := record.Envelope{
		Mill: string(mill), Seq: head.Size, ID: NewID(), Kind: kind, Version: version, Subject: a.Subject, Actor: string(a.Actor),
		At: a.At.UTC().Truncate(time.Millisecond), Offset: offset(a.At, zone),
		Happened: a.Happened.UTC().Truncate(time.Millisecond), HappenedOffset: offset(a.Happened, zone), Body: b,
	}
	if !tx.phone.IsZero() && a.Actor != "" {
		_, east := tx.phone.Zone()
		envelope.Phone, envelope.PhoneOffset = tx.phone, east/60
	}
	sealed, err := record.Seal(envelope, rand.Reader)
	if err != nil {
		return entry{}, fmt.Errorf("entry %s: %w", kind, err)
	}
	hashes := frontier.Append(sealed.Hash)
	e := entry{Mill: string(mill), Seq: head.Size, Actor: a.Actor, At: envelope.At, Day: a.Happened.In(zone).Format(time.DateOnly)}
	if err := tx.keep(e, envelope, sealed, hashes, b.about()); err != nil {
		return entry{}, err
	}
	tx.unsaid.add(mill, e.Seq, wordsOf(kind, string(a.Actor), e.Day, b))
	tx.logs[mill] = frontier
	root := frontier.Root()
	last := max(head.Last, millis(envelope.At))
	if _, restarts := b.(*clockBody); restarts {
		last = millis(envelope.At)
	}
	before, head := head, logHeadRow{Mill: string(mill), Size: head.Size + 1, Root: root[:], Last: last}
	if err := tx.putHead(head); err != nil {
		return entry{}, err
	}
	if err := b.project(tx, e); err != nil {
		return entry{}, fmt.Errorf("entry %s: %w", kind, err)
	}
	if signed, ok := b.(*inspectionBody); ok {
		tx.knowSigned(mill, before, head, envelope.ID, signed)
	}
	return e, nil
}

func (tx *Tx) keep(e entry, envelope record.Envelope, sealed record.Sealed, hashes []record.StoredHash, about []procedures.EquipmentID) error {
	written, paths, salts := packed(sealed.Openings)
	err := tx.insert("entries (mill, seq, id, kind, version, subject, actor, at, at_offset, happened, happened_offset, day, leaf, blank_paths, blank_salts)", []any{
		e.Mill, e.Seq, envelope.ID, envelope.Kind, envelope.Version, envelope.Subject, envelope.Actor,
		millis(envelope.At), envelope.Offset, millis(envelope.Happened), envelope.HappenedOffset, e.Day, sealed.Leaf, paths, salts,
	})
	if err != nil {
		return err
	}
	values := make([]any, 0, 5*len(written))
	for _, o := range written {
		values = append(values, e.Mill, e.Seq, o.Path, o.Salt, o.Value)
	}
	if err := tx.insert("openings (mill, seq, path, salt, value)", values); err != nil {
		return err
	}
	values = nil
	for i := range hashes {
		values = append(values, e.Mill, hashes[i].Index, hashes[i].Hash[:])
	}
	if err := tx.insert("tree_hashes (mill, place, hash)", values); err != nil {
		return err
	}
	values = nil
	for _, id := range distinct(about) {
		values = append(values, e.Mill, string(id), e.Seq)
	}
	return tx.insert("entry_equipment (mill, equipment, seq)", values)
}

// distinct is the equipment an entry is found by: each once, sorted.
func distinct(about []procedures.EquipmentID) []procedures.EquipmentID {
	ids := slices.Sorted(slices.Values(about))
	return slices.DeleteFunc(slices.Compact(ids), func(id procedures.EquipmentID) bool { return id == "" })
}

// logHead reads the mill's log head, for those at work together once: nobody else
// writes meanwhile.
func (tx *Tx) logHead(mill checklists.MillID) (logHeadRow, error) {
	if row, known := tx.heads[mill]; known {
		return row, nil
	}
	row, err := logHeadOf(tx, mill)
	if err == nil && tx.heads != nil {
		tx.heads[mill] = row
	}
	return row, err
}

func logHeadOf(r reader, mill checklists.MillID) (logHeadRow, error) {
	row := logHeadRow{Mill: string(mill)}
	err := straightRow(r, "log", "SELECT size, root, last FROM log_heads WHERE mill = ?", []any{row.Mill}, &row.Size, &row.Root, &row.Last)
	return row, err
}

func (tx *Tx) putHead(row logHeadRow) error {
	err := tx.straight("INSERT INTO log_heads (mill, size, root, last) VALUES (?, ?, ?, ?)"+
		" ON CONFLICT (mill) DO UPDATE SET size = excluded.size, root = excluded.root, last = excluded.last", row.Mill, row.Size, row.Root, row.Last)
	if err == nil && tx.heads != nil {
		tx.heads[checklists.MillID(row.Mill)] = row
	}
	return err
}

// head reads the mill's log head and the tree's edge; the edge is read from the
// stored hashes when the one in memory is not that of the head.
func (tx *Tx) head(mill checklists.MillID) (logHeadRow, record.Frontier, error) {
	var none record.Frontier
	row, err := tx.logHead(mill)
	if errors.Is(err, ErrNotFound) {
		return row, none, nil
	}
	if err != nil {
		return row, none, err
	}
	head, err := row.head()
	if err != nil {
		return row, none, err
	}
	if known, ok := tx.logs[mill]; ok && known.Head(string(mill)) == head {
		return row, known, nil
	}
	frontier, err := record.RestoreFrontier(head, hashReader(tx, mill))
	if err != nil {
		return row, none, fmt.Errorf("the record's hashes can't be read: %w", err)
	}
	return row, frontier, nil
}

func (row logHeadRow) head() (record.Head, error) {
	head := record.Head{Mill: row.Mill, Size: row.Size}
	if len(row.Root) != tlog.HashSize {
		return head, fmt.Errorf("the log's root has %d bytes, not %d", len(row.Root), tlog.HashSize)
	}
	copy(head.Root[:], row.Root)
	return head, nil
}

// hashReader reads stored tree hashes for package tlog, a run of places that
// follow each other in one query.
func hashReader(r reader, mill checklists.MillID) tlog.HashReader {
	return tlog.HashReaderFunc(func(places []int64) ([]tlog.Hash, error) {
		hashes := make([]tlog.Hash, 0, len(places))
		for start := 0; start < len(places); {
			end := start + 1
			for end < len(places) && places[end] == places[end-1]+1 {
				end++
			}
			due := places[start] // the place whose hash comes next
			var place number
			var hash sql.RawBytes
			err := scanned(r, []any{&place.value, &hash}, func() error {
				at, err := place.whole()
				switch {
				case err != nil || at != due: // told of below
					return err
				case len(hash) != tlog.HashSize:
					return fmt.Errorf("tree hash %d has %d bytes", due, len(hash))
				}
				hashes, due = append(hashes, tlog.Hash(hash)), due+1
				return nil
			}, "SELECT place, hash FROM tree_hashes WHERE mill = ? AND place BETWEEN ? AND ? ORDER BY place", mill, places[start], places[end-1])
			switch {
			case err != nil:
				return nil, err
			case due <= places[end-1]:
				return nil, fmt.Errorf("tree hash %d: %w", due, ErrNotFound)
			}
			start = end
		}
		return hashes, nil
	})
}

// zone is the mill's at that time, or for its first entry the one that entry brings.
func (tx *Tx) zone(mill checklists.MillID, b body, at time.Time) (*time.Location, error) {
	if first, ok := b.(*millBody); ok {
		return first.Mill.LocationAt(at)
	}
	m, err := tx.Mill(mill)
	if err != nil {
		return nil, err
	}
	return m.LocationAt(at)
}

// Mill loads what holds for the mill as a whole, once per command.
func (tx *Tx) Mill(mill checklists.MillID) (checklists.Mill, error) {
	if tx.mill == nil {
		row, err := one[millRow](tx, "mill", "id = ?", mill)
		if err != nil {
			return checklists.Mill{}, err
		}
		tx.mill = &row.Doc
	}
	return *tx.mill, nil
}

// offset is minutes east of UTC.
func offset(t time.Time, zone *time.Location) int {
	_, seconds := t.In(zone).Zone()
	return seconds / 60
}

// marshal is the JSON of a document for a table or an entry.
func marshal(doc any) (string, error) {
	text, err := json.Marshal(doc)
	return string(text), err
}

var _ reader = (*Tx)(nil)
var _ reader = (*Mill)(nil)

func (m *Mill) lasting() *lasting { return m.s.kept }

func (m *Mill) gorm() *gorm.DB { return m.s.reads.Session(&gorm.Session{NewDB: true}) }
