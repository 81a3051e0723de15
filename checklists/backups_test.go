package checklists_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
)

// A whole copy is made as often as was asked for, at once where there is none, and
// rather once too often than not where a clock was put back.
func TestWholeCopyIsMadeWhenItsTimeIsUp(t *testing.T) {
	place := checklists.BackupPlace{Base: 24}
	last := at("2026-03-02 12:00")
	for after, due := range map[time.Duration]bool{0: false, 24*time.Hour - 1: false, 24 * time.Hour: true, 240 * time.Hour: true, -time.Second: true} {
		require.Equal(t, due, place.BaseDue(last, last.Add(after)), after)
	}
	require.True(t, place.BaseDue(time.Time{}, last))
}

func TestBackupTellsWhatCameOfIt(t *testing.T) {
	good := at("2026-03-02 12:00")
	for said, state := range map[string]checklists.BackupState{
		"The last try failed: no such folder.":            {Good: good, Wrong: "no such folder", Over: true},
		"Not tried yet.":                                  {Over: true},
		"The last one is written, read back and checked.": {Good: good},
		"The last one is written, read back and checked. It alone is larger than the most that is to be kept there.": {Good: good, Over: true},
	} {
		require.Equal(t, said, state.Said().String())
	}
	for said, due := range map[string]checklists.BackupDue{
		"There is no good backup in a folder yet":                         {Place: checklists.BackupPlace{Kind: checklists.BackupFolder}},
		"There is no good backup in S3-compatible storage yet":            {Place: checklists.BackupPlace{Kind: checklists.BackupS3}},
		"The last good backup in a place of a kind not known here is of ": {Place: checklists.BackupPlace{Kind: "tape"}, State: checklists.BackupState{Good: good}},
	} {
		require.Contains(t, due.Warning().String(), said)
	}
}

func TestALogDoesNotTellWhereBackupsGo(t *testing.T) {
	folder := checklists.BackupPlace{Kind: checklists.BackupFolder, Place: "/home/marta/stick"}
	require.Equal(t, "the folder (its place): no such file or directory", folder.WithoutPlace("the folder /home/marta/stick: no such file or directory"))
	require.Equal(t, "open (its place)/a.zst: input/output error", folder.WithoutPlace("open /home/marta/stick/a.zst: input/output error"))

	storage := checklists.BackupPlace{Kind: checklists.BackupS3, Place: "https://s3.example.com:9000/mill-backups/a", User: "AKIAMILL"}
	for _, said := range []string{
		`Get "https://s3.example.com:9000/mill-backups/a/?location=": dial tcp: lookup s3.example.com: no such host`,
		`Put "https://mill-backups.s3.example.com:9000/a/x.zst": the key AKIAMILL may not write`,
	} {
		told := storage.WithoutPlace(said)
		for _, typed := range []string{"s3.example.com", "mill-backups", "AKIAMILL"} {
			require.NotContains(t, told, typed)
		}
	}
	require.Contains(t, storage.WithoutPlace("lookup s3.example.com: no such host"), "no such host", "what is wrong is still told")
	require.Equal(t, "sync /mnt: input/output error", checklists.BackupPlace{Kind: checklists.BackupFolder, Place: "/"}.WithoutPlace("sync /mnt: input/output error"))
}
