package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"filippo.io/age"

	"stillsaw/checklists"
	"stillsaw/server/backup"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// restoreFlags are those of restore.
type restoreFlags struct {
	to, at, identity, lose string
	list                   bool
}

func (r *restoreFlags) register(flags *flag.FlagSet) {
	flags.StringVar(&r.to, "to", "", "folder of the database to put it back to; otherwise that of -data")
	flags.StringVar(&r.at, "at", "", "the state of this time, as 2026-11-26T14:35 on this computer's clock or with an offset; otherwise the newest")
	flags.StringVar(&r.identity, "identity", "", "file with the private key of age, for encrypted backups")
	flags.StringVar(&r.lose, "lose", "", "what gets lost, in the words restore asks for")
	flags.BoolVar(&r.list, "list", false, "only list what there is")
}

// time reads -at, zero where it was not given. A second is meant to its end: -list
// tells when a backup was made to the second.
func (r restoreFlags) time() (time.Time, error) {
	if r.at == "" {
		return time.Time{}, nil
	}
	for _, form := range []string{time.RFC3339, "2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if at, err := time.ParseInLocation(form, r.at, time.Local); err == nil {
			if strings.Contains(form, ":05") && at.Nanosecond() == 0 {
				at = at.Add(time.Second - time.Nanosecond)
			}
			return at, nil
		}
	}
	return time.Time{}, fmt.Errorf("-at %q is no time; write it as 2026-11-26T14:35", r.at)
}

// restore puts a backup back: into a new folder beside, verified there, then in the
// place of the database, which is set aside and not removed.
func restore(ctx context.Context, c call) (err error) {
	r := c.restore
	if r.to == "" {
		r.to = c.data
	}
	at, err := r.time()
	if err != nil {
		return errCant{err}
	}
	var identities []age.Identity
	if r.identity != "" {
		if identities, err = backup.Identities(r.identity); err != nil {
			return errCant{err}
		}
	}
	from, err := c.found(ctx, c.args[0], at)
	if err != nil || r.list {
		return err
	}
	held, err := store.HoldFolder(r.to) // no server begins meanwhile
	switch {
	case errors.Is(err, store.ErrHeld):
		return fmt.Errorf("nothing was put back: stop Stillsaw first: %w", err)
	case err != nil:
		return fmt.Errorf("nothing was put back: %w", err)
	}
	defer func() { err = errors.Join(err, held.Release()) }()
	if err := unused(ctx, r.to); err != nil {
		return err
	}
	made := filepath.Join(r.to, "restoring-"+c.now().UTC().Format("20060102T150405.000"))
	fmt.Fprintf(c.out, "Putting back the state of %s into %s and verifying it.\n", from.said(), made)
	if err := from.into(ctx, identities, made); err != nil {
		return fmt.Errorf("nothing was put back: %w", err)
	}
	if err := c.mayReplace(ctx, r, made); err != nil {
		return errors.Join(err, os.RemoveAll(made))
	}
	if err := unused(ctx, r.to); err != nil { // somebody may have started it meanwhile
		return errors.Join(err, os.RemoveAll(made))
	}
	aside, err := swap(r.to, made, c.now())
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "Done: the database in %s is the one of %s. Every entry is as it was written, and every table is what the entries give.\n", r.to, from.said())
	if aside != "" {
		fmt.Fprintf(c.out, "The one that was there is in %s. Remove it when you are sure.\n", aside)
	}
	fmt.Fprintln(c.out, "Everybody signs in anew. PINs, tokens and drafts are those of then: who got a new PIN or lost a token since has the old one again. Mail that waited then goes out, again if it went since.")
	return nil
}

func unused(ctx context.Context, dir string) error {
	if err := store.Unused(ctx, filepath.Join(dir, store.FileName)); err != nil {
		return fmt.Errorf("nothing was put back: stop Stillsaw first, %s is in use: %w", filepath.Join(dir, store.FileName), err)
	}
	return nil
}

// source is a backup that was found.
type source struct {
	file  string // a plain copy
	place backup.Place
	chain []backup.Note
}

func (s source) said() string {
	if s.file != "" {
		return s.file
	}
	last := s.chain[len(s.chain)-1]
	return fmt.Sprintf("%s (%d entries)", last.Made.Local().Format("2006-01-02 15:04:05 MST"), last.Entries())
}

func (s source) into(ctx context.Context, identities []age.Identity, dir string) error {
	if s.file != "" {
		return backup.RestoreFile(ctx, s.file, dir)
	}
	return backup.Restore(ctx, s.place, s.chain, identities, dir)
}

// found finds the backup of a time in what was named: a file, a folder, or an
// address of S3.
func (c call) found(ctx context.Context, name string, at time.Time) (source, error) {
	info, err := os.Stat(name)
	if err == nil && !info.IsDir() {
		if !at.IsZero() {
			return source{}, errCant{errors.New("a single file is of one time; -at goes with a folder of backups")}
		}
		if c.restore.list {
			fmt.Fprintf(c.out, "%s  single copy, %d KB\n", info.ModTime().Format("2006-01-02 15:04:05"), (info.Size()+1023)/1024)
		}
		return source{file: name}, nil
	}
	places, err := placesIn(ctx, name)
	if err != nil {
		return source{}, err
	}
	var all backup.Listed
	var place backup.Place
	for _, one := range places {
		listed, err := backup.List(ctx, one)
		if err != nil {
			return source{}, err
		}
		for _, wrong := range listed.Wrong {
			fmt.Fprintf(c.out, "Not used: %s\n", wrong)
		}
		if len(listed.Notes) > 0 && place != nil {
			return source{}, fmt.Errorf("%s has the backups of several mills; name the folder of one", name)
		}
		if len(listed.Notes) > 0 {
			all, place = listed, one
		}
	}
	if place == nil {
		return source{}, fmt.Errorf("there is no backup in %s", name)
	}
	if c.restore.list {
		for _, n := range all.Notes {
			sealed := ""
			if n.Encrypted {
				sealed = ", encrypted"
			}
			fmt.Fprintf(c.out, "%s  %-9s  %d entries, %d KB%s\n", n.Made.Local().Format("2006-01-02 15:04:05"), n.Kind, n.Entries(), (n.Bytes+1023)/1024, sealed)
		}
	}
	chain, err := backup.Chain(all.Notes, at)
	if err != nil {
		return source{}, fmt.Errorf("in %s: %w; -list shows what there is", name, err)
	}
	return source{place: place, chain: chain}, nil
}

// placesIn are the places of backups that a name may stand for.
func placesIn(ctx context.Context, name string) ([]backup.Place, error) {
	if strings.HasPrefix(name, "http://") || strings.HasPrefix(name, "https://") {
		user, secret := os.Getenv("STILLSAW_S3_KEY"), os.Getenv("STILLSAW_S3_SECRET")
		if user == "" {
			return nil, errCant{errors.New("set STILLSAW_S3_KEY and STILLSAW_S3_SECRET to the access key of the storage and its secret")}
		}
		return backup.PlacesInS3(ctx, name, os.Getenv("STILLSAW_S3_REGION"), user, secret)
	}
	return backup.PlacesIn(name)
}

// mayReplace refuses to put what was made over a database that has more, unless it
// is said what gets lost.
func (c call) mayReplace(ctx context.Context, r restoreFlags, made string) error {
	if _, err := os.Stat(filepath.Join(r.to, store.FileName)); errors.Is(err, os.ErrNotExist) {
		return nil
	}
	now, _, err := store.HeadsIn(ctx, r.to)
	if err != nil {
		return c.asksToLose("unreadable", fmt.Sprintf("The database in %s can't be read (%s), so nobody can say whether it is newer.", r.to, err))
	}
	then, _, err := store.HeadsIn(ctx, made)
	if err != nil {
		return err
	}
	lost := int64(0)
	for mill, head := range now {
		other, known := then[mill]
		switch {
		case !known:
			return c.asksToLose("another-mill", fmt.Sprintf("The database in %s is of another mill (%s, %d entries).", r.to, mill, head.Size))
		case other == head:
			continue
		}
		goesOn, err := goesOn(ctx, r.to, made, mill, head, other)
		if err != nil {
			return err
		}
		if !goesOn {
			return c.asksToLose("another-record", fmt.Sprintf("The record in %s (%d entries) and the backup's (%d entries) are not one: they parted, and what one has after that the other has not.", r.to, head.Size, other.Size))
		}
		lost += max(0, head.Size-other.Size)
	}
	if lost == 0 {
		return nil
	}
	return c.asksToLose(strconv.FormatInt(lost, 10), fmt.Sprintf("The record in %s is newer: it has %d entries that the backup has not, and they would be lost.", r.to, lost))
}

// goesOn tells whether the longer of two records goes on from the shorter.
func goesOn(ctx context.Context, nowDir, thenDir string, mill checklists.MillID, now, then record.Head) (bool, error) {
	if now.Size >= then.Size {
		return store.GoesOnIn(ctx, nowDir, then)
	}
	return store.GoesOnIn(ctx, thenDir, now)
}

// asksToLose refuses unless -lose says what.
func (c call) asksToLose(what, why string) error {
	if c.restore.lose == what {
		return nil
	}
	return fmt.Errorf("nothing was put back. %s To do it all the same, add -lose %s", why, what)
}

// swap puts the restored database in place of the one in dir, which is set aside.
// Cut off at any point it leaves the one or the other there.
func swap(dir, made string, now time.Time) (aside string, err error) {
	path := filepath.Join(dir, store.FileName)
	if _, err := os.Stat(path); err == nil {
		aside = filepath.Join(dir, "before-restore-"+now.UTC().Format("20060102T150405.000"))
		if err := os.Mkdir(aside, 0o700); err != nil {
			return "", err
		}
		// Whoever looked whether it is in use has folded its log in; one that is there
		// still belongs to a file that can't be read, and must not meet another.
		for _, suffix := range []string{"-wal", "-shm"} {
			err := os.Rename(path+suffix, filepath.Join(aside, store.FileName+suffix))
			if err != nil && !errors.Is(err, os.ErrNotExist) {
				return "", fmt.Errorf("the database could not be set aside; what was restored is in %s: %w", made, err)
			}
		}
		kept := filepath.Join(aside, store.FileName)
		if os.Link(path, kept) != nil { // not every disk knows second names
			if err := os.Rename(path, kept); err != nil {
				return "", fmt.Errorf("the database could not be set aside; what was restored is in %s: %w", made, err)
			}
		}
	}
	if err := os.Rename(filepath.Join(made, store.FileName), path); err != nil {
		return "", fmt.Errorf("what was restored could not be put in place, and is in %s: %w", made, err)
	}
	if folder, err := os.Open(dir); err == nil { // makes the names last, where the system can do that
		_ = folder.Sync()
		_ = folder.Close()
	}
	return aside, os.RemoveAll(made)
}
