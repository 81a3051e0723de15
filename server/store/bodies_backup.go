package store

import "stillsaw/checklists"

// KindBackup is the kind of entries about places of backups, as it stands in the
// record for good.
const KindBackup = "backup-place"

// BackupChange is what was done with a place of backups.
type BackupChange string

const (
	BackupSetUp   BackupChange = "set-up"
	BackupOn      BackupChange = "on"
	BackupOff     BackupChange = "off"
	BackupRemoved BackupChange = "removed"
)

// BackupAct is the entry that a place of backups was set up, switched or removed.
// Where it is, and who can read what lies there, it does not say.
type BackupAct struct {
	Place     checklists.BackupID   `json:"place"`
	Kind      checklists.BackupKind `json:"kind"`
	Encrypted bool                  `json:"encrypted"`
	Act       BackupChange          `json:"act"`
}

type backupBody struct {
	everywhere
	BackupAct
}

func (*backupBody) kind() (string, int)      { return KindBackup, 1 }
func (*backupBody) project(*Tx, entry) error { return nil }
