package backup

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"filippo.io/age"

	"stillsaw/checklists"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// Maker makes the backups of one place. It knows where the last one ended for as
// long as the program runs, so the first one after a start is a base.
type Maker struct {
	cut   store.Cut
	last  Note // that counts, the zero value for none
	notes map[string]Note
}

// Made is what came of making a backup.
type Made struct {
	Note      Note // of the newest backup
	Unchanged bool // it had everything already, and nothing was written
	All       int64
	Copies    int
	Over      bool // the newest and what it builds on are alone more than the bound
}

// Asked is what backups are asked for.
type Asked struct {
	Place checklists.BackupPlace // how often, how long and for whom
	At    Place
	Now   time.Time
	Zone  *time.Location // of the days and months they are kept by
	Whole bool           // a base although an increment would do
}

// Make makes a backup of st, and then lets those go that are no longer to be kept;
// where it fails nothing goes. Only one is made of st at a time.
func (m *Maker) Make(ctx context.Context, st Source, asked Asked) (made Made, err error) {
	j := job{m: m, st: st, Asked: asked, now: asked.Now.UTC().Truncate(time.Millisecond)}
	if j.recipients, err = Recipients(asked.Place.Recipients); err != nil {
		return made, err
	}
	if err := asked.At.Reach(ctx); err != nil {
		return made, err
	}
	if m.notes == nil {
		m.notes = map[string]Note{}
	}
	if j.there, err = list(ctx, asked.At, m.notes); err != nil {
		return made, err
	}
	if j.dir, err = st.BackupScratch(); err != nil {
		return made, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(j.dir)) }()
	for _, n := range j.there.Notes { // no two of one name
		if !j.now.After(n.Made) && n.Made.Sub(j.now) < time.Minute {
			j.now = n.Made.Add(time.Millisecond)
		}
	}
	if made.Unchanged, err = j.make(ctx); err != nil {
		return made, err
	}
	made.Note = m.last
	return made, j.rotate(ctx, &made)
}

// job is one backup being made.
type job struct {
	Asked
	m          *Maker
	st         Source
	recipients []age.Recipient
	there      Listed
	dir        string
	now        time.Time
}

func (j *job) make(ctx context.Context) (unchanged bool, err error) {
	if !j.baseDue() {
		unchanged, err := j.increment(ctx)
		if !errors.Is(err, store.ErrNeedsBase) {
			return unchanged, err
		}
	}
	return false, j.base(ctx)
}

// baseDue tells whether the next is to be a base: there is none to build on, or it
// is time for one.
func (j *job) baseDue() bool {
	var base Note
	for _, n := range j.there.Notes {
		if n.Name == j.m.last.Base {
			base = n
		}
	}
	last := slices.ContainsFunc(j.there.Notes, func(n Note) bool { return n.Name == j.m.last.Name })
	return j.Whole || !last || base.Name == "" || j.Place.BaseDue(base.Made, j.now)
}

func (j *job) base(ctx context.Context) error {
	n := Note{Format: noteFormat, Kind: Base, Made: j.now, Name: nameOf(Base, j.now, len(j.recipients) > 0)}
	n.Base = n.Name
	cut, err := j.st.CutNow(ctx, j.now)
	if err != nil {
		return err
	}
	copied := filepath.Join(j.dir, "copied")
	if err := os.Mkdir(copied, 0o700); err != nil {
		return err
	}
	plain := filepath.Join(copied, store.FileName)
	if err := j.st.Backup(ctx, plain); err != nil {
		return err
	}
	ends, schema, err := store.HeadsIn(ctx, copied)
	if err != nil {
		return err
	}
	n.Heads, n.Schema = headsIn(ends), schema.Has
	verify := func(dir string) (err error) {
		n.Faults, err = j.verified(ctx, dir)
		return err
	}
	if len(j.recipients) > 0 {
		// Nobody here can read what is written, so it is read before.
		if err := verify(copied); err != nil {
			return err
		}
	}
	if err := j.put(ctx, plain, &n); err != nil {
		return err
	}
	if err := os.RemoveAll(copied); err != nil {
		return err
	}
	restored := filepath.Join(j.dir, "restored")
	if err := os.Mkdir(restored, 0o700); err != nil {
		return err
	}
	if err := j.readBack(ctx, n, filepath.Join(restored, store.FileName)); err != nil {
		return err
	}
	if len(j.recipients) == 0 {
		if err := verify(restored); err != nil {
			return errors.Join(err, j.At.Remove(ctx, n.Name))
		}
	}
	return j.count(ctx, n, cut)
}

// verified verifies the record in dir as `stillsaw verify` does, and returns how
// many faults it has. A copy has none but those the record it was made of has, too.
func (j *job) verified(ctx context.Context, dir string) (faults int64, err error) {
	reports, _, err := store.VerifyIn(ctx, dir)
	if err != nil {
		return 0, fmt.Errorf("the copy can't be verified: %w", err)
	}
	faults, first := faultsIn(reports)
	if faults == 0 {
		return 0, nil
	}
	own, err := j.st.Verify(ctx)
	if err != nil {
		return 0, err
	}
	for _, report := range own {
		if report.FaultCount > 0 { // it is as damaged as what it was made of, and better than none
			return faults, nil
		}
	}
	return 0, fmt.Errorf("the copy was restored and is not clean, while the record is: %s", first)
}

// faultsIn is how many faults reports have, and the first one.
func faultsIn(reports map[checklists.MillID]record.Report) (faults int64, first string) {
	for _, mill := range store.SortedMills(reports) {
		faults += reports[mill].FaultCount
		if listed := reports[mill].Faults; len(listed) > 0 && first == "" {
			first = listed[0].What.String()
		}
	}
	return faults, first
}

func (j *job) increment(ctx context.Context) (unchanged bool, err error) {
	n := Note{Format: noteFormat, Kind: Increment, Made: j.now, Name: nameOf(Increment, j.now, len(j.recipients) > 0), Base: j.m.last.Base, Follows: j.m.last.Name, Faults: j.m.last.Faults}
	plain := filepath.Join(j.dir, "increment")
	cut, err := j.st.Increment(ctx, j.m.cut, j.now, plain)
	if err != nil {
		return false, err
	}
	n.Heads, n.Schema = headsIn(cut.Heads), cut.Schema
	check := func(file string) error {
		if err := j.st.CheckIncrement(ctx, file, j.m.cut.Heads, cut.Heads); err != nil {
			return fmt.Errorf("the backup was restored and is not sound: %w", err)
		}
		return nil
	}
	if len(j.recipients) > 0 {
		if err := check(plain); err != nil {
			return false, err
		}
	}
	digest, err := digestOf(ctx, plain)
	if err != nil {
		return false, err
	}
	if digest == j.m.last.PlainDigest { // nothing in it but what the last one has
		j.m.cut = cut
		return true, nil
	}
	if err := j.put(ctx, plain, &n); err != nil {
		return false, err
	}
	back := filepath.Join(j.dir, "restored")
	if err := j.readBack(ctx, n, back); err != nil {
		return false, err
	}
	if len(j.recipients) == 0 {
		if err := check(back); err != nil {
			return false, errors.Join(err, j.At.Remove(ctx, n.Name))
		}
	}
	return false, j.count(ctx, n, cut)
}

// put packs a file and puts it at the place under the name of the note.
func (j *job) put(ctx context.Context, plain string, n *Note) error {
	to := filepath.Join(j.dir, "packed")
	if err := pack(ctx, plain, to, j.recipients, n); err != nil {
		return err
	}
	file, err := os.Open(to)
	if err != nil {
		return err
	}
	err = j.At.Put(ctx, n.Name, file, n.Bytes)
	return errors.Join(err, file.Close(), os.Remove(to))
}

// readBack reads from the place what was just put there, into the file to where it
// is not encrypted. What is not what was sent is taken away again.
func (j *job) readBack(ctx context.Context, n Note, to string) error {
	if n.Encrypted {
		to = ""
	}
	if err := fetch(ctx, j.At, n, nil, to); err != nil {
		return errors.Join(fmt.Errorf("what was written could not be read back: %w", err), j.At.Remove(ctx, n.Name))
	}
	return nil
}

// count makes the backup one that counts.
func (j *job) count(ctx context.Context, n Note, cut store.Cut) error {
	if err := putNote(ctx, j.At, n); err != nil {
		return errors.Join(err, j.At.Remove(ctx, n.Name))
	}
	j.m.cut, j.m.last = cut, n
	j.m.notes[n.Name+noteSuffix] = n
	j.there.Notes = append(j.there.Notes, n)
	return nil
}

// rotate lets those go that are no longer to be kept, and what tries that were cut
// off left.
func (j *job) rotate(ctx context.Context, made *Made) error {
	var all []checklists.Backup
	for _, n := range j.there.Notes {
		all = append(all, checklists.Backup{Name: n.Name, Base: n.Base, Made: n.Made, Bytes: n.Bytes})
	}
	gone, over := j.Place.Keep.Gone(all, j.now, j.Zone)
	made.Over = over
	for _, n := range j.there.Notes {
		if !slices.Contains(gone, n.Name) {
			made.All, made.Copies = made.All+n.Bytes, made.Copies+1
			continue
		}
		// The note goes first: a backup without one does not count.
		if err := errors.Join(j.At.Remove(ctx, n.Name+noteSuffix), j.At.Remove(ctx, n.Name)); err != nil {
			return fmt.Errorf("%s is past its time and could not be removed: %w", n.Name, err)
		}
		delete(j.m.notes, n.Name+noteSuffix)
	}
	for _, stray := range j.there.Strays {
		if at, err := time.Parse("20060102T150405.000Z", strings.SplitN(stray, "Z", 2)[0]+"Z"); err == nil && j.now.Sub(at) > strayFor {
			if err := j.At.Remove(ctx, stray); err != nil {
				return err
			}
		}
	}
	return nil
}

// strayFor is for how long a backup without a note is left alone: another program,
// as `stillsaw backup`, may be making it.
const strayFor = 24 * time.Hour
