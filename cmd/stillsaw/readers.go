package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"

	"stillsaw/server"
	"stillsaw/server/store"
)

// addReader lets somebody read the page across mills. The password is only on this
// screen; what is kept is its digest.
func addReader(ctx context.Context, c call, db *store.Postgres, name string) error {
	password := readerPassword()
	digest, err := server.Hash(password)
	if err != nil {
		return err
	}
	if err := db.SetGroupReader(ctx, name, digest, c.now().UTC()); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "%s may read the page across mills, at the host that -group names. It shows numbers of every mill of %s and no names of people.\nPassword, shown this once: %s\nA password given before is worth nothing any more.\n", name, db.Address(), password)
	return nil
}

// readerPassword is 80 bits of chance, in letters that are told apart by eye.
func readerPassword() string {
	text := rand.Text()
	return text[:4] + "-" + text[4:8] + "-" + text[8:12] + "-" + text[12:16]
}

func removeReader(ctx context.Context, c call, db *store.Postgres, name string) error {
	err := db.RemoveGroupReader(ctx, name)
	if errors.Is(err, store.ErrNotFound) {
		return fmt.Errorf("nobody of the name %s may read the page across mills; stillsaw mills readers tells who may", name)
	}
	if err == nil {
		fmt.Fprintf(c.out, "%s may not read the page across mills any more, and is signed out everywhere.\n", name)
	}
	return err
}

func listReaders(ctx context.Context, c call, db *store.Postgres) error {
	all, err := db.GroupReaders(ctx)
	if err != nil {
		return err
	}
	for _, r := range all {
		fmt.Fprintf(c.out, "%s, password of %s\n", r.Name, r.Made.Format("2006-01-02 15:04 MST"))
	}
	fmt.Fprintf(c.out, "%d readers of the page across mills.\n", len(all))
	return nil
}
