package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"stillsaw/server/demo"
	"stillsaw/server/store"
)

// demoTrusted is how long a certificate of the demo is good for: it lies in a
// folder anybody may look for, and may be forgotten on a phone.
const demoTrusted = 30 * 24 * time.Hour

// demonstrate runs an invented mill in a new folder under the temporary one; a
// real database is never touched.
func demonstrate(ctx context.Context, c call) (err error) {
	if c.years.count > 0 {
		return c.makeYears(ctx)
	}
	dir, err := os.MkdirTemp("", "stillsaw-demo-")
	if err != nil {
		return fmt.Errorf("no folder for the demo can be made: %w", err)
	}
	held, err := store.HoldFolder(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, held.Release()) }()
	st, err := store.Open(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	people, err := demo.Fill(ctx, st, c.now())
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "An invented mill with some weeks behind it, in %s.\nSign in as:\n", dir)
	for _, p := range people {
		fmt.Fprintf(c.out, "  %-16s %-12s %s\n", p.Name, p.Secret, p.What)
	}
	c.https.lasts = demoTrusted
	return answer(ctx, c, st, "")
}
