package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"stillsaw/server/demo"
	"stillsaw/server/store"
)

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
	return answer(ctx, c, st, "")
}
