package store

import (
	"context"
	"errors"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/record"
)

type witnessRow struct {
	Mill   string             `gorm:"primaryKey"`
	ID     string             `gorm:"primaryKey"`
	Doc    checklists.Witness `gorm:"serializer:json"`
	Size   int64
	Root   []byte
	Sent   int64
	Tried  int64
	Answer string
	Why    string
}

func (witnessRow) TableName() string { return "witnesses" }

type cosignatureRow struct {
	Mill    string `gorm:"primaryKey"`
	Witness string `gorm:"primaryKey"`
	Size    int64  `gorm:"primaryKey;autoIncrement:false"`
	Text    string
	At      int64
}

func (cosignatureRow) TableName() string { return "cosignatures" }

// WitnessState is a witness with what came of it.
type WitnessState struct {
	checklists.Witness
	Took   record.Head // what it is known to hold, zero for nothing
	Sent   time.Time   // when it took that
	Tried  time.Time   // last
	Answer checklists.WitnessAnswer
	Why    string // what the computer said to it
}

func (row witnessRow) state() WitnessState {
	s := WitnessState{Witness: row.Doc, Sent: timeOf(row.Sent), Tried: timeOf(row.Tried), Answer: checklists.WitnessAnswer(row.Answer), Why: row.Why}
	if len(row.Root) == tlog.HashSize {
		s.Took = record.Head{Mill: row.Mill, Size: row.Size, Root: tlog.Hash(row.Root)}
	}
	return s
}

// SetUpWitness sets a witness up. Its error is what [checklists.Witness.SetUp]
// refuses, or a [plain.Problems] for "verifier".
func (m *Mill) SetUpWitness(ctx context.Context, submission string, w checklists.Witness, by procedures.Person, at time.Time) (checklists.WitnessID, error) {
	id, err := m.do(ctx, submission, "witness", at, func(tx *Tx, at time.Time) (string, error) {
		made, err := w.SetUp(checklists.WitnessID(NewID()), by, at)
		if err != nil {
			return "", err
		}
		if made.Kind == checklists.WitnessStillsaw {
			if _, err := record.NewCosignatureVerifier(made.Verifier); err != nil {
				return "", plain.Problems{{Field: "verifier", Want: plain.Say("the witness key as its own page Witnesses shows it, copied whole")}}
			}
		}
		row := witnessRow{Mill: string(m.id), ID: string(made.ID), Doc: made, Root: []byte{}}
		if err := tx.gorm().Create(&row).Error; err != nil {
			return "", err
		}
		return string(made.ID), tx.witnessEntry(m, made, WitnessSetUp, by, at)
	})
	return checklists.WitnessID(id), err
}

func (tx *Tx) witnessEntry(m *Mill, w checklists.Witness, change WitnessChange, by procedures.Person, at time.Time) error {
	_, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(w.ID)}, &witnessBody{WitnessAct: WitnessAct{Witness: w.ID, Kind: w.Kind, Act: change}})
	return err
}

// SwitchWitness switches a witness on or off.
func (m *Mill) SwitchWitness(ctx context.Context, submission string, id checklists.WitnessID, on bool, by procedures.Person, at time.Time) error {
	change := WitnessOff
	if on {
		change = WitnessOn
	}
	return m.changeWitness(ctx, submission, id, change, by, at, func(tx *Tx, row witnessRow) error {
		row.Doc.On = on
		return tx.gorm().Model(&witnessRow{}).Where("mill = ? AND id = ?", m.id, id).Select("doc").Updates(&row).Error
	})
}

// RemoveWitness forgets a witness and where it is. What it took, it has.
func (m *Mill) RemoveWitness(ctx context.Context, submission string, id checklists.WitnessID, by procedures.Person, at time.Time) error {
	return m.changeWitness(ctx, submission, id, WitnessRemoved, by, at, func(tx *Tx, _ witnessRow) error {
		return tx.gorm().Delete(&witnessRow{}, "mill = ? AND id = ?", m.id, id).Error
	})
}

func (m *Mill) changeWitness(ctx context.Context, submission string, id checklists.WitnessID, change WitnessChange, by procedures.Person, at time.Time, do func(*Tx, witnessRow) error) error {
	_, err := m.do(ctx, submission, "witness "+string(change), at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Supervises() {
			return "", refuseRole()
		}
		row, err := one[witnessRow](tx, "witness", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		if err := do(tx, row); err != nil {
			return "", err
		}
		return string(id), tx.witnessEntry(m, row.Doc, change, by, at)
	})
	return err
}

// Witnesses lists the witnesses in the order they were set up.
func (m *Mill) Witnesses(ctx context.Context) ([]WitnessState, error) {
	var rows []witnessRow
	err := m.gorm().WithContext(ctx).Order("id").Find(&rows, "mill = ?", m.id).Error
	all := make([]WitnessState, len(rows))
	for i, row := range rows {
		all[i] = row.state()
	}
	return all, err
}

// Witness loads one witness, ErrNotFound where it was removed.
func (m *Mill) Witness(ctx context.Context, id checklists.WitnessID) (WitnessState, error) {
	row, err := one[witnessRow](ctxReader{m, ctx}, "witness", "mill = ? AND id = ?", m.id, id)
	return row.state(), err
}

// KeepWitnessed keeps that a witness has a checkpoint; text is that with the
// witness's signature, "" where it makes none.
func (m *Mill) KeepWitnessed(ctx context.Context, id checklists.WitnessID, took record.Head, text string, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if text != "" {
			if err := tx.put(&cosignatureRow{Mill: string(m.id), Witness: string(id), Size: took.Size, Text: text, At: millis(at)}, "text", "at"); err != nil {
				return err
			}
		}
		return tx.gorm().Model(&witnessRow{}).Where("mill = ? AND id = ?", m.id, id).Updates(map[string]any{"size": took.Size, "root": took.Root[:],
			"sent": millis(at), "tried": millis(at), "answer": string(checklists.WitnessTook), "why": ""}).Error
	})
}

// KeepWitnessMail keeps that a checkpoint waits in the outbox for a witness.
func (m *Mill) KeepWitnessMail(ctx context.Context, id checklists.WitnessID, head record.Head, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		return tx.gorm().Model(&witnessRow{}).Where("mill = ? AND id = ?", m.id, id).Updates(map[string]any{"size": head.Size, "root": head.Root[:],
			"tried": millis(at), "answer": string(checklists.WitnessQueued), "why": ""}).Error
	})
}

// KeepWitnessAnswer keeps what a try came to that a witness did not take.
func (m *Mill) KeepWitnessAnswer(ctx context.Context, id checklists.WitnessID, answer checklists.WitnessAnswer, why string, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		return tx.gorm().Model(&witnessRow{}).Where("mill = ? AND id = ?", m.id, id).Updates(map[string]any{"tried": millis(at), "answer": string(answer), "why": why}).Error
	})
}

// Cosigned is a checkpoint of this mill with the signature of a witness.
type Cosigned struct {
	Witness checklists.WitnessID
	Size    int64
	Text    string
	At      time.Time
}

// Cosignatures lists the checkpoints that witnesses signed, the largest first, at
// most newest of them.
func (m *Mill) Cosignatures(ctx context.Context, newest int) ([]Cosigned, error) {
	var rows []cosignatureRow
	err := m.gorm().WithContext(ctx).Order("size DESC, witness").Limit(newest).Find(&rows, "mill = ?", m.id).Error
	all := make([]Cosigned, len(rows))
	for i, row := range rows {
		all[i] = Cosigned{Witness: checklists.WitnessID(row.Witness), Size: row.Size, Text: row.Text, At: timeOf(row.At)}
	}
	return all, err
}

type witnessAlarmRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	About  string
	Closed int64
	Doc    checklists.WitnessAlarm `gorm:"serializer:json"`
}

func (witnessAlarmRow) TableName() string { return "witness_alarms" }

// RaiseWitnessAlarm keeps an alarm, once for the same about: what a supervisor has
// closed is not raised again by the same thing.
func (m *Mill) RaiseWitnessAlarm(ctx context.Context, a checklists.WitnessAlarm, about string, at time.Time) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		_, err := one[witnessAlarmRow](tx, "alarm", "mill = ? AND about = ?", m.id, about)
		if !errors.Is(err, ErrNotFound) {
			return err
		}
		a.ID, a.Raised = checklists.AlarmID(NewID()), at
		return tx.gorm().Create(&witnessAlarmRow{Mill: string(m.id), ID: string(a.ID), About: about, Doc: a}).Error
	})
}

// CloseWitnessAlarm closes an alarm with a reason, which goes into the record. Its
// error is what [checklists.WitnessAlarm.Close] refuses.
func (m *Mill) CloseWitnessAlarm(ctx context.Context, submission string, id checklists.AlarmID, reason string, by procedures.Person, at time.Time) error {
	_, err := m.do(ctx, submission, "witness-alarm", at, func(tx *Tx, at time.Time) (string, error) {
		row, err := one[witnessAlarmRow](tx, "alarm", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		if row.Doc, err = row.Doc.Close(reason, by, at); err != nil {
			return "", err
		}
		row.Closed = millis(at)
		if err := tx.gorm().Model(&witnessAlarmRow{}).Where("mill = ? AND id = ?", m.id, id).Select("doc", "closed").Updates(&row).Error; err != nil {
			return "", err
		}
		_, err = tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(id)}, newWitnessAlarmBody(row.Doc))
		return string(id), err
	})
	return err
}

// WitnessAlarms lists the alarms that stand, the newest first.
func (m *Mill) WitnessAlarms(ctx context.Context) ([]checklists.WitnessAlarm, error) {
	var rows []witnessAlarmRow
	err := m.gorm().WithContext(ctx).Order("id DESC").Find(&rows, "mill = ? AND closed = 0", m.id).Error
	all := make([]checklists.WitnessAlarm, len(rows))
	for i, row := range rows {
		all[i] = row.Doc
	}
	return all, err
}
