package record

import (
	"iter"
	"slices"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/procedures/plain"
)

// Columns are the fields of an entry as a database keeps them beside the leaf,
// to search by. They prove nothing and must agree with the leaf.
type Columns struct {
	ID             string
	Kind           string
	Version        int
	Subject        string
	Actor          string
	At             time.Time
	Offset         int
	Happened       time.Time
	HappenedOffset int
	Day            string // on which it happened, by the clock there: "2026-03-02"
}

// Columns are what a database keeps of e beside its leaf.
func (e Envelope) Columns() Columns {
	return Columns{e.ID, e.Kind, e.Version, e.Subject, e.Actor, e.At, e.Offset, e.Happened, e.HappenedOffset, e.day()}
}

func (e Envelope) day() string {
	happened, offset := e.Happened, e.HappenedOffset
	if happened.IsZero() {
		happened, offset = e.At, e.Offset
	}
	return happened.UTC().Add(time.Duration(offset) * time.Minute).Format(time.DateOnly)
}

// Row is an entry as stored.
type Row struct {
	Seq      int64
	Leaf     []byte
	Columns  Columns
	Openings []Opening
	Dropped  []string // paths of openings that a later entry says were dropped
}

// Check looks at an entry that can be read and returns what is wrong with what
// is kept beside it. Personal fields without a sound opening are "" in its
// body. The faults need no Seq, ID and Kind: Verify puts in the entry's.
type Check func(Row, Entry) []Fault

// Verify recomputes the log that head describes from rows, which come in the
// order of their Seq, and holds leaves, columns, openings and the hashes
// stored under tlog's numbering against each other. It names each entry
// touched and what was done to it, and puts each through checks. Memory does not
// grow with the log.
//
// A clean report proves that rows and hashes are those the head was made of.
// Whoever can rewrite rows, hashes and head together leaves nothing to find
// here; only a head kept elsewhere shows that.
func Verify(head Head, rows iter.Seq2[Row, error], hashes tlog.HashReader, checks ...Check) Report {
	var all Checks
	if len(checks) > 0 {
		all.Each = func(row Row, e Entry) (faults []Fault) {
			for _, check := range checks {
				faults = append(faults, check(row, e)...)
			}
			return faults
		}
	}
	return VerifyBy(head, rows, hashes, all)
}

// VerifyBy is [Verify] for whoever can look at entries of one form together. Rows
// are not kept: their bytes may be used for others once the next is asked for.
func VerifyBy(head Head, rows iter.Seq2[Row, error], hashes tlog.HashReader, checks Checks) Report {
	return verify(head, rows, hashes, checks, newForms(checks.Opaque))
}

// verify is VerifyBy with forms, or nil to take every leaf apart.
func verify(head Head, rows iter.Seq2[Row, error], hashes tlog.HashReader, checks Checks, forms *forms) Report {
	report := new(Report)
	v := verifier{head: head, report: report, whole: true, checks: checks, forms: forms}
	if err := checkSize(head.Size); err != nil {
		report.fault(Fault{Seq: -1, Change: SizeDiffers, What: plain.Say("The head counts %d entries, which no record can have.", head.Size)})
		return *report
	}
	v.tree = keptTree{hashes: hashes, size: head.Size, report: report}
	for row, err := range rows {
		if err != nil {
			report.fault(Fault{Seq: v.next, Change: Unfinished, What: plain.Say("The entries could not be read from entry %d on: %s.", v.next, err.Error())})
			return *report
		}
		report.Entries++
		v.row(row)
	}
	v.finish()
	return *report
}

// verifier is one run of Verify.
type verifier struct {
	head   Head
	report *Report
	tree   keptTree
	next   int64    // the place whose entry is due
	made   Frontier // over the leaves as they are
	whole  bool     // made lacks nothing
	checks Checks
	forms  *forms
}

// row takes the next row, wherever it stands.
func (v *verifier) row(row Row) {
	misplaced := Fault{Seq: row.Seq, ID: row.Columns.ID, Kind: row.Columns.Kind}
	switch {
	case row.Seq < 0 || row.Seq >= v.head.Size:
		misplaced.Change = EntryExtra
		misplaced.What = plain.Say("Entry %d stands outside the record, which has %d entries.", row.Seq, v.head.Size)
	case row.Seq == v.next-1:
		misplaced.Change = EntryTwice
		misplaced.What = plain.Say("There is a second entry %d.", row.Seq)
	case row.Seq < v.next:
		misplaced.Change = EntryOutOfOrder
		misplaced.What = plain.Say("Entry %d comes after entry %d.", row.Seq, v.next-1)
	default:
		v.missing(row.Seq)
		v.entry(row)
		return
	}
	v.report.fault(misplaced)
}

// missing notes that the entries before place are not there.
func (v *verifier) missing(place int64) {
	if v.next >= place {
		return
	}
	what := plain.Say("Entries %d to %d are missing.", v.next, place-1)
	if v.next == place-1 {
		what = plain.Say("Entry %d is missing.", v.next)
	}
	v.report.fault(Fault{Seq: v.next, Change: EntryMissing, What: what})
	v.whole = false
	for ; v.next < place && !v.tree.lost; v.next++ { // a damaged head may claim any number
		v.tree.add(v.next, nil)
	}
	v.next = place
}

// entry checks the row at the place that is due.
func (v *verifier) entry(row Row) {
	fault := Fault{Seq: row.Seq, ID: row.Columns.ID, Kind: row.Columns.Kind}
	note := func(change Change, field, what string, args ...any) {
		fault.Change, fault.Field, fault.What = change, field, plain.Say(what, args...)
		v.report.fault(fault)
	}
	hash := tlog.RecordHash(row.Leaf)
	stored, known := v.tree.leaf(row.Seq)
	differs := known && stored != hash
	v.tree.add(row.Seq, &hash)
	v.made.take(hash)
	v.next = row.Seq + 1
	if !differs && v.alike(row) {
		return
	}
	p, err := parse(row.Leaf)
	if err != nil {
		if differs {
			note(LeafDiffers, "", "Entry %d was changed: it is not what its kept hash was made of, and no longer an entry.", row.Seq)
		} else {
			note(LeafUnreadable, "", "Entry %d is what its kept hash was made of, but not an entry this program reads: %s.", row.Seq, err.Error())
		}
		return
	}
	fault.ID, fault.Kind = p.ID, p.Kind
	switch {
	case p.Mill != v.head.Mill:
		note(EntryMoved, "mill", "Entry %d belongs to another mill, %s.", row.Seq, p.Mill)
	case p.Seq != row.Seq:
		note(EntryMoved, "seq", "What stands as entry %d was written as entry %d.", row.Seq, p.Seq)
	case differs:
		note(LeafDiffers, "", "Entry %d was changed: it is not what its kept hash was made of.", row.Seq)
	}
	for _, column := range p.Columns().differing(row.Columns) {
		note(ColumnDiffers, column, "Entry %d: the column %s says otherwise than the entry itself.", row.Seq, column)
	}
	values := v.openings(p, row, note)
	if !differs {
		v.forms.come(row.Leaf, p, v.checks.Learn)
	}
	if v.checks.Each == nil {
		return
	}
	e, err := p.entry(values, unmarked)
	if err != nil {
		note(LeafUnreadable, "", "Entry %d is not one this program reads: %s.", row.Seq, err.Error())
		return
	}
	for _, f := range v.checks.Each(row, e) {
		f.Seq, f.ID, f.Kind = row.Seq, p.ID, p.Kind
		v.report.fault(f)
	}
}

// openings checks that each personal field is shown, as it was, and returns
// those that are.
func (v *verifier) openings(p parsed, row Row, note func(Change, string, string, ...any)) map[string]string {
	values, wrong := p.open(row.Openings)
	for _, w := range wrong {
		switch w.Change {
		case OpeningDiffers:
			note(w.Change, w.Path, "Entry %d: what is shown at %s is not what was written.", row.Seq, w.Path)
		case OpeningTwice:
			note(w.Change, w.Path, "Entry %d: there is a second value for %s.", row.Seq, w.Path)
		default:
			note(w.Change, w.Path, "Entry %d: there is a value for %s, which is no personal field of it.", row.Seq, w.Path)
		}
	}
	v.report.FieldsOpen += int64(len(values))
	closed := Withheld{Seq: row.Seq, ID: p.ID}
	for _, c := range p.sealed {
		if _, opened := values[c.path]; opened || isWrong(wrong, c.path) {
			continue
		}
		if slices.Contains(row.Dropped, c.path) {
			v.report.FieldsDropped++
			continue
		}
		closed.Paths = append(closed.Paths, c.path)
	}
	if len(closed.Paths) > 0 {
		v.report.withhold(closed)
		if len(closed.Paths) == 1 {
			note(OpeningMissing, closed.Paths[0], "Entry %d: the personal value at %s is not kept, and no entry says that it was dropped.", row.Seq, closed.Paths[0])
		} else {
			note(OpeningMissing, closed.Paths[0], "Entry %d: %d personal values are not kept, the first at %s, and no entry says that they were dropped.",
				row.Seq, len(closed.Paths), closed.Paths[0])
		}
	}
	return values
}

func isWrong(wrong []OpeningError, path string) bool {
	for _, w := range wrong {
		if w.Path == path {
			return true
		}
	}
	return false
}

// finish checks what only the whole log shows.
func (v *verifier) finish() {
	v.missing(v.head.Size)
	if v.report.Entries != v.head.Size {
		v.report.fault(Fault{Seq: -1, Change: SizeDiffers, What: plain.Say(
			"The head counts %d entries, the record has %d.", v.head.Size, v.report.Entries)})
	}
	if v.whole {
		v.report.Root = v.made.Root()
	}
	if !v.tree.follows(v.head.Root) {
		v.report.fault(Fault{Seq: -1, Change: RootDiffers, What: plain.Say(
			"The root in the head does not follow from the record's hashes. The head or the whole record was changed.")})
	}
	v.report.finished = true
}

// differing names the columns in which other disagrees with c. Times are
// compared to the millisecond, all an entry keeps.
func (c Columns) differing(other Columns) []string {
	var names []string
	unless := func(same bool, name string) {
		if !same {
			names = append(names, name)
		}
	}
	unless(c.ID == other.ID, "id")
	unless(c.Kind == other.Kind, "kind")
	unless(c.Version == other.Version, "version")
	unless(c.Subject == other.Subject, "subject")
	unless(c.Actor == other.Actor, "actor")
	unless(c.At.UnixMilli() == other.At.UnixMilli(), "at")
	unless(c.Offset == other.Offset, "offset")
	unless(c.Happened.IsZero() == other.Happened.IsZero() && c.Happened.UnixMilli() == other.Happened.UnixMilli(), "happened")
	unless(c.HappenedOffset == other.HappenedOffset, "happenedOffset")
	unless(c.Day == other.Day, "day")
	return names
}
