package store

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"runtime/debug"
	"sync"
	"time"

	"gorm.io/gorm"

	"stillsaw/checklists"
)

// batchMost is how many waiting commands share one commit. Nobody lingers for
// company: whoever waits when the writer comes round rides along.
const batchMost = 64

// ErrClosing is a command that came after the store began to close.
var ErrClosing = errors.New("the server is stopping; nothing was saved, send it again in a moment")

// writer runs every command of the process, one at a time, each in a savepoint
// of a transaction that those waiting together share.
type writer struct {
	db      *gorm.DB
	queue   chan *command
	stopped chan struct{}

	gate   sync.RWMutex // held for reading while a command enters the queue
	closed bool

	besideMu sync.Mutex
	beside   []*command // that nobody waits for, for the next batch

	logs    logs                              // only the loop touches them
	heads   map[checklists.MillID]logHeadRow  // as of the batch at work; only the loop touches them
	known   map[checklists.MillID]*knownFacts // the same
	kept    *lasting
	hold    *MillHold // nil: nobody else can be at work
	changes broadcast
	counts  counts
}

type command struct {
	run   func(*Tx) error
	phone time.Time  // what the clock of the phone it came from said; zero: not told
	done  chan error // buffered: the loop never waits for a caller who went away
}

func newCommand(run func(*Tx) error) *command {
	return &command{run: run, done: make(chan error, 1)}
}

func startWriter(db *gorm.DB, kept *lasting, hold *MillHold) *writer {
	w := &writer{db: db, queue: make(chan *command, batchMost), stopped: make(chan struct{}), logs: logs{}, kept: kept, hold: hold, changes: newBroadcast()}
	go w.loop()
	return w
}

// do runs one command and returns once it is durable or has failed whole. When
// ctx ends first the command may still be carried out: its submission id tells.
func (w *writer) do(ctx context.Context, run func(*Tx) error) error {
	c := newCommand(run)
	c.phone = phoneOf(ctx)
	if err := w.enter(ctx, c); err != nil {
		return err
	}
	select {
	case err := <-c.done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (w *writer) enter(ctx context.Context, c *command) error {
	w.gate.RLock()
	defer w.gate.RUnlock()
	if w.closed {
		return ErrClosing
	}
	select {
	case w.queue <- c:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// along has one command carried out ahead of the next that somebody waits for, in
// the same commit. What must not be lost isn't given here: nobody is told how it ended.
func (w *writer) along(run func(*Tx) error) {
	w.besideMu.Lock()
	defer w.besideMu.Unlock()
	w.beside = append(w.beside, newCommand(run))
}

func (w *writer) takeBeside() []*command {
	w.besideMu.Lock()
	defer w.besideMu.Unlock()
	all := w.beside
	w.beside = nil
	return all
}

// drain takes no more commands and waits for those in the queue.
func (w *writer) drain() {
	w.gate.Lock()
	if !w.closed {
		w.closed = true
		close(w.queue)
	}
	w.gate.Unlock()
	<-w.stopped
}

func (w *writer) loop() {
	defer close(w.stopped)
	for first := range w.queue {
		batch := []*command{first}
	gather:
		for len(batch) < batchMost {
			select {
			case next, more := <-w.queue:
				if !more {
					break gather
				}
				batch = append(batch, next)
			default:
				break gather
			}
		}
		w.commit(append(w.takeBeside(), batch...))
	}
	if left := w.takeBeside(); len(left) > 0 {
		w.commit(left)
	}
}

// commit runs a batch and tells each caller its own outcome, good news only
// once the shared commit is on the disk.
func (w *writer) commit(batch []*command) {
	failed := make([]error, len(batch))
	before := maps.Clone(w.logs)
	w.known, w.heads = w.kept.facts.all(), map[checklists.MillID]logHeadRow{}
	err := w.db.Transaction(func(tx *gorm.DB) error {
		if err := w.hold.still(tx); err != nil {
			return err
		}
		var words unsaid
		for i, c := range batch {
			lost, err := w.attempt(tx, c, &words)
			if lost {
				return err
			}
			failed[i] = err
		}
		return (&Tx{db: tx}).say(words)
	})
	if err != nil {
		w.logs = before
		w.counts.failed.Add(1)
	} else {
		w.counts.commits.Add(1)
		w.counts.commands.Add(uint64(len(batch)))
		w.kept.facts.keep(w.known)
		w.changes.tell() // first, so that who is answered is shown nothing made before
	}
	for i, c := range batch {
		if err != nil {
			c.done <- fmt.Errorf("nothing was saved: %w", err)
			continue
		}
		c.done <- failed[i]
	}
}

// attempt runs one command in its savepoint. lost means the shared transaction
// itself is gone (disk full, I/O) and the whole batch with it.
func (w *writer) attempt(db *gorm.DB, c *command, words *unsaid) (lost bool, err error) {
	tx := &Tx{db: db, logs: w.logs, heads: w.heads, kept: w.kept, known: w.known, phone: c.phone}
	if err := db.Exec("SAVEPOINT command").Error; err != nil {
		return true, err
	}
	before, heads, knew := maps.Clone(w.logs), maps.Clone(w.heads), maps.Clone(w.known)
	err = guarded(c.run, tx)
	if err != nil {
		w.logs, w.heads, w.known = before, heads, knew
		if undo := db.Exec("ROLLBACK TO SAVEPOINT command").Error; undo != nil {
			return true, errors.Join(err, undo)
		}
	}
	if release := db.Exec("RELEASE SAVEPOINT command").Error; release != nil {
		return true, errors.Join(err, release)
	}
	if err == nil {
		words.take(tx.unsaid)
	}
	return false, err
}

// guarded turns a panic into an error of this command alone.
func guarded(run func(*Tx) error, tx *Tx) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("command panicked: %v\n%s", p, debug.Stack())
		}
	}()
	return run(tx)
}

// Tx is one command at work: what it reads and writes is its own until the
// shared commit.
type Tx struct {
	db    *gorm.DB
	logs  logs
	heads map[checklists.MillID]logHeadRow  // read or written by those at work together; nil: read anew
	kept  *lasting                          // nil: every row is read anew
	known map[checklists.MillID]*knownFacts // facts of no later moment than what is read
	mill  *checklists.Mill                  // loaded once

	phone  time.Time // what the clock of the phone it came from said
	unsaid unsaid

	ahead *ahead // nil: each row is written at once
}

type phoneKey struct{}

// WithPhone gives the commands under ctx what the clock of the phone they come
// from said, in its own zone. Each entry they make keeps it beside the server's.
func WithPhone(ctx context.Context, phone time.Time) context.Context {
	return context.WithValue(ctx, phoneKey{}, phone)
}

func phoneOf(ctx context.Context) time.Time {
	phone, _ := ctx.Value(phoneKey{}).(time.Time)
	return phone
}

// broadcast tells any number of watchers that something was committed.
type broadcast struct {
	mu   *sync.Mutex
	next chan struct{}
}

func newBroadcast() broadcast {
	return broadcast{mu: new(sync.Mutex), next: make(chan struct{})}
}

func (b *broadcast) tell() {
	b.mu.Lock()
	defer b.mu.Unlock()
	close(b.next)
	b.next = make(chan struct{})
}

func (b *broadcast) wait() <-chan struct{} {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.next
}

// Changed is closed at the next commit of this process.
func (s *Store) Changed() <-chan struct{} { return s.writer.changes.wait() }

// millis and timeOf convert at the border of the database: integers compare as
// times do, text with an offset does not.
func millis(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMilli()
}

func timeOf(ms int64) time.Time {
	if ms == 0 {
		return time.Time{}
	}
	return time.UnixMilli(ms).UTC()
}

// Mill is one mill's part of the store: every row it reads or writes carries
// the mill's id.
type Mill struct {
	s  *Store
	id checklists.MillID
}

// Of returns the part of the store that belongs to one mill.
func (s *Store) Of(mill checklists.MillID) *Mill { return &Mill{s: s, id: mill} }

// ID is the mill's id.
func (m *Mill) ID() checklists.MillID { return m.id }
