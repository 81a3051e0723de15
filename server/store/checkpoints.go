package store

import (
	"context"
	"errors"
	"time"

	"golang.org/x/mod/sumdb/tlog"
	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"stillsaw/server/record"
)

// Why a checkpoint was kept.
const (
	KeptInPassing   = "round"    // by the server, while the record goes on
	KeptForExport   = "export"   // printed on an export
	KeptForRotation = "rotation" // where one key hands on to the next
	KeptAtStop      = "stop"     // when the server stopped
)

// keptWhole is how long each checkpoint kept in passing stays; of older ones
// there stays the last of each day.
const keptWhole = 40 * 24 * time.Hour

// Checkpoint is the mill's word on its record at one size, signed.
type Checkpoint struct {
	record.Head
	Text string   // the signed note
	Keys []LogKey // all that the record names up to there, the one that signed last
}

// KeptCheckpoint is a checkpoint that was put by.
type KeptCheckpoint struct {
	record.Head
	Text string
	At   time.Time
	Why  string
}

type checkpointRow struct {
	Mill string `gorm:"primaryKey"`
	Size int64  `gorm:"primaryKey;autoIncrement:false"`
	Text string `gorm:"primaryKey"`
	At   int64
	Why  string
}

func (checkpointRow) TableName() string { return "checkpoints" }

// Checkpoint signs the record as it stands. Its error is [ErrNoKey] where the
// key is not here.
func (m *Mill) Checkpoint(ctx context.Context) (c Checkpoint, err error) {
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		tx := &Tx{db: db}
		head, err := headOf(tx, m.id)
		if err != nil {
			return err
		}
		c, err = m.checkpointAt(tx, head)
		return err
	})
	return c, err
}

// checkpointAt signs head, which r has just read: one transaction, so that head
// and keys are of one moment.
func (m *Mill) checkpointAt(r reader, head record.Head) (Checkpoint, error) {
	keys, err := logKeys(r, string(m.id))
	if err != nil {
		return Checkpoint{}, err
	}
	if len(keys) == 0 {
		return Checkpoint{}, ErrNoKey
	}
	signer, _, err := m.s.keys.signer(m.id, keys[len(keys)-1].Verifier)
	if err != nil {
		return Checkpoint{}, err
	}
	text, err := head.Sign(signer)
	return Checkpoint{Head: head, Text: text, Keys: keys}, err
}

// KeepCheckpoint puts c by, once for each text.
func (m *Mill) KeepCheckpoint(ctx context.Context, c Checkpoint, why string, now time.Time) error {
	if c.Text == "" || c.Mill != string(m.id) {
		return errors.New("no checkpoint of this mill")
	}
	return m.s.writer.do(ctx, func(tx *Tx) error {
		row := checkpointRow{Mill: string(m.id), Size: c.Size, Text: c.Text, At: millis(now), Why: why}
		if err := tx.db.Clauses(clause.OnConflict{DoNothing: true}).Create(&row).Error; err != nil {
			return err
		}
		return tx.db.Exec(`DELETE FROM checkpoints WHERE mill = ? AND why = ? AND at < ?
			AND at NOT IN (SELECT max(at) FROM checkpoints WHERE mill = ? GROUP BY at / 86400000)`,
			m.id, KeptInPassing, millis(now.Add(-keptWhole)), m.id).Error
	})
}

// KeptCheckpoints lists the checkpoints put by, the newest first, at most that many.
func (m *Mill) KeptCheckpoints(ctx context.Context, newest int) ([]KeptCheckpoint, error) {
	var rows []checkpointRow
	if err := m.gorm().WithContext(ctx).Order("size DESC, text").Limit(newest).Find(&rows, "mill = ?", m.id).Error; err != nil {
		return nil, err
	}
	kept := make([]KeptCheckpoint, 0, len(rows))
	for _, row := range rows {
		kept = append(kept, row.kept())
	}
	return kept, nil
}

// kept is the row with its head read from the text; a text that is none leaves
// a head of the row's size without a root.
func (row checkpointRow) kept() KeptCheckpoint {
	k := KeptCheckpoint{Text: row.Text, At: timeOf(row.At), Why: row.Why}
	head, err := record.ReadHead(row.Text)
	if err != nil {
		head = record.Head{Mill: row.Mill, Size: row.Size}
	}
	k.Head = head
	return k
}

// CheckpointSince is the present checkpoint and the proof that it goes on from
// the record's first older entries. Where there are fewer than that the error is
// [ErrNotFound], beside the checkpoint all the same.
func (m *Mill) CheckpointSince(ctx context.Context, older int64) ([]tlog.Hash, Checkpoint, error) {
	return m.provenAt(ctx, func(tx *Tx, size int64) ([]tlog.Hash, error) {
		if older < 0 || older > size {
			return nil, ErrNotFound
		}
		return record.ProveConsistency(older, size, hashReader(tx, m.id))
	})
}

// EntryProof is the present checkpoint and the proof that the entry at seq lies
// under it (RFC 6962 section 2.1.1), [ErrNotFound] where there is none.
func (m *Mill) EntryProof(ctx context.Context, seq int64) ([]tlog.Hash, Checkpoint, error) {
	return m.provenAt(ctx, func(tx *Tx, size int64) ([]tlog.Hash, error) {
		if seq < 0 || seq >= size {
			return nil, ErrNotFound
		}
		return tlog.ProveRecord(size, seq, hashReader(tx, m.id))
	})
}

// provenAt signs the head and makes a proof under it in one transaction.
func (m *Mill) provenAt(ctx context.Context, prove func(tx *Tx, size int64) ([]tlog.Hash, error)) (proof []tlog.Hash, c Checkpoint, err error) {
	err = m.gorm().WithContext(ctx).Transaction(func(db *gorm.DB) error {
		tx := &Tx{db: db}
		head, err := headOf(tx, m.id)
		if err != nil {
			return err
		}
		if c, err = m.checkpointAt(tx, head); err != nil {
			return err
		}
		proof, err = prove(tx, head.Size)
		return err
	})
	return proof, c, err
}
