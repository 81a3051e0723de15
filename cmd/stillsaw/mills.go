package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"

	"stillsaw/checklists"
	"stillsaw/server"
	"stillsaw/server/store"
)

// databaseVariable of the environment names the database where -db doesn't: a password
// typed as an argument is seen by everybody on the computer.
const databaseVariable = "STILLSAW_DB"

// sharedFlags say in which database of a PostgreSQL server many mills lie.
type sharedFlags struct {
	db    string
	at    string
	most  int
	group string
}

func (f *sharedFlags) register(flags *flag.FlagSet, serving bool) {
	flags.StringVar(&f.db, "db", os.Getenv(databaseVariable), "database of a PostgreSQL server with many mills, as postgres://user@host/name, in place of the one mill in -data; "+databaseVariable+" in the environment says the same, and a password is best kept in ~/.pgpass")
	if serving {
		flags.StringVar(&f.at, "reached-at", "", "with -db: where other Stillsaws on the same database reach this one, as HOST:PORT; by default where it answers")
		flags.StringVar(&f.group, "group", "", "with -db: host of a page across all mills, for readers whom stillsaw mills reader makes")
		flags.IntVar(&f.most, "mills-most", 500, "with -db: how many mills this process takes without being asked for")
	}
}

// serveMills answers for the mills of a database until ctx ends.
func serveMills(ctx context.Context, c call) (err error) {
	db, err := store.OpenPostgres(ctx, c.shared.db, store.PostgresOptions{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	log, closer := c.watch.log(c.out)
	defer func() { err = errors.Join(err, closer.Close()) }()
	listener, err := listenOn(ctx, c.addr, "-addr")
	if err != nil {
		return err
	}
	at := c.shared.at
	if at == "" {
		at = reachedAt(listener.Addr())
	}
	if c.shared.group != "" {
		_, err := db.TenantAt(ctx, c.shared.group)
		if err == nil { // the people of a mill come before those who look on
			fmt.Fprintf(c.out, "There is no page across mills: a mill has the name %s. Rename it, or give -group another.\n", store.Host(c.shared.group))
			log.Warn("no page across mills: a mill has its name", "group", c.shared.group)
			c.shared.group = ""
		} else if !errors.Is(err, store.ErrNotFound) {
			return errors.Join(err, listener.Close())
		}
	}
	m, err := server.NewMills(server.MillsConfig{DB: db, Data: c.data, Now: c.now, Log: log, Address: at, Group: c.shared.group,
		Public: c.https.public(), Proxies: c.https.trusted, Most: c.shared.most})
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	mills, err := db.Tenants(ctx)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	fmt.Fprintf(c.out, "Stillsaw answers for %d mills of %s on %s, each under its own name; stillsaw mills list tells them.\n", len(mills), db.Address(), listener.Addr())
	if c.shared.group != "" {
		fmt.Fprintf(c.out, "The page across them answers at %s; stillsaw mills reader NAME lets somebody read it.\n", store.Host(c.shared.group))
	}
	fmt.Fprintf(c.out, "Keys and files under way are in %s.\n", c.data)
	log.Info("started", "version", server.Version(), "engine", store.PostgresEngine)
	served := make(chan error, 1)
	go func() { served <- m.Serve(listener) }()
	var ended error
	select {
	case ended = <-served:
		ended = errors.Join(ended, m.Stop())
	case <-ctx.Done():
		fmt.Fprintln(c.out, "Stopping: finishing what is under way.")
		ended = m.Stop()
		ended = errors.Join(ended, <-served)
	}
	log.Info("stopped")
	if ended == nil {
		fmt.Fprintln(c.out, "Stopped.")
	}
	return ended
}

// reachedAt is where a process on the same computer reaches what answers at bound.
func reachedAt(bound net.Addr) string {
	host, port, err := net.SplitHostPort(bound.String())
	if err != nil {
		return bound.String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return net.JoinHostPort(host, port)
}

const millsUsage = `The mills of a database of a PostgreSQL server, which -db or STILLSAW_DB names:

  stillsaw mills list                        every mill, its name, and the set-up code of one that waits for it
  stillsaw mills add HOST                    make room for a mill that is set up at https://HOST/ then, with the code this prints
  stillsaw mills verify HOST                 recompute its record and hold every table against it; status 0 clean, 1 not
  stillsaw mills move-in DIR HOST            copy the mill of the data folder DIR into the database; nobody may have DIR open
  stillsaw mills move-out HOST DIR           copy a mill into a new data folder
  stillsaw mills rename HOST NEW             have a mill reached at https://NEW/ instead
  stillsaw mills remove HOST ROOT            take a mill out of the database with all it has there; ROOT is its record's, as
                                             move-out and verify tell it, or none where nothing was set up
  stillsaw mills reader NAME                 let somebody read the page across mills of -group, or give them a new password
  stillsaw mills reader -remove NAME         take that leave away again
  stillsaw mills readers                     who has it

  -data DIR is the folder the servers of the database are started with, in which they keep
  the keys records are signed with; move-in and move-out copy a mill's from and to there.

`

// millsOf is the command mills.
func millsOf(ctx context.Context, c call) (err error) {
	if c.shared.db == "" {
		return errCant{errors.New("mills needs -db, or " + databaseVariable + " in the environment")}
	}
	wants := map[string]int{"list": 1, "add": 2, "verify": 2, "move-in": 3, "move-out": 3, "rename": 3, "remove": 3, "reader": 2, "readers": 1}
	removes := len(c.args) == 3 && c.args[0] == "reader" && c.args[1] == "-remove"
	if len(c.args) == 0 || wants[c.args[0]] != len(c.args) && !removes || c.args[0] == "reader" && !removes && strings.HasPrefix(c.args[1], "-") {
		fmt.Fprint(c.out, millsUsage)
		return errCant{errors.New("mills takes list, add HOST, verify HOST, move-in DIR HOST, move-out HOST DIR, rename HOST NEW, remove HOST ROOT, reader NAME, reader -remove NAME or readers")}
	}
	db, err := store.OpenPostgres(ctx, c.shared.db, store.PostgresOptions{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	switch c.args[0] {
	case "add":
		return addMill(ctx, c, db, c.args[1])
	case "verify":
		return withMill(ctx, c, db, c.args[1], func(st *store.Store) error { return verifyMillIn(ctx, c, st) })
	case "move-in":
		return moveIn(ctx, c, db, c.args[1], c.args[2])
	case "rename":
		return renameMill(ctx, c, db, c.args[1], c.args[2])
	case "remove":
		return removeMill(ctx, c, db, c.args[1], c.args[2])
	case "reader":
		if removes {
			return removeReader(ctx, c, db, c.args[2])
		}
		return addReader(ctx, c, db, c.args[1])
	case "readers":
		return listReaders(ctx, c, db)
	case "move-out":
		return withMill(ctx, c, db, c.args[1], func(st *store.Store) error { return moveOut(ctx, c, st, c.args[2]) })
	}
	all, err := db.Tenants(ctx)
	if err != nil {
		return err
	}
	for _, t := range all {
		waits := ""
		if t.Code != "" {
			waits = "  waits to be set up at /set-up, code " + t.Code
		}
		fmt.Fprintf(c.out, "%s  %s%s\n", t.Mill, t.Host, waits)
	}
	fmt.Fprintf(c.out, "%d mills.\n", len(all))
	return nil
}

func addMill(ctx context.Context, c call, db *store.Postgres, host string) error {
	t := store.Tenant{Mill: checklists.MillID(store.NewID()), Host: host, Made: c.now().UTC(), Code: setUpCode()}
	if err := db.AddTenant(ctx, t); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "There is room for a mill at %s now. It is set up at /set-up there.\nSet-up code, for the first supervisor: %s\n", store.Host(host), t.Code)
	return nil
}

func renameMill(ctx context.Context, c call, db *store.Postgres, host, to string) error {
	tenant, err := tenantAt(ctx, db, host)
	if err != nil {
		return err
	}
	if store.Host(to) == tenant.Host {
		return fmt.Errorf("the mill is reached under %s already; nothing was changed", tenant.Host)
	}
	if err := db.RenameTenant(ctx, tenant.Mill, to); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "The mill of %s is reached under %s now. Its people sign in anew there; cards, codes and calendars printed or taken before have the earlier name. A server that has the mill shows pages under the earlier name for some seconds yet, and writes nothing there any more: give the earlier name to another mill only after them.\n",
		tenant.Host, store.Host(to))
	return nil
}

func removeMill(ctx context.Context, c call, db *store.Postgres, host, said string) error {
	tenant, err := tenantAt(ctx, db, host)
	if err != nil {
		return err
	}
	root, err := store.RootOf(said)
	if err != nil {
		return fmt.Errorf("%w; stillsaw mills move-out tells it", err)
	}
	if err := db.Remove(ctx, tenant.Mill, root); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "The mill of %s is no longer in the database; backups made of the database before have its rows still. A server that has it shows its pages for some seconds yet, and writes nothing there any more. The keys its record was signed with stay in %s; stillsaw mills move-out copies them from there beside the record it writes.\n",
		tenant.Host, server.MillFolder(c.data, tenant.Mill))
	return nil
}

func tenantAt(ctx context.Context, db *store.Postgres, host string) (store.Tenant, error) {
	tenant, err := db.TenantAt(ctx, host)
	if errors.Is(err, store.ErrNotFound) {
		err = fmt.Errorf("the database has no mill of the name %s; stillsaw mills list tells them", host)
	}
	return tenant, err
}

// withMill opens a mill to read it, whoever holds it.
func withMill(ctx context.Context, c call, db *store.Postgres, host string, work func(*store.Store) error) (err error) {
	tenant, err := tenantAt(ctx, db, host)
	if err != nil {
		return err
	}
	// A folder of this process alone: what a server has under way in the mill's own stays.
	dir, err := os.MkdirTemp("", "stillsaw-mill-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	st, err := db.Open(ctx, dir, tenant.Mill, nil)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	return work(st)
}

func verifyMillIn(ctx context.Context, c call, st *store.Store) error {
	reports, built, err := st.Rebuild(ctx, store.Rebuilding{})
	if err != nil {
		return err
	}
	clean := printReports(c.out, reports)
	printRebuilt(c.out, built)
	if !clean || len(reports) != 1 || !built.OK() {
		fmt.Fprintln(c.out, "NOT CLEAN: what is named was changed or removed outside Stillsaw, or nothing is set up here.")
		return errNotClean
	}
	fmt.Fprintln(c.out, "Clean: every entry is the one that was written, in its place, and every table follows from them.")
	return nil
}

func moveIn(ctx context.Context, c call, db *store.Postgres, dir, host string) (err error) {
	held, err := store.HoldFolder(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, held.Release()) }()
	keys := 0
	moved, err := db.MoveIn(ctx, dir, host, func(moved store.Moved) (err error) {
		to := server.MillFolder(c.data, moved.Mill)
		if keys, err = copyKeys(dir, to); err != nil {
			err = fmt.Errorf("the keys its record is signed with could not be copied to %s, and nothing was kept of the mill: %w", to, err)
		}
		return err
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "Mill %s: %d entries, root %s, the same in %s as in %s.\nIts people reach it under %s now. Keep %s as it is until you are sure, and start no server on it: entries made there would be of another record.\n",
		moved.Mill, moved.Entries, moved.Root, db.Address(), dir, store.Host(host), dir)
	if keys == 0 {
		fmt.Fprintf(c.out, "No key came with it: %s has none. The server that opens it makes one, and the record says so.\n", filepath.Join(dir, store.KeysFolderName))
	} else {
		fmt.Fprintf(c.out, "The keys its record is signed with are in %s as well. There the servers of the database look for them, if they are started with -data %s.\n", server.MillFolder(c.data, moved.Mill), c.data)
	}
	return nil
}

func moveOut(ctx context.Context, c call, st *store.Store, dir string) error {
	from := server.MillFolder(c.data, st.Mill())
	named, err := st.Of(st.Mill()).LogKeys(ctx)
	if err != nil {
		return err
	}
	there, err := keysIn(from)
	if err != nil {
		return err
	}
	if len(named) > 0 && len(there) == 0 {
		return fmt.Errorf("the record is signed, and its key is not in %s; give the folder the servers of the database are started with as -data", from)
	}
	moved, err := st.MoveOut(ctx, dir)
	if err != nil {
		return err
	}
	if _, err := copyKeys(from, dir); err != nil {
		return fmt.Errorf("the mill is in %s, and its keys could not be copied there: %w; copy the folder keys there by hand before a server opens it", dir, err)
	}
	fmt.Fprintf(c.out, "Mill %s: %d entries, root %s, the same in %s as in the database. It stays there, too: what is entered from now on is entered in one of them only if you stop using the other.\n",
		moved.Mill, moved.Entries, moved.Root, dir)
	return nil
}

// copyKeys copies the keys a record is signed with, which are files for one user alone,
// and tells how many there are. What lies there under the same name and is another is
// kept beside it.
func copyKeys(from, to string) (count int, err error) {
	keys, into := filepath.Join(from, store.KeysFolderName), filepath.Join(to, store.KeysFolderName)
	files, err := keysIn(from)
	if len(files) == 0 || err != nil {
		return 0, err
	}
	if err := os.MkdirAll(into, 0o700); err != nil {
		return 0, err
	}
	for _, file := range files {
		key, err := os.ReadFile(filepath.Join(keys, file.Name()))
		if err != nil {
			return count, err
		}
		if err := putKey(filepath.Join(into, file.Name()), key); err != nil {
			return count, err
		}
		count++
	}
	return count, nil
}

// keysIn are the keys in a mill's folder, none where nothing was signed yet.
func keysIn(folder string) ([]os.DirEntry, error) {
	files, err := os.ReadDir(filepath.Join(folder, store.KeysFolderName))
	if errors.Is(err, os.ErrNotExist) {
		err = nil
	}
	return files, err
}

func putKey(path string, key []byte) error {
	there, err := os.ReadFile(path)
	switch {
	case err == nil && bytes.Equal(there, key):
		return nil
	case err == nil:
		if err := os.Rename(path, fmt.Sprintf("%s.%x", path, sha256.Sum256(there))); err != nil {
			return err
		}
	case !errors.Is(err, os.ErrNotExist):
		return err
	}
	return os.WriteFile(path, key, 0o600)
}
