package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"math/big"
	"os"
	"path/filepath"
	"strings"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server"
	"stillsaw/server/record"
	"stillsaw/server/store"
)

// errNotClean ends verify with a status of its own; what is wrong was printed.
var errNotClean = errors.New("the record is not clean")

// verify recomputes every leaf and the tree of the record and what is kept
// beside its entries, and compares the tables made from them where that is
// asked. It writes nothing to the folder. With files it checks those instead.
func verify(ctx context.Context, c call) error {
	if c.files.page != "" || len(c.args) > 0 {
		return verifyAway(c)
	}
	reports, built, schema, err := c.verified(ctx)
	if err != nil {
		return err
	}
	if schema.Older() {
		fmt.Fprintf(c.out, "An earlier Stillsaw left this database (step %d of %d). It was read as it is and not upgraded.\n", schema.Has, schema.Newest)
	}
	if len(reports) == 0 {
		fmt.Fprintln(c.out, "NOTHING TO CHECK: no mill is set up in this database. If there was one, its record is gone.")
		return errNotClean
	}
	clean := printReports(c.out, reports)
	if c.rebuild.asked {
		printRebuilt(c.out, built)
		clean = clean && built.OK()
	} else {
		fmt.Fprintln(c.out, "Not compared: the tables made from the entries, such as open defects, people and lockouts under way. What they show is not checked here; -rebuild does.")
	}
	kept, err := c.holdAgainst(ctx, c.files.checkpoints)
	if err != nil {
		return err
	}
	if kept == store.InDispute {
		fmt.Fprintln(c.out, "DOES NOT AGREE with every checkpoint given: the record is another one than it was when it was made, or shorter. A backup put back does that, too; ask when one was.")
	}
	if !clean {
		fmt.Fprintln(c.out, "NOT CLEAN: what is named was changed or removed outside Stillsaw, or the file is damaged.")
	}
	if !clean || kept == store.InDispute {
		return errNotClean
	}
	fmt.Fprintln(c.out, "Clean: every entry is the one that was written, in its place, with its personal values and photos.")
	if kept == store.Useless {
		return errCant{errors.New("not every checkpoint given can be used, so the record was not held against all of them; that says nothing against it")}
	}
	return nil
}

func (c call) verified(ctx context.Context) (reports map[checklists.MillID]record.Report, built store.Rebuilt, schema store.Schema, err error) {
	if c.rebuild.asked {
		return store.RebuildIn(ctx, c.data, c.rebuild.how)
	}
	reports, schema, err = store.VerifyIn(ctx, c.data)
	return reports, built, schema, err
}

// printReports says what came of each mill's record, and tells whether all are whole.
func printReports(out io.Writer, reports map[checklists.MillID]record.Report) (clean bool) {
	clean = true
	for _, mill := range store.SortedMills(reports) {
		report := reports[mill]
		fmt.Fprintf(out, "Mill %s: %d entries, root %s\n", mill, report.Entries, report.Root)
		printFaults(out, report)
		clean = clean && report.OK()
	}
	return clean
}

func printFaults(out io.Writer, report record.Report) {
	for _, fault := range report.Faults {
		switch {
		case fault.Seq < 0:
			fmt.Fprintf(out, "  %s\n", fault.What)
		case fault.ID == "":
			fmt.Fprintf(out, "  entry %d: %s\n", fault.Seq, fault.What)
		default:
			fmt.Fprintf(out, "  entry %d (%s %s): %s\n", fault.Seq, fault.Kind, fault.ID, fault.What)
		}
	}
	if more := report.FaultCount - int64(len(report.Faults)); more > 0 {
		fmt.Fprintf(out, "  not listed: %d more faults\n", more)
	}
	if report.FieldsDropped > 0 {
		fmt.Fprintf(out, "  %d personal values were dropped, as entries of the record say.\n", report.FieldsDropped)
	}
	if report.FieldsWithheld > 0 {
		fmt.Fprintf(out, "  %d personal values are not kept.\n", report.FieldsWithheld)
	}
}

// newPIN lets whoever sits at this computer give somebody a new PIN. It is on
// the record; the new secret is only on this screen.
func newPIN(ctx context.Context, c call) (err error) {
	st, err := openExisting(ctx, c.data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	mill, err := st.TheMill(ctx)
	if errors.Is(err, store.ErrNotFound) {
		return errors.New("no mill is set up in this database yet")
	}
	if err != nil {
		return err
	}
	desk := st.Of(mill.ID)
	person, err := named(ctx, desk, c.args[0])
	if err != nil {
		return err
	}
	secret, err := newSecret(person.Role)
	if err != nil {
		return err
	}
	digest, err := server.Hash(secret)
	if err != nil {
		return err
	}
	if err := desk.ResetPIN(ctx, store.NewID(), person.ID, digest, "at-the-pc", "", c.now().UTC()); err != nil {
		return err
	}
	fmt.Fprintf(c.out, "New for %s: %s\nIt is on the record that it was set at this computer. Change it on the page People after signing in.\n", person.Name, secret)
	return nil
}

func named(ctx context.Context, desk *store.Mill, name string) (procedures.Person, error) {
	people, err := desk.People(ctx)
	if err != nil {
		return procedures.Person{}, err
	}
	var known []string
	for _, p := range people {
		if p.Left {
			continue
		}
		if strings.EqualFold(p.Name, name) {
			return p, nil
		}
		known = append(known, p.Name)
	}
	return procedures.Person{}, fmt.Errorf("nobody here is called %q; there are %s", name, strings.Join(known, ", "))
}

// newSecret makes a PIN of six digits, or a password for a supervisor.
func newSecret(role procedures.Role) (string, error) {
	if role == procedures.Supervisor {
		return strings.ToLower(rand.Text()[:12]), nil
	}
	for {
		n, err := rand.Int(rand.Reader, big.NewInt(1_000_000))
		if err != nil {
			return "", err
		}
		pin := fmt.Sprintf("%06d", n)
		if len(server.CheckSecret(role, "pin", pin)) == 0 {
			return pin, nil
		}
	}
}

// openExisting opens a database without making one where there is none, beside a
// server that may be at work on it.
func openExisting(ctx context.Context, dir string) (*store.Store, error) {
	if _, err := os.Stat(filepath.Join(dir, store.FileName)); err != nil {
		return nil, fmt.Errorf("there is no database in %s; name its folder with -data", dir)
	}
	return store.OpenOn(ctx, dir, store.On{Shared: true})
}
