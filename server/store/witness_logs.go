package store

import (
	"context"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

type witnessLogRow struct {
	Mill      string                  `gorm:"primaryKey"`
	Origin    string                  `gorm:"primaryKey"`
	Doc       checklists.WitnessedLog `gorm:"serializer:json"`
	Size      int64
	Root      []byte
	Text      string
	Seen      int64
	Refused   string
	RefusedAt int64
}

func (witnessLogRow) TableName() string { return "witness_logs" }

// SeenLog is the record of another mill with what was cosigned of it last.
type SeenLog struct {
	checklists.WitnessedLog
	Size int64  // entries cosigned, 0 for none yet
	Text string // the checkpoint with the cosignature
	Seen time.Time

	Refused   string    // the newest checkpoint that does not go on from that, "" for none
	RefusedAt time.Time // when it was sent
}

func (row witnessLogRow) seen() record.TreeHead {
	head := record.TreeHead{Origin: row.Origin, Size: row.Size}
	if len(row.Root) == tlog.HashSize {
		head.Root = tlog.Hash(row.Root)
	}
	return head
}

// EnterLog makes this Stillsaw a witness of another record, known by its keys, or
// replaces the keys and the name of one that is entered. Its error is a
// [plain.Problems] for "name" and "verifier", or a [plain.Refusal].
func (m *Mill) EnterLog(ctx context.Context, submission string, l checklists.WitnessedLog, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "witness-log", at, func(tx *Tx, at time.Time) (string, error) {
		l.Origin = ""
		for _, text := range l.Verifier {
			verifier, err := note.NewVerifier(text)
			if err != nil || l.Origin != "" && l.Origin != verifier.Name() || verifier.Name() == record.Origin(string(m.id)) {
				return "", plain.Problems{{Field: "verifier", Want: plain.Say("the keys of one other mill's checkpoints, as its page Is the record what was written shows them, a line each")}}
			}
			l.Origin = verifier.Name()
		}
		entered, err := l.Enter(by, at)
		if err != nil {
			return "", err
		}
		row, err := one[witnessLogRow](tx, "log", "mill = ? AND origin = ?", m.id, entered.Origin)
		switch {
		case err == nil:
			row.Doc = entered
			err = tx.gorm().Model(&witnessLogRow{}).Where("mill = ? AND origin = ?", m.id, entered.Origin).Select("doc").Updates(&row).Error
		case errors.Is(err, ErrNotFound):
			err = tx.gorm().Create(&witnessLogRow{Mill: string(m.id), Origin: entered.Origin, Doc: entered, Root: []byte{}}).Error
		}
		if err != nil {
			return "", err
		}
		return entered.Origin, tx.witnessEntry(m, checklists.Witness{Kind: checklists.WitnessOther}, WitnessSetUp, by, at)
	})
	return err
}

// RemoveLog ends this Stillsaw's being a witness of a record. What was cosigned
// last is not forgotten: entered again, it goes on from there and nowhere else.
func (m *Mill) RemoveLog(ctx context.Context, submission, origin string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "witness-log-removed", at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Supervises() {
			return "", refuseRole()
		}
		row, err := one[witnessLogRow](tx, "log", "mill = ? AND origin = ?", m.id, origin)
		switch {
		case err != nil:
			return "", err
		case !row.Doc.Removed.IsZero():
			return "", fmt.Errorf("log: %w", ErrNotFound)
		}
		row.Doc.Removed = at
		if err := tx.gorm().Model(&witnessLogRow{}).Where("mill = ? AND origin = ?", m.id, origin).Select("doc").Updates(&row).Error; err != nil {
			return "", err
		}
		return origin, tx.witnessEntry(m, checklists.Witness{Kind: checklists.WitnessOther}, WitnessRemoved, by, at)
	})
	return err
}

// SeenLogs lists the records this Stillsaw is a witness of.
func (m *Mill) SeenLogs(ctx context.Context) ([]SeenLog, error) {
	var rows []witnessLogRow
	err := m.gorm().WithContext(ctx).Order("origin").Find(&rows, "mill = ?", m.id).Error
	var all []SeenLog
	for _, row := range rows {
		if !row.Doc.Removed.IsZero() {
			continue
		}
		all = append(all, SeenLog{WitnessedLog: row.Doc, Size: row.Size, Text: row.Text, Seen: timeOf(row.Seen), Refused: row.Refused, RefusedAt: timeOf(row.RefusedAt)})
	}
	return all, err
}

// SeeCheckpoint is this Stillsaw as a witness: it holds what another mill sent
// against what it saw of it last, keeps it and only then returns the cosignature.
// What it saw last outlives its own database's being put back (see [memory]).
// Reading, checking and keeping have the writer to themselves, so no two that
// disagree are ever signed. size is what was seen of the record before. The error
// is [ErrNotFound] for a record nobody entered here, or one of record.Witness's.
func (m *Mill) SeeCheckpoint(ctx context.Context, sent record.Submission, now time.Time) (signature string, size int64, err error) {
	cosigner, err := m.cosigner()
	if err != nil {
		return "", 0, err
	}
	var answered struct {
		signature string
		size      int64
		refused   error
	}
	err = m.s.writer.do(ctx, func(tx *Tx) error {
		row, err := one[witnessLogRow](tx, "log", "mill = ? AND origin = ?", m.id, sent.Origin())
		if err != nil {
			return err
		}
		if !row.Doc.Removed.IsZero() {
			return fmt.Errorf("log: %w", ErrNotFound)
		}
		memory, err := m.remembered()
		if err != nil {
			return err
		}
		seen := memory.since(row.seen())
		answered.size = seen.Size
		var known []note.Verifier
		for _, text := range row.Doc.Verifier {
			verifier, err := note.NewVerifier(text)
			if err != nil {
				return err
			}
			known = append(known, verifier)
		}
		head, text, err := record.Witness(seen, sent, known...)
		if err != nil {
			answered.refused = err
			if errors.Is(err, record.ErrProofWrong) || errors.Is(err, record.ErrOtherRoot) {
				row.Refused, row.RefusedAt = sent.Checkpoint, millis(now)
				return tx.gorm().Model(&witnessLogRow{}).Where("mill = ? AND origin = ?", m.id, row.Origin).Select("refused", "refused_at").Updates(&row).Error
			}
			return nil
		}
		if answered.signature, err = cosigner.Cosign(text, now); err != nil {
			return err
		}
		if err := m.keepCosigned(memory, head); err != nil {
			return err
		}
		row.Size, row.Root, row.Seen = head.Size, head.Root[:], millis(now)
		row.Text = strings.TrimSuffix(sent.Checkpoint, "\n") + "\n" + answered.signature
		return tx.gorm().Model(&witnessLogRow{}).Where("mill = ? AND origin = ?", m.id, row.Origin).Select("size", "root", "seen", "text").Updates(&row).Error
	})
	if err != nil {
		return "", 0, err // answered may still be written to by a command that outlives ctx
	}
	return answered.signature, answered.size, answered.refused
}

// WitnessKey is the public key this Stillsaw cosigns with, made when it is first
// asked for.
func (m *Mill) WitnessKey() (string, error) {
	c, err := m.cosigner()
	if err != nil {
		return "", err
	}
	return c.Verifier(), nil
}

// cosigner reads the private part, which is a file beside the mill's other key.
func (m *Mill) cosigner() (record.Cosigner, error) {
	m.s.keys.making.Lock()
	defer m.s.keys.making.Unlock()
	path := filepath.Join(m.s.keys.dir, url.PathEscape(string(m.id))+".witness")
	text, err := os.ReadFile(path)
	var seed []byte
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if seed, err = record.NewWitnessSeed(rand.Reader); err != nil {
			return record.Cosigner{}, err
		}
		err = m.s.keys.write(path, base64.StdEncoding.EncodeToString(seed))
	case err == nil:
		seed, err = base64.StdEncoding.DecodeString(strings.TrimSpace(string(text)))
	}
	if err != nil {
		return record.Cosigner{}, fmt.Errorf("the witness key %s can't be read or made: %w", path, Cause(err))
	}
	return record.NewCosigner(record.WitnessName(string(m.id)), seed)
}
