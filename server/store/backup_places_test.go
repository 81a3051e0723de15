package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures/plain"
)

// aFolderOfBackups is a place as a supervisor sets it up.
func aFolderOfBackups(place string) checklists.BackupPlace {
	p := checklists.NewBackupPlace()
	p.Place = place
	return p
}

// backedUp sets a place of backups up, with all that is kept of one.
func backedUp(t testing.TB, m *Mill, at time.Time) checklists.BackupID {
	t.Helper()
	p := aFolderOfBackups("https://s3.example.com/mill of Jo")
	p.Kind, p.User = checklists.BackupS3, "key of Jo"
	id, err := m.SetUpBackup(t.Context(), NewID(), p, "secret of Jo", sam, at)
	require.NoError(t, err)
	require.NoError(t, m.KeepBackupState(t.Context(), id, checklists.BackupState{Wrong: "no room", Tried: at}))
	return id
}

func TestPlaceOfBackupsIsSetUpSwitchedAndRemovedOnTheRecord(t *testing.T) {
	m := newMill(t)
	ctx, at := t.Context(), six
	_, err := m.SetUpBackup(ctx, NewID(), aFolderOfBackups("/mnt/stick"), "", ada, at)
	var refusal *plain.Refusal
	require.ErrorAs(t, err, &refusal)
	_, err = m.SetUpBackup(ctx, NewID(), aFolderOfBackups("stick"), "", sam, at)
	require.ErrorContains(t, err, "whole path")
	id := backedUp(t, m, at)
	secret, err := m.BackupSecret(ctx, id)
	require.NoError(t, err)
	require.Equal(t, "secret of Jo", secret)
	all, err := m.Backups(ctx)
	require.NoError(t, err)
	require.Len(t, all, 1)
	require.Equal(t, "no room", all[0].State.Wrong)
	require.Error(t, m.SwitchBackup(ctx, NewID(), id, false, ada, at))
	require.NoError(t, m.SwitchBackup(ctx, NewID(), id, false, sam, at))
	require.NoError(t, m.SwitchBackup(ctx, NewID(), id, true, sam, at.Add(time.Hour)))
	all, err = m.Backups(ctx)
	require.NoError(t, err)
	require.True(t, all[0].Place.On)
	require.NoError(t, m.RemoveBackup(ctx, NewID(), id, sam, at.Add(time.Hour)))
	require.NoError(t, m.KeepBackupState(ctx, id, checklists.BackupState{Wrong: "late"}))
	all, err = m.Backups(ctx)
	require.NoError(t, err)
	require.Empty(t, all)
	secret, err = m.BackupSecret(ctx, id)
	require.NoError(t, err)
	require.Empty(t, secret)
	var rows []entryRow
	require.NoError(t, m.gorm().Order("seq").Find(&rows, "kind = ?", KindBackup).Error)
	require.Len(t, rows, 4)
	for _, row := range rows {
		require.NotContains(t, string(row.Leaf), "s3.example.com")
		require.NotContains(t, string(row.Leaf), "of Jo")
	}
}
