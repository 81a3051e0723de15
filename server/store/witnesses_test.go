package store

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

// witnessed sets witnesses up, has one sign, one disagree and one sent a mail, and
// makes the mill the witness of another.
func witnessed(t testing.TB, m *Mill, at time.Time) (checklists.WitnessID, checklists.AlarmID, string) {
	t.Helper()
	ctx := t.Context()
	folder, err := m.SetUpWitness(ctx, NewID(), checklists.Witness{Kind: checklists.WitnessFolder, Place: "/mnt/stick of Jo"}, sam, at)
	require.NoError(t, err)
	box, err := m.SetUpWitness(ctx, NewID(), checklists.Witness{Kind: checklists.WitnessMail, Place: "jo@example.com"}, sam, at)
	require.NoError(t, err)
	head, err := m.Head(ctx)
	require.NoError(t, err)
	require.NoError(t, m.KeepWitnessed(ctx, folder, head, head.Text(), at))
	require.NoError(t, m.PostMail(ctx, Mail{Occasion: "witness day", State: MailQueued, Made: at, Witness: box}, nil))
	for _, about := range []string{"a", "b", "b"} {
		require.NoError(t, m.RaiseWitnessAlarm(ctx, checklists.WitnessAlarm{Witness: folder, Kind: checklists.WitnessFolder, Why: checklists.AlarmForked, HeldSize: 3, OwnSize: head.Size}, about, at))
	}
	alarms, err := m.WitnessAlarms(ctx)
	require.NoError(t, err)
	require.Len(t, alarms, 2, "the same is raised once")
	require.NoError(t, m.CloseWitnessAlarm(ctx, NewID(), alarms[0].ID, "Jo put an old copy back", sam, at))
	log := newOtherLog(t, "stillsaw/elsewhere")
	require.NoError(t, m.EnterLog(ctx, NewID(), log.entered(), sam, at))
	return folder, alarms[1].ID, log.origin
}

// otherLog is the record of other people, whose every head is kept.
type otherLog struct {
	t        testing.TB
	origin   string
	verifier string
	signer   note.Signer
	edge     record.Frontier
	hashes   []tlog.Hash
}

func newOtherLog(t testing.TB, origin string) *otherLog {
	t.Helper()
	private, verifier, err := note.GenerateKey(nil, origin)
	require.NoError(t, err)
	signer, err := note.NewSigner(private)
	require.NoError(t, err)
	return &otherLog{t: t, origin: origin, verifier: verifier, signer: signer}
}

func (l *otherLog) entered() checklists.WitnessedLog {
	return checklists.WitnessedLog{Name: "Elsewhere", Verifier: []string{l.verifier}}
}

// grow adds entries that say so.
func (l *otherLog) grow(n int, says string) {
	for range n {
		for _, h := range l.edge.Append(tlog.RecordHash(fmt.Append(nil, says, l.edge.Size()))) {
			l.hashes = append(l.hashes, h.Hash)
		}
	}
}

// since is what the log sends a witness that saw older entries of it.
func (l *otherLog) since(older int64) record.Submission {
	l.t.Helper()
	proof, err := record.ProveConsistency(older, l.edge.Size(), tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		some := make([]tlog.Hash, len(indexes))
		for i, index := range indexes {
			some[i] = l.hashes[index]
		}
		return some, nil
	}))
	require.NoError(l.t, err)
	text, err := note.Sign(&note.Note{Text: fmt.Sprintf("%s\n%d\n%s\n", l.origin, l.edge.Size(), l.edge.Root())}, l.signer)
	require.NoError(l.t, err)
	return record.Submission{Old: older, Proof: proof, Checkpoint: string(text)}
}

func TestWitnessSignsWhatGoesOnAndNothingElse(t *testing.T) {
	m := newMill(t)
	log := newOtherLog(t, "stillsaw/elsewhere")
	log.grow(5, "as it was")
	_, _, err := m.SeeCheckpoint(t.Context(), log.since(0), six)
	require.ErrorIs(t, err, ErrNotFound, "nobody entered it")
	require.NoError(t, m.EnterLog(t.Context(), NewID(), log.entered(), sam, six))

	key, err := m.WitnessKey()
	require.NoError(t, err)
	verifier, err := record.NewCosignatureVerifier(key)
	require.NoError(t, err)
	see := func(s record.Submission) (int64, error) {
		signature, size, err := m.SeeCheckpoint(t.Context(), s, six)
		if err == nil {
			opened, err := note.Open([]byte(s.Checkpoint+signature), note.VerifierList(verifier))
			require.NoError(t, err)
			at, err := record.CosignedAt(opened.Sigs[0])
			require.NoError(t, err)
			require.Equal(t, six, at)
		} else {
			require.Empty(t, signature)
		}
		return size, err
	}
	_, err = see(log.since(0))
	require.NoError(t, err)
	old := *log
	log.grow(4, "and on")
	size, err := see(log.since(3))
	require.ErrorIs(t, err, record.ErrOtherSize)
	require.EqualValues(t, 5, size, "it says what it saw last")
	_, err = see(log.since(5))
	require.NoError(t, err)
	_, err = see(log.since(9))
	require.NoError(t, err, "the same once more")

	rewritten := newOtherLog(t, log.origin)
	rewritten.signer = log.signer // who holds the key
	rewritten.grow(9, "otherwise")
	_, err = see(rewritten.since(9))
	require.ErrorIs(t, err, record.ErrOtherRoot)
	rewritten.grow(1, "otherwise")
	_, err = see(rewritten.since(9))
	require.ErrorIs(t, err, record.ErrProofWrong)
	_, err = see(old.since(5))
	require.ErrorIs(t, err, record.ErrOtherSize, "an older one is not what it saw")
	logs, err := m.SeenLogs(t.Context())
	require.NoError(t, err)
	require.EqualValues(t, 9, logs[0].Size)
	require.Equal(t, rewritten.since(9).Checkpoint, logs[0].Refused, "what it was given instead is kept")

	other := newOtherLog(t, log.origin)
	other.grow(10, "as it was")
	_, err = see(other.since(9))
	require.ErrorIs(t, err, record.ErrNotSigned)
}

func TestWitnessRemembersWhatItSawOfALogItNoLongerSees(t *testing.T) {
	m := newMill(t)
	log := newOtherLog(t, "stillsaw/elsewhere")
	log.grow(5, "as it was")
	require.NoError(t, m.EnterLog(t.Context(), NewID(), log.entered(), sam, six))
	_, _, err := m.SeeCheckpoint(t.Context(), log.since(0), six)
	require.NoError(t, err)
	require.NoError(t, m.RemoveLog(t.Context(), NewID(), log.origin, sam, six))
	_, _, err = m.SeeCheckpoint(t.Context(), log.since(5), six)
	require.ErrorIs(t, err, ErrNotFound)
	require.NoError(t, m.EnterLog(t.Context(), NewID(), log.entered(), sam, six))
	rewritten := newOtherLog(t, log.origin)
	rewritten.signer = log.signer
	rewritten.grow(5, "otherwise")
	_, _, err = m.SeeCheckpoint(t.Context(), rewritten.since(0), six)
	require.ErrorIs(t, err, record.ErrOtherSize)
}

// The race of C2SP tlog-witness: two ways on from what was seen, sent at once by
// many. Of each size one root at the most is signed, and of the two ways one.
func TestWitnessNeverSignsTwoThatDisagree(t *testing.T) {
	m := newMill(t)
	log := newOtherLog(t, "stillsaw/elsewhere")
	log.grow(3, "as it was")
	require.NoError(t, m.EnterLog(t.Context(), NewID(), log.entered(), sam, six))
	_, _, err := m.SeeCheckpoint(t.Context(), log.since(0), six)
	require.NoError(t, err)
	var ways [2]record.Submission
	for i, says := range []string{"one way", "another way"} {
		way := newOtherLog(t, log.origin)
		way.signer = log.signer
		way.grow(3, "as it was")
		way.grow(1, says)
		ways[i] = way.since(3)
	}
	var signed [2]atomic.Int64
	var all sync.WaitGroup
	for i := range 40 {
		all.Go(func() {
			if _, _, err := m.SeeCheckpoint(context.Background(), ways[i%2], six); err == nil {
				signed[i%2].Add(1)
			}
		})
	}
	all.Wait()
	require.EqualValues(t, 1, signed[0].Load()+signed[1].Load(), "the second of the same way comes with a size that is no longer the last")
}

func TestOnlyKeysOfOneOtherMillAreEntered(t *testing.T) {
	m := newMill(t)
	one, two := newOtherLog(t, "stillsaw/one"), newOtherLog(t, "stillsaw/two")
	own, _, err := record.NewKey(string(m.id), zeros{})
	require.NoError(t, err)
	signer, err := note.NewSigner(own)
	require.NoError(t, err)
	require.NotNil(t, signer)
	_, ownPublic, err := record.NewKey(string(m.id), zeros{})
	require.NoError(t, err)
	for _, keys := range [][]string{nil, {"x"}, {one.verifier, two.verifier}, {ownPublic}} {
		err := m.EnterLog(t.Context(), NewID(), checklists.WitnessedLog{Name: "Elsewhere", Verifier: keys}, sam, six)
		var bad plain.Problems
		require.ErrorAs(t, err, &bad)
		require.NotNil(t, bad.For("verifier"))
	}
	require.Error(t, m.EnterLog(t.Context(), NewID(), one.entered(), ada, six))
	_, err = m.SetUpWitness(t.Context(), NewID(), checklists.Witness{Kind: checklists.WitnessStillsaw, Place: "http://10.0.0.2:8090/witness", Verifier: one.verifier}, sam, six)
	require.ErrorContains(t, err, "verifier", "a log's key is no witness's")
}

// zeros is no randomness at all.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) { return len(p), nil }

func TestWitnessEntriesNameNoPlace(t *testing.T) {
	m := newMill(t)
	witnessed(t, m, six)
	var rows []entryRow
	require.NoError(t, m.s.reads.Order("seq").Find(&rows).Error)
	count := 0
	for _, row := range rows {
		require.NotContains(t, string(row.Leaf), "stick")
		require.NotContains(t, string(row.Leaf), "example.com")
		require.NotContains(t, string(row.Leaf), "old copy", "the reason is personal")
		if row.Kind == KindWitness || row.Kind == KindWitnessAlarm {
			count++
		}
	}
	require.Equal(t, 4, count)
}
