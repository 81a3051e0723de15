package server

import (
	"context"
	"errors"
	"net"
	"sync"

	"github.com/gofiber/fiber/v2"
)

// doors are the listeners an app answers on. A shutdown of fiber's closes only those
// it has begun with, and may come before it has: they are closed here as well.
type doors struct {
	mu  sync.Mutex
	all []net.Listener
}

// serve has app answer on listener until over ends and the doors are closed, which is
// no error.
func (d *doors) serve(over context.Context, app *fiber.App, crowd *crowd, listener net.Listener) error {
	d.mu.Lock()
	d.all = append(d.all, listener)
	d.mu.Unlock()
	if over.Err() != nil {
		return closeDoor(listener)
	}
	err := app.Listener(taking{listener, over, crowd})
	if over.Err() != nil && errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

func (d *doors) close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	var err error
	for _, listener := range d.all {
		err = errors.Join(err, closeDoor(listener))
	}
	return err
}

// closeDoor closes a listener that fiber, or whoever opened it, may have closed.
func closeDoor(listener net.Listener) error {
	if err := listener.Close(); !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}
