package main

import (
	"flag"
	"fmt"
	"io"
	"strings"

	"stillsaw/server/store"
)

// rebuildFlags are those of verify that make it compare the tables, too.
type rebuildFlags struct {
	asked bool
	how   store.Rebuilding
}

func (r *rebuildFlags) register(flags *flag.FlagSet) {
	flags.BoolVar(&r.asked, "rebuild", false, "also make every table again from the entries and name what differs, and look at every page and index of the file")
	flags.StringVar(&r.how.Scratch, "scratch", "", "folder to make them in, about as much room as the database takes (with -rebuild; the system's own folder for such things otherwise)")
	flags.BoolVar(&r.how.Show, "show", false, "show personal values in full in what differs (with -rebuild)")
}

// printRebuilt says what holding the tables against the record came to.
func printRebuilt(out io.Writer, built store.Rebuilt) {
	var rows, fields int64
	for _, table := range built.Tables {
		rows, fields = rows+table.Rows, fields+table.Fields
	}
	fmt.Fprintf(out, "Tables made again from %d entries: %d tables, of which %d rows with %d fields are what the record gives.\n", built.Entries, len(built.Tables), rows, fields)
	for _, failed := range built.Failed {
		fmt.Fprintf(out, "  entry %d (%s %s): %s\n", failed.Seq, failed.Kind, failed.ID, failed.Why)
	}
	if more := built.FailedCount - int64(len(built.Failed)); more > 0 {
		fmt.Fprintf(out, "  not listed: %d more entries that could not be replayed\n", more)
	}
	for _, d := range built.Differences {
		fmt.Fprintf(out, "  table %s, row %s: %s %s\n", d.Table, strings.Join(d.Key, " "), d.What(), writer(d))
	}
	if built.DifferenceCount > 0 {
		fmt.Fprintf(out, "  %d rows differ in all, listed are the first %d of each table.\n", built.DifferenceCount, store.ListedDifferences)
	}
	if built.Damage != "" {
		fmt.Fprintf(out, "  The file is damaged beside what was compared: %s. Put back a backup with stillsaw restore, and look at the disk.\n", strings.ReplaceAll(built.Damage, "\n", "; "))
	}
	fmt.Fprintln(out, "Tables not compared:")
	for _, other := range built.NotCompared {
		fmt.Fprintf(out, "  %s: %s\n", other.Table, other.Why)
	}
}

// writer names the entry that a row comes from.
func writer(d store.Difference) string {
	switch {
	case d.Wrote.Seq < 0:
		return "No entry ever wrote it."
	case d.Change == store.RowExtra:
		return fmt.Sprintf("Entry %d (%s %s) was the last that touched it.", d.Wrote.Seq, d.Wrote.Kind, d.Wrote.ID)
	}
	return fmt.Sprintf("Entry %d (%s %s) wrote it last.", d.Wrote.Seq, d.Wrote.Kind, d.Wrote.ID)
}
