package server

import (
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// backupSaid says what an entry about a place of backups reports.
func backupSaid(body any) (plain.Sentence, bool) {
	act, ok := body.(store.BackupAct)
	if !ok {
		return plain.Sentence{}, false
	}
	switch act.Act {
	case store.BackupSetUp:
		if act.Encrypted {
			return plain.Say("A place of backups was set up: %s, encrypted.", act.Kind.Words()), true
		}
		return plain.Say("A place of backups was set up: %s, not encrypted.", act.Kind.Words()), true
	case store.BackupOn:
		return plain.Say("The backups to %s were switched on again.", act.Kind.Words()), true
	case store.BackupOff:
		return plain.Say("The backups to %s were switched off.", act.Kind.Words()), true
	}
	return plain.Say("A place of backups was removed: %s.", act.Kind.Words()), true
}
