package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

type backupPlaceRow struct {
	Mill string                 `gorm:"primaryKey"`
	ID   string                 `gorm:"primaryKey"`
	Doc  checklists.BackupPlace `gorm:"serializer:json"`
}

func (backupPlaceRow) TableName() string { return "backup_places" }

type backupSecretRow struct {
	Mill   string `gorm:"primaryKey"`
	ID     string `gorm:"primaryKey"`
	At     int64
	Secret string
}

func (backupSecretRow) TableName() string { return "backup_secrets" }

type backupStateRow struct {
	Mill string                 `gorm:"primaryKey"`
	ID   string                 `gorm:"primaryKey"`
	Doc  checklists.BackupState `gorm:"serializer:json"`
}

func (backupStateRow) TableName() string { return "backup_states" }

// SetUpBackup sets a place of backups up, with the secret that goes with its
// access key. Its error is what [checklists.BackupPlace.SetUp] refuses.
func (m *Mill) SetUpBackup(ctx context.Context, submission string, p checklists.BackupPlace, secret string, by procedures.Person, at time.Time) (checklists.BackupID, error) {
	id, err := m.do(ctx, submission, "backup", at, func(tx *Tx, at time.Time) (string, error) {
		made, err := p.SetUp(checklists.BackupID(NewID()), by, at)
		if err != nil {
			return "", err
		}
		if err := tx.gorm().Create(&backupPlaceRow{Mill: string(m.id), ID: string(made.ID), Doc: made}).Error; err != nil {
			return "", err
		}
		if secret != "" {
			if err := tx.gorm().Create(&backupSecretRow{Mill: string(m.id), ID: string(made.ID), At: millis(at), Secret: secret}).Error; err != nil {
				return "", err
			}
		}
		return string(made.ID), tx.backupEntry(m, made, BackupSetUp, by, at)
	})
	return checklists.BackupID(id), err
}

func (tx *Tx) backupEntry(m *Mill, p checklists.BackupPlace, change BackupChange, by procedures.Person, at time.Time) error {
	_, err := tx.append(m.id, act{Actor: by.ID, At: at, Subject: string(p.ID)}, &backupBody{BackupAct: BackupAct{Place: p.ID, Kind: p.Kind, Encrypted: len(p.Recipients) > 0, Act: change}})
	return err
}

// SwitchBackup switches the backups to a place on or off.
func (m *Mill) SwitchBackup(ctx context.Context, submission string, id checklists.BackupID, on bool, by procedures.Person, at time.Time) error {
	change := BackupOff
	if on {
		change = BackupOn
	}
	return m.changeBackup(ctx, submission, id, change, by, at, func(tx *Tx, row backupPlaceRow) error {
		if row.Doc.On = on; on {
			row.Doc.At = at // a place switched on has its time again before it is old
		}
		return tx.gorm().Model(&backupPlaceRow{}).Where("mill = ? AND id = ?", m.id, id).Select("doc").Updates(&row).Error
	})
}

// RemoveBackup forgets a place of backups and its secret. What lies there stays.
func (m *Mill) RemoveBackup(ctx context.Context, submission string, id checklists.BackupID, by procedures.Person, at time.Time) error {
	return m.changeBackup(ctx, submission, id, BackupRemoved, by, at, func(tx *Tx, _ backupPlaceRow) error {
		return errors.Join(tx.gorm().Delete(&backupPlaceRow{}, "mill = ? AND id = ?", m.id, id).Error,
			tx.gorm().Delete(&backupSecretRow{}, "mill = ? AND id = ?", m.id, id).Error,
			tx.gorm().Delete(&backupStateRow{}, "mill = ? AND id = ?", m.id, id).Error)
	})
}

func (m *Mill) changeBackup(ctx context.Context, submission string, id checklists.BackupID, change BackupChange, by procedures.Person, at time.Time, do func(*Tx, backupPlaceRow) error) error {
	_, err := m.do(ctx, submission, "backup "+string(change), at, func(tx *Tx, at time.Time) (string, error) {
		if !by.Supervises() {
			return "", refuseRole()
		}
		row, err := one[backupPlaceRow](tx, "place of backups", "mill = ? AND id = ?", m.id, id)
		if err != nil {
			return "", err
		}
		if err := do(tx, row); err != nil {
			return "", err
		}
		return string(id), tx.backupEntry(m, row.Doc, change, by, at)
	})
	return err
}

// Backups lists the places of backups in the order they were set up, with what
// came of them.
func (m *Mill) Backups(ctx context.Context) ([]checklists.BackupDue, error) {
	return backups(ctxReader{m, ctx}, m.id)
}

func backups(r reader, mill checklists.MillID) ([]checklists.BackupDue, error) {
	var rows []backupPlaceRow
	if err := r.gorm().Order("id").Find(&rows, "mill = ?", mill).Error; err != nil {
		return nil, err
	}
	all := make([]checklists.BackupDue, len(rows))
	for i, row := range rows {
		all[i].Place = row.Doc
		state, err := one[backupStateRow](r, "state of backups", "mill = ? AND id = ?", mill, row.ID)
		if err != nil && !errors.Is(err, ErrNotFound) {
			return nil, err
		}
		all[i].State = state.Doc
	}
	return all, nil
}

// BackupSecret loads the secret that goes with a place's access key, "" for none.
func (m *Mill) BackupSecret(ctx context.Context, id checklists.BackupID) (string, error) {
	return backupSecret(ctxReader{m, ctx}, m.id, id)
}

func backupSecret(r reader, mill checklists.MillID, id checklists.BackupID) (string, error) {
	row, err := one[backupSecretRow](r, "secret of backups", "mill = ? AND id = ?", mill, id)
	if errors.Is(err, ErrNotFound) {
		return "", nil
	}
	return row.Secret, err
}

// KeepBackupState keeps what came of a try, unless the place was removed meanwhile.
func (m *Mill) KeepBackupState(ctx context.Context, id checklists.BackupID, s checklists.BackupState) error {
	return m.s.writer.do(ctx, func(tx *Tx) error {
		if _, err := one[backupPlaceRow](tx, "place of backups", "mill = ? AND id = ?", m.id, id); err != nil {
			if errors.Is(err, ErrNotFound) {
				return nil
			}
			return err
		}
		return tx.put(&backupStateRow{Mill: string(m.id), ID: string(id), Doc: s}, "doc")
	})
}

// backingUpFolder lies beside the database while a backup is made and checked.
const backingUpFolder = "backing-up"

// BackupScratch makes an empty folder beside the database in which a backup is made
// and restored to be checked; only this user may read it. Whoever asks for it
// removes it; what a program that ended at once left is removed at the next start.
func (s *Store) BackupScratch() (string, error) {
	dir := filepath.Join(filepath.Dir(s.path), backingUpFolder)
	if err := errors.Join(os.RemoveAll(dir), os.MkdirAll(dir, 0o700)); err != nil {
		return "", fmt.Errorf("the folder %s can't be made: %w", dir, Cause(err))
	}
	return dir, nil
}

// BackupsIn are the places of backups of the mill in the database in dir, which is
// only read, with the secret of each.
func BackupsIn(ctx context.Context, dir string) (mill checklists.MillID, all []checklists.BackupDue, secrets []string, err error) {
	_, err = readIn(ctx, dir, func(db *gorm.DB, _ Schema) error {
		tx := &Tx{db: db}
		row, err := one[millRow](tx, "mill", "TRUE")
		if err != nil {
			return err
		}
		mill = checklists.MillID(row.ID)
		if all, err = backups(tx, mill); err != nil {
			return err
		}
		for _, one := range all {
			secret, err := backupSecret(tx, mill, one.Place.ID)
			if err != nil {
				return err
			}
			secrets = append(secrets, secret)
		}
		return nil
	})
	return mill, all, secrets, err
}
