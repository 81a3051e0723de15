package store

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

// stop enters a stop of the head saw that says what.
func stop(ctx context.Context, m *Mill, submission, what string) (checklists.DefectID, error) {
	return m.StopIt(ctx, submission, checklists.Defect{Equipment: "head-saw", What: what}, ada, six)
}

// busy keeps the writer at one command until the returned function is called,
// so that what comes meanwhile waits together.
func busy(t *testing.T, w *writer) (release func()) {
	t.Helper()
	running, gate := make(chan struct{}), make(chan struct{})
	done := make(chan error, 1)
	go func() {
		done <- w.do(context.Background(), func(*Tx) error {
			close(running)
			<-gate
			return nil
		})
	}()
	<-running
	return sync.OnceFunc(func() {
		close(gate)
		require.NoError(t, <-done)
	})
}

// queued waits until n commands stand in the queue.
func queued(t *testing.T, w *writer, n int) {
	t.Helper()
	require.Eventually(t, func() bool { return len(w.queue) == n }, 10*time.Second, time.Millisecond)
}

func TestCommandsThatWaitTogetherShareOneCommit(t *testing.T) {
	m := newMill(t)
	release := busy(t, m.s.writer)
	defer release()
	type sight struct{ inside, outside int64 }
	seen := make(chan sight, 8)
	errs := make(chan error, 8)
	count := func(r reader) int64 {
		var n int64
		if err := r.gorm().Model(&attemptRow{}).Count(&n).Error; err != nil {
			return -1
		}
		return n
	}
	for i := range 8 {
		go func() {
			errs <- m.s.writer.do(t.Context(), func(tx *Tx) error {
				if err := tx.gorm().Create(&attemptRow{Mill: string(m.id), Kind: ofPerson, Who: fmt.Sprint(i), Failed: 1}).Error; err != nil {
					return err
				}
				seen <- sight{count(tx), count(m)}
				return nil
			})
		}()
	}
	queued(t, m.s.writer, 8)
	release()
	for n := range int64(8) {
		require.NoError(t, <-errs)
		require.Equal(t, sight{inside: n + 1, outside: 0}, <-seen, "each sees those before it, and nobody outside does before the shared commit")
	}
	require.EqualValues(t, 8, count(m), "an acknowledged command is there for everybody")
}

func TestEveryAcknowledgedCommandIsThereAfterReopening(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	m := setUp(t, s, fernhollow)
	const many = 300
	ids := make(chan checklists.DefectID, many)
	var group sync.WaitGroup
	for i := range many {
		group.Go(func() {
			id, err := stop(t.Context(), m, NewID(), fmt.Sprint("stop ", i))
			if err != nil {
				t.Error(err)
			}
			ids <- id
		})
	}
	group.Wait()
	close(ids)
	before := clean(t, s)
	require.NoError(t, s.Close())

	s, err = Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	require.Equal(t, before, clean(t, s))
	said := map[string]bool{}
	for id := range ids {
		d, err := s.Of(fernhollow).Defect(t.Context(), id)
		require.NoError(t, err)
		said[d.What] = true
	}
	require.Len(t, said, many, "each once, under the id it was told")
}

func TestFailedCommandTakesNobodyElseAlong(t *testing.T) {
	m := newMill(t)
	before := clean(t, m.s)
	release := busy(t, m.s.writer)
	defer release()
	// What a bad command appended must leave neither rows nor the tree's edge.
	spoil := func(after func()) func(*Tx) error {
		return func(tx *Tx) error {
			for range 3 {
				if _, err := tx.append(m.id, act{Actor: ada.ID, At: six, Subject: "x"}, &plantBody{Plant: plantOf()[:1]}); err != nil {
					return err
				}
			}
			after()
			return errors.New("thought better of it")
		}
	}
	errs := make(chan error, 30)
	for i := range 30 {
		switch i % 3 {
		case 0:
			go func() {
				_, err := stop(t.Context(), m, NewID(), fmt.Sprint("stop ", i))
				errs <- err
			}()
		case 1:
			go func() { errs <- m.s.writer.do(t.Context(), spoil(func() {})) }()
		case 2:
			go func() { errs <- m.s.writer.do(t.Context(), spoil(func() { panic("out of my mind") })) }()
		}
	}
	queued(t, m.s.writer, 30)
	release()
	outcomes := map[string]int{}
	for range 30 {
		err := <-errs
		switch {
		case err == nil:
			outcomes["done"]++
		case err.Error() == "thought better of it":
			outcomes["failed"]++
		default:
			require.ErrorContains(t, err, "out of my mind")
			outcomes["panicked"]++
		}
	}
	require.Equal(t, map[string]int{"done": 10, "failed": 10, "panicked": 10}, outcomes)
	require.Equal(t, before+10, clean(t, m.s))
	plant, err := m.Plant(t.Context())
	require.NoError(t, err)
	require.Equal(t, plantOf(), plant, "the projections of a failed command are undone too")
	_, err = stop(t.Context(), m, NewID(), "one more")
	require.NoError(t, err)
	require.Equal(t, before+11, clean(t, m.s))
}

func TestLostTransactionFailsItsWholeBatchAndNoLater(t *testing.T) {
	m := newMill(t)
	before := clean(t, m.s)
	release := busy(t, m.s.writer)
	defer release()
	good, bad := make(chan error, 1), make(chan error, 1)
	go func() {
		_, err := stop(t.Context(), m, NewID(), "in the lost batch")
		good <- err
	}()
	queued(t, m.s.writer, 1)
	go func() {
		bad <- m.s.writer.do(t.Context(), func(tx *Tx) error { return tx.db.Exec("ROLLBACK").Error }) // as SQLite itself does on a full disk
	}()
	queued(t, m.s.writer, 2)
	release()
	require.ErrorContains(t, <-good, "nothing was saved")
	require.ErrorContains(t, <-bad, "nothing was saved")
	require.Equal(t, before, clean(t, m.s))
	_, err := stop(t.Context(), m, NewID(), "afterwards")
	require.NoError(t, err)
	require.Equal(t, before+1, clean(t, m.s))
}

func TestClosingFinishesWhatWaitsAndRefusesTheRest(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	m := setUp(t, s, fernhollow)
	before := clean(t, s)
	release := busy(t, s.writer)
	defer release()
	errs := make(chan error, 40)
	for i := range 40 {
		go func() {
			_, err := stop(context.Background(), m, NewID(), fmt.Sprint("stop ", i))
			errs <- err
		}()
	}
	queued(t, s.writer, 40)
	closed := make(chan error, 1)
	go func() { closed <- s.Close() }()
	require.Eventually(t, func() bool {
		s.writer.gate.RLock()
		defer s.writer.gate.RUnlock()
		return s.writer.closed
	}, 10*time.Second, time.Millisecond)
	_, err = stop(t.Context(), m, NewID(), "too late")
	require.ErrorIs(t, err, ErrClosing)
	release()
	for range 40 {
		require.NoError(t, <-errs)
	}
	require.NoError(t, <-closed)

	s, err = Open(t.Context(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	require.Equal(t, before+40, clean(t, s))
}

func TestCallerWhoWentAwayFindsOutBySendingAgain(t *testing.T) {
	m := newMill(t)
	before := clean(t, m.s)
	release := busy(t, m.s.writer)
	defer release()
	ctx, cancel := context.WithCancel(t.Context())
	gone := make(chan error, 1)
	submission := NewID()
	go func() {
		_, err := stop(ctx, m, submission, "a tooth is gone")
		gone <- err
	}()
	queued(t, m.s.writer, 1)
	cancel()
	require.ErrorIs(t, <-gone, context.Canceled)
	release()
	first, err := stop(t.Context(), m, submission, "a tooth is gone")
	require.NoError(t, err)
	d, err := m.Defect(t.Context(), first)
	require.NoError(t, err)
	require.Equal(t, "a tooth is gone", d.What)
	require.Equal(t, before+1, clean(t, m.s), "once, though it was sent twice")
}

func TestCallerWhoWentAwayBeforeTheQueueHadRoomDidNothing(t *testing.T) {
	m := newMill(t)
	before := clean(t, m.s)
	release := busy(t, m.s.writer)
	defer release()
	errs := make(chan error, batchMost)
	for range batchMost {
		go func() {
			_, err := stop(context.Background(), m, NewID(), "waiting")
			errs <- err
		}()
	}
	queued(t, m.s.writer, batchMost)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := stop(ctx, m, NewID(), "no room")
	require.ErrorIs(t, err, context.Canceled)
	release()
	for range batchMost {
		require.NoError(t, <-errs)
	}
	require.Equal(t, before+batchMost, clean(t, m.s))
}

func TestWatchersHearOfACommit(t *testing.T) {
	m := newMill(t)
	watch := m.s.Changed()
	_, err := stop(t.Context(), m, NewID(), "seen")
	require.NoError(t, err)
	select {
	case <-watch:
	default:
		require.Fail(t, "who acted knows before who watches")
	}
}

func TestRetryIsAnsweredWithTheFirstResultAndWritesNothing(t *testing.T) {
	m := newMill(t)
	submission := NewID()
	first, err := stop(t.Context(), m, submission, "first")
	require.NoError(t, err)
	size := clean(t, m.s)
	again, err := stop(t.Context(), m, submission, "second try, other words")
	require.NoError(t, err)
	require.Equal(t, first, again)
	require.Equal(t, size, clean(t, m.s))
	d, err := m.Defect(t.Context(), first)
	require.NoError(t, err)
	require.Equal(t, "first", d.What)

	err = m.ChangePlant(t.Context(), submission, plantOf(), sam, six)
	require.ErrorContains(t, err, "already used for another act")
	require.Equal(t, size, clean(t, m.s))
	_, err = stop(t.Context(), m, "", "no submission")
	require.Error(t, err)
	require.Equal(t, size, clean(t, m.s))
}

func TestManySendingTheSameFormAreAllAnsweredAlike(t *testing.T) {
	m := newMill(t)
	before := clean(t, m.s)
	submission := NewID()
	answers := make(chan checklists.DefectID, 20)
	var group sync.WaitGroup
	for range 20 {
		group.Go(func() {
			id, err := stop(t.Context(), m, submission, "the same form")
			if err != nil {
				t.Error(err)
			}
			answers <- id
		})
	}
	group.Wait()
	first := <-answers
	for range 19 {
		require.Equal(t, first, <-answers)
	}
	require.Equal(t, before+1, clean(t, m.s))
}

func TestRefusedActMayBeSentAgainWithTheSameForm(t *testing.T) {
	m := newMill(t)
	submission := NewID()
	_, err := m.StopIt(t.Context(), submission, checklists.Defect{Equipment: "no-such-machine"}, ada, six)
	require.Error(t, err)
	id, err := m.StopIt(t.Context(), submission, checklists.Defect{Equipment: procedures.EquipmentID("carriage")}, ada, six)
	require.NoError(t, err)
	require.NotEmpty(t, id, "what was refused is not an answer to give again")
}

// BenchmarkCommands is signed acts by 16 at once, each waiting for its own to
// be durable before the next.
func BenchmarkCommands(b *testing.B) {
	m := newMill(b)
	b.SetParallelism((16 + runtime.GOMAXPROCS(0) - 1) / runtime.GOMAXPROCS(0))
	b.ReportAllocs()
	b.RunParallel(func(loop *testing.PB) {
		for loop.Next() {
			if err := m.ResetPIN(b.Context(), NewID(), rita.ID, "digest", "by-supervisor", sam.ID, six); err != nil {
				b.Error(err)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "commands/s")
}
