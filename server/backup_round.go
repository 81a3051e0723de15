package server

import (
	"context"
	"errors"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/server/backup"
	"stillsaw/server/store"
)

// backupEvery is how often it is looked whether a backup is due.
const backupEvery = time.Minute

// backupLasts is when a backup that does not get on is given up, as on a line that
// hangs: the next try begins anew.
const backupLasts = 6 * time.Hour

// backUpUntilStopped makes the backups that are due, again and again, until the
// server stops.
func (s *Server) backUpUntilStopped() {
	s.untilStopped(backupEvery, "backups", s.backupRound)
}

// backupRound makes the backups that are due. What a place can't take is no error
// of the round: it is kept with the place.
func (s *Server) backupRound(ctx context.Context) error {
	mill, err := s.store.TheMill(ctx)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	desk := s.store.Of(mill.ID)
	all, err := desk.Backups(ctx)
	if err != nil {
		return err
	}
	for _, due := range all {
		if due.Place.Due(due.State, s.now().UTC()) {
			if _, err := s.backUp(ctx, mill, due, false); err != nil {
				return err
			}
		}
	}
	return nil
}

// backUp makes a backup to one place and keeps what came of it. whole is for a
// whole copy although a small one would do.
func (s *Server) backUp(ctx context.Context, mill checklists.Mill, due checklists.BackupDue, whole bool) (checklists.BackupState, error) {
	s.backingUp.Lock()
	defer s.backingUp.Unlock()
	desk, now := s.store.Of(mill.ID), s.now().UTC()
	state := due.State
	state.Tried = now
	making, cancel := context.WithTimeout(ctx, backupLasts)
	made, err := s.makeBackup(making, mill, due.Place, now, whole)
	cancel()
	if ctx.Err() != nil {
		return state, ctx.Err() // the server stops: nothing is said of the place
	}
	if made.Note.Name != "" { // it counts, whatever came after
		state.Good, state.Checked, state.Entries, state.Bytes = made.Note.Made, now, made.Note.Entries(), made.Note.Bytes
		state.All, state.Copies, state.Over = made.All, made.Copies, made.Over
	}
	state.Wrong = ""
	if err != nil {
		state.Wrong = oneLine(err)
		s.log.Error("no backup was made", "place", string(due.Place.ID), "error", due.Place.WithoutPlace(state.Wrong))
	} else if made.Note.Faults > 0 {
		state.Wrong = "the record has faults, which the page Verify names; the backup was made with them"
	}
	return state, desk.KeepBackupState(ctx, due.Place.ID, state)
}

func (s *Server) makeBackup(ctx context.Context, mill checklists.Mill, p checklists.BackupPlace, now time.Time, whole bool) (backup.Made, error) {
	secret, err := s.store.Of(mill.ID).BackupSecret(ctx, p.ID)
	if err != nil {
		return backup.Made{}, err
	}
	at, err := backup.PlaceOf(p, mill.ID, secret)
	if err != nil {
		return backup.Made{}, err
	}
	zone, err := mill.LocationAt(now)
	if err != nil {
		return backup.Made{}, err
	}
	if s.makers[p.ID] == nil {
		s.makers[p.ID] = &backup.Maker{}
	}
	return s.makers[p.ID].Make(ctx, s.store, backup.Asked{Place: p, At: at, Now: now, Zone: zone, Whole: whole})
}

// oneLine is what went wrong as a page and the log show it.
func oneLine(err error) string { return strings.ReplaceAll(err.Error(), "\n", "; ") }
