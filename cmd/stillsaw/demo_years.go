package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"stillsaw/server/demo"
	"stillsaw/server/store"
)

// yearsFlags ask the demo for a long history.
type yearsFlags struct {
	count    int
	data     string
	makeOnly bool
}

func (f *yearsFlags) register(flags *flag.FlagSet) {
	flags.IntVar(&f.count, "years", 0, "make a mill of three shifts with so many years behind it, in the folder named with -data; a year is about a hundred thousand entries")
	flags.StringVar(&f.data, "data", "", "with -years: folder to make the database in; it must have none")
	flags.BoolVar(&f.makeOnly, "make-only", false, "with -years: make it, and don't answer on the network")
}

// check says what of the flags doesn't fit together.
func (f yearsFlags) check() error {
	switch {
	case f.count == 0 && (f.data != "" || f.makeOnly):
		return errors.New("-data and -make-only of the demo go with -years")
	case f.count != 0 && (f.count < 0 || f.count > 50):
		return fmt.Errorf("-years is %d, want 1 to 50", f.count)
	case f.count != 0 && f.data == "":
		return errors.New("-years needs a folder, -data DIR")
	}
	return nil
}

// makeYears makes the long history, saying how far it has come. A database that is
// there is never touched.
func (c call) makeYears(ctx context.Context) (err error) {
	if _, err := os.Stat(filepath.Join(c.years.data, store.FileName)); err == nil {
		return fmt.Errorf("there is a database in %s already; name another folder", c.years.data)
	}
	st, err := store.Open(ctx, c.years.data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	begun, said := c.now(), c.now()
	people, err := demo.FillYears(ctx, st, begun, c.years.count, func(t demo.Told) {
		if now := c.now(); now.Sub(said) >= 10*time.Second {
			said = now
			fmt.Fprintf(c.out, "%s: %d entries, %.0f a second\n", t.At.Format(time.DateOnly), t.Entries, float64(t.Entries)/now.Sub(begun).Seconds())
		}
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "A mill of three shifts with %d years behind it, in %s, made in %s.\nSign in as:\n", c.years.count, c.years.data, c.now().Sub(begun).Round(time.Second))
	for _, p := range people {
		fmt.Fprintf(c.out, "  %-16s %-12s %s\n", p.Name, p.Secret, p.What)
	}
	if c.years.makeOnly {
		return nil
	}
	return answer(ctx, c, st, "")
}
