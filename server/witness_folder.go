package server

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"

	"golang.org/x/mod/sumdb/note"

	"stillsaw/checklists"
	"stillsaw/server/backup"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// checkpointName is how a checkpoint is called in a folder: its size in fifteen
// digits, so that the newest is the last by name.
var checkpointName = regexp.MustCompile(`^[0-9]{15}\.checkpoint\.txt$`)

// checkpointMost is more than any checkpoint of ours has bytes.
const checkpointMost = 64 << 10

// millFolder is the part of a witness's folder that is this mill's, so that one
// disk may serve several.
func millFolder(place string, mill checklists.MillID) string {
	return filepath.Join(place, "stillsaw-"+string(mill))
}

// toFolder puts the present checkpoint into a folder beside the ones there, once
// it is shown that the record goes on from the newest of them. Nothing in it is
// ever written over.
func (g giving) toFolder(ctx context.Context) error {
	dir := millFolder(g.to.Place, g.mill.ID)
	// The folder itself must be there: a disk that is not plugged in must not be
	// taken for an empty one.
	if info, err := os.Stat(g.to.Place); err != nil || !info.IsDir() {
		return g.answered(ctx, checklists.WitnessUnreached, errors.Join(store.Cause(err), notAFolder(info)))
	}
	if err := os.Mkdir(dir, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return g.answered(ctx, checklists.WitnessUnreached, store.Cause(err))
	}
	held, err := newestIn(dir)
	if err != nil {
		return g.answered(ctx, checklists.WitnessUnreached, store.Cause(err))
	}
	keys, err := g.desk.LogKeys(ctx)
	if err != nil {
		return err
	}
	var older record.Head
	if held != "" {
		if older, _, err = record.OpenCheckpoint(held, verifiers(keys)...); err != nil || older.Mill != string(g.mill.ID) {
			own, err := g.desk.Head(ctx)
			if err != nil {
				return err
			}
			return g.disagrees(ctx, checklists.AlarmUnsigned, record.Head{}, held, own)
		}
	}
	proof, now, err := g.desk.CheckpointSince(ctx, older.Size)
	switch {
	case errors.Is(err, store.ErrNoKey):
		return g.answered(ctx, checklists.WitnessNoKey, nil)
	case errors.Is(err, store.ErrNotFound):
		return g.disagrees(ctx, checklists.AlarmLonger, older, held, now.Head)
	case err != nil:
		return err
	}
	if held != "" {
		if record.CheckConsistency(older, now.Head, proof) != nil {
			return g.disagrees(ctx, checklists.AlarmForked, older, held, now.Head)
		}
	}
	if older.Size != now.Size || held == "" {
		if err := putBeside(dir, fmt.Sprintf("%015d.checkpoint.txt", now.Size), now.Text); err != nil {
			return g.answered(ctx, checklists.WitnessUnreached, store.Cause(err))
		}
	}
	for _, key := range now.Keys {
		verifier, err := note.NewVerifier(key.Verifier)
		if err != nil {
			return err
		}
		err = putBeside(dir, fmt.Sprintf("verifier-%08x.txt", verifier.KeyHash()), key.Verifier+"\n")
		if err != nil && !errors.Is(err, fs.ErrExist) {
			return g.answered(ctx, checklists.WitnessUnreached, store.Cause(err))
		}
	}
	if err := g.desk.KeepWitnessed(ctx, g.to.ID, now.Head, "", g.now); err != nil {
		return err
	}
	if had := g.to.Took.Size; older.Size < had {
		return g.desk.KeepWitnessAnswer(ctx, g.to.ID, checklists.WitnessTookAgain, strconv.FormatInt(had, 10), g.now)
	}
	return nil
}

func notAFolder(info os.FileInfo) error {
	if info != nil && !info.IsDir() {
		return errors.New("not a folder")
	}
	return nil
}

// verifiers are the keys a checkpoint may be signed with.
func verifiers(keys []store.LogKey) []note.Verifier {
	var known []note.Verifier
	for _, key := range keys {
		if verifier, err := note.NewVerifier(key.Verifier); err == nil {
			known = append(known, verifier)
		}
	}
	return known
}

// newestIn is the text of the checkpoint with the most entries in a folder, "" for
// none.
func newestIn(dir string) (string, error) {
	files, err := os.ReadDir(dir) // by name
	if err != nil {
		return "", err
	}
	for i := len(files) - 1; i >= 0; i-- {
		if checkpointName.MatchString(files[i].Name()) {
			file, err := os.Open(filepath.Join(dir, files[i].Name()))
			if err != nil {
				return "", err
			}
			text, err := io.ReadAll(io.LimitReader(file, checkpointMost))
			return string(text), errors.Join(err, file.Close())
		}
	}
	return "", nil
}

// putBeside writes a new file whole or not at all, and lasting over a power cut;
// one of that name that is there is an error of fs.ErrExist and stays as it is.
func putBeside(dir, name, text string) error {
	path := filepath.Join(dir, name)
	if _, err := os.Lstat(path); err == nil {
		return &fs.PathError{Op: "create", Path: path, Err: fs.ErrExist}
	}
	part, err := os.CreateTemp(dir, ".stillsaw-*")
	if err != nil {
		return err
	}
	defer os.Remove(part.Name())
	_, err = part.WriteString(text)
	if err := errors.Join(err, part.Chmod(0o644), part.Sync(), part.Close()); err != nil {
		return err
	}
	// A second name for a file is never made over another, as a rename would be.
	err = os.Link(part.Name(), path)
	if err != nil && !errors.Is(err, fs.ErrExist) {
		err = putSlowly(path, text) // the disk knows no second names, as many sticks don't
	}
	if err != nil {
		return err
	}
	return backup.SyncFolder(dir)
}

func putSlowly(path, text string) error {
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = file.WriteString(text)
	return errors.Join(err, file.Sync(), file.Close())
}

// tryFolder says what keeps a folder from being a witness's, "" for nothing, by
// writing to it.
func tryFolder(place string) error {
	info, err := os.Stat(place)
	if err != nil {
		return store.Cause(err)
	}
	if !info.IsDir() {
		return notAFolder(info)
	}
	probe, err := os.CreateTemp(place, ".stillsaw-*")
	if err != nil {
		return store.Cause(err)
	}
	return errors.Join(probe.Close(), os.Remove(probe.Name()))
}
