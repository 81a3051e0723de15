package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"path/filepath"

	"stillsaw/server"
	"stillsaw/server/store"
)

// serve runs the mill's server, or that of many mills of one database, until ctx ends.
func serve(ctx context.Context, c call) (err error) {
	if c.shared.db != "" {
		return serveMills(ctx, c)
	}
	defer func() {
		if store.TroubleOf(err) == store.Damaged {
			err = fmt.Errorf("%w: the database %s is damaged; leave it as it is and put a backup back, stillsaw restore -h tells how", err, filepath.Join(c.data, store.FileName))
		}
	}()
	held, err := store.HoldFolder(c.data) // before anything in it is touched
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, held.Release()) }()
	st, err := store.Open(ctx, c.data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	fmt.Fprintf(c.out, "Stillsaw keeps its data in %s (%s).\n", st.Path(), store.Engine)
	if up := st.Upgraded(); up.Copy != "" {
		fmt.Fprintf(c.out, "An earlier Stillsaw left it (step %d of the upgrades); it was upgraded to step %d. As it was, it is in %s. To go back, stop Stillsaw and put that file back with the earlier one. The copies of the last two upgrades are kept; when you are sure of this version you may remove them.\n", up.From, up.To, up.Copy)
	}
	code := ""
	if _, err := st.TheMill(ctx); errors.Is(err, store.ErrNotFound) {
		code = setUpCode()
	} else if err != nil {
		return err
	}
	if err := holdKey(ctx, c, st); err != nil {
		fmt.Fprintf(c.out, "The record can't be signed: %s. Everything else goes on; the page Verify says more.\n", err)
	}
	return answer(ctx, c, st, code)
}

// holdKey makes sure that there is a key to sign the record with, and says when
// others may read it. A mill can work without one.
func holdKey(ctx context.Context, c call, st *store.Store) error {
	if err := st.EnsureKeys(ctx, c.now().UTC()); err != nil {
		return err
	}
	mill, err := st.TheMill(ctx)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err == nil && st.Of(mill.ID).KeyExposed() {
		fmt.Fprintf(c.out, "Others on this computer may read the key that signs the record. Let only this user read the folder %s, then replace the key on the page Verify.\n", st.KeysFolder())
	}
	return err
}

// answer serves st at c.addr, and encrypted where that is on, until ctx ends, then
// stops in order: no more requests, streams ended, requests under way finished.
func answer(ctx context.Context, c call, st *store.Store, code string) (err error) {
	log, closer := c.watch.log(c.out)
	defer func() { err = errors.Join(err, closer.Close()) }()
	listener, err := listenOn(ctx, c.addr, "-addr")
	if err != nil {
		return err
	}
	keeper, encrypted, err := c.encrypted(ctx, st.KeysFolder(), log)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	s, err := server.New(server.Config{Store: st, Now: c.now, Log: log, SetUpCode: code, Secure: keeper, Public: c.https.public(), Proxies: c.https.trusted})
	if err != nil {
		err = errors.Join(err, listener.Close())
		if encrypted != nil {
			err = errors.Join(err, encrypted.Close())
		}
		return err
	}
	stopWatching, err := c.watch.watched(ctx, c.out, s.Watch())
	if err != nil {
		err = errors.Join(err, listener.Close())
		if encrypted != nil {
			err = errors.Join(err, encrypted.Close())
		}
		return err
	}
	c.announce(listener.Addr(), keeper, encrypted, code)
	log.Info("started", "version", server.Version(), "engine", store.Engine)
	served := make(chan error, 2)
	serving := 1
	go func() { served <- s.Serve(listener) }()
	if encrypted != nil {
		serving++
		go func() { served <- s.ServeSecure(encrypted) }()
	}
	var ended error
	select {
	case ended = <-served:
		serving--
	case <-ctx.Done():
		fmt.Fprintln(c.out, "Stopping: finishing what is under way.")
	}
	ended = errors.Join(ended, stopWatching(), s.Stop())
	for range serving {
		ended = errors.Join(ended, <-served)
	}
	log.Info("stopped")
	if ended == nil {
		fmt.Fprintln(c.out, "Stopped.")
	}
	return ended
}

// setUpCode is easy to read out over a noisy yard: no letters that look or
// sound like another.
func setUpCode() string {
	return "SAW-" + rand.Text()[:4] + "-" + rand.Text()[:4]
}
