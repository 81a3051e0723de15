package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"syscall"

	"github.com/mdp/qrterminal/v3"

	"stillsaw/server"
	"stillsaw/server/store"
)

// serve runs the mill's server until ctx ends.
func serve(ctx context.Context, c call) (err error) {
	st, err := store.Open(ctx, c.data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	fmt.Fprintf(c.out, "Stillsaw keeps its data in %s (%s).\n", st.Path(), store.Engine)
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

// answer serves st at c.addr until ctx ends, then stops in order: no more
// requests, streams ended, requests under way finished.
func answer(ctx context.Context, c call, st *store.Store, code string) error {
	listener, err := listen(ctx, c.addr)
	if err != nil {
		return err
	}
	s, err := server.New(server.Config{Store: st, Now: c.now, Log: slog.New(slog.NewTextHandler(c.out, nil)), SetUpCode: code})
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	c.announce(listener.Addr(), code)
	served := make(chan error, 1)
	go func() { served <- s.Serve(listener) }()
	select {
	case err := <-served:
		return err
	case <-ctx.Done():
	}
	fmt.Fprintln(c.out, "Stopping: finishing what is under way.")
	if err := errors.Join(s.Stop(), <-served); err != nil {
		return err
	}
	fmt.Fprintln(c.out, "Stopped.")
	return nil
}

func listen(ctx context.Context, addr string) (net.Listener, error) {
	listener, err := new(net.ListenConfig).Listen(ctx, "tcp", addr)
	switch {
	case err == nil:
		return listener, nil
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, fmt.Errorf("the address %s is taken by another program; stop it, or choose another with -addr, such as -addr :8091", addr)
	case errors.Is(err, syscall.EACCES):
		return nil, fmt.Errorf("this user may not answer on %s; choose a port above 1024 with -addr", addr)
	}
	return nil, fmt.Errorf("can't answer on %s: %w", addr, err)
}

// setUpCode is easy to read out over a noisy yard: no letters that look or
// sound like another.
func setUpCode() string {
	return "SAW-" + rand.Text()[:4] + "-" + rand.Text()[:4]
}

// announce prints where the server is to be found and, before set-up, the code.
func (c call) announce(bound net.Addr, code string) {
	port := ""
	if tcp, ok := bound.(*net.TCPAddr); ok {
		port = fmt.Sprint(tcp.Port)
	}
	path := ""
	if code != "" {
		path = "/set-up"
	}
	fmt.Fprintf(c.out, "\nOn this computer:   http://localhost:%s%s\n", port, path)
	phones := phoneAddresses(bound)
	for _, host := range phones {
		fmt.Fprintf(c.out, "On a phone:         http://%s%s\n", net.JoinHostPort(host, port), path)
	}
	if len(phones) > 0 {
		fmt.Fprintln(c.out, "\nOr point the phone's camera here (it must be on the same network):")
		qrterminal.GenerateHalfBlock("http://"+net.JoinHostPort(phones[0], port)+path, qrterminal.L, c.out)
	} else {
		fmt.Fprintln(c.out, "No network for phones was found; with -addr :8090 on a network they are listed here.")
	}
	if code != "" {
		fmt.Fprintf(c.out, "\nSet-up code, for the first supervisor: %s\n", code)
	}
	fmt.Fprintln(c.out, "\nPhones talk to this computer unencrypted: keep to the mill's own network. Stop with Ctrl-C.")
}

// phoneAddresses are those of this machine that a phone on its network could
// reach, given what the server is bound to.
func phoneAddresses(bound net.Addr) []string {
	tcp, ok := bound.(*net.TCPAddr)
	if !ok || tcp.IP.IsLoopback() {
		return nil
	}
	if !tcp.IP.IsUnspecified() {
		return []string{tcp.IP.String()}
	}
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		return nil // the local address is printed all the same
	}
	var found []string
	for _, address := range addresses {
		network, ok := address.(*net.IPNet)
		if ok && network.IP.To4() != nil && network.IP.IsGlobalUnicast() {
			found = append(found, network.IP.String())
		}
	}
	return found
}
