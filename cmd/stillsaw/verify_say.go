package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"stillsaw/server/record"
)

// faultsShown is how many faults of one export are printed.
const faultsShown = 100

// say prints what came of checking one export, for somebody who has never seen
// the program.
func (v *fileVerifier) say(f exportFile, r *record.ExportReport, key record.HeldKey, missing []string) {
	line := func(format string, args ...any) { fmt.Fprintf(v.out, format+"\n", args...) }
	h := r.Header
	line("%s: an export of the record of %s (mill %s)", f.path, printed(h.Mill.Name), printed(h.Mill.ID))
	line("  Asked for: %s", printed(h.Selection.Words))
	line("  Kept back: %s", cmp.Or(printed(h.Withheld.Words), "nothing"))
	by := ""
	if h.Made.By.Name != "" {
		by = " by " + printed(h.Made.By.Name)
	}
	line("  Made: %s%s, %s", printed(atMill(h.Made.At, h.Mill.Zone)), by, printed(h.Made.Program))
	photos := counted(r.Counts.Photos, "photo", "photos")
	if r.PhotosOut > 0 {
		photos += fmt.Sprintf(", %d of them without the picture", r.PhotosOut)
	}
	line("  Here: %s; %s left out; %s", runsSaid(r), counted(r.Counts.Withheld, "personal value", "personal values"), photos)
	if r.Key != "" {
		line("  Checkpoint: %d entries, root %s", r.Head.Size, r.Head.Root)
		line("    (the mill's signed word on all its entries when this was made: one number over every one of them)")
		line("  Key: %s", record.Fingerprint(r.Key))
		line("    (what the mill signs with; these four groups name it, and should be those the mill gave you another way)")
	}
	if key.Is != record.KeyUnasked {
		line("  %s", key.Said())
	}
	for _, unused := range r.Unused {
		line("  Not used: %s", printed(unused.Why.String()))
	}
	for _, name := range missing {
		line("  Not given, and not checked: %s", name)
	}
	for _, head := range v.kept {
		switch {
		case slices.ContainsFunc(r.Unused, func(u record.UnusedKept) bool { return u.Kept == head }):
		case r.Agreed[head.Size]:
			line("  The checkpoint of %d entries you gave is of the same record.", head.Size)
		case head.Size != r.Head.Size && r.OK():
			line("  Not shown: whether the checkpoint of %d entries you gave and this one of %d are of the same record. The mill's proof of consistency between them would show it: open /checkpoint/consistency?from=%d at the mill's Stillsaw, keep the answer as a file and give it here with both. So would an export of all entries up to the smaller of the two.", head.Size, r.Head.Size, min(head.Size, r.Head.Size))
		}
	}
	if !r.OK() {
		line("ALTERED: this is not what was sealed.")
		for _, fault := range r.Faults[:min(faultsShown, len(r.Faults))] {
			line("  %s: %s", printed(fault.Place), printed(fault.What.String()))
		}
		if more := r.FaultCount - int64(min(faultsShown, len(r.Faults))); more > 0 {
			line("  not listed: %d more", more)
		}
		return
	}
	line("SOUND: every entry shown stands in the record under this checkpoint, and nothing in the file was changed.")
	line("It can't show whether entries were left out of the selection, other than by gaps in their numbers, nor whose key this is: compare the key with one the mill gave you another way. Whoever holds that key can write another record; only a checkpoint somebody kept from before shows it.")
}

// atMill is a moment of an export as the mill's clock shows it.
func atMill(at, zone string) string {
	t, err := time.Parse(time.RFC3339, at)
	where, unknown := time.LoadLocation(zone)
	if err != nil || unknown != nil || zone == "" {
		return at
	}
	return t.In(where).Format("2006-01-02 15:04 MST")
}

// runsSaid tells which entries are there, the longest runs by their ends.
func runsSaid(r *record.ExportReport) string {
	runs := slices.Clone(r.Runs)
	slices.SortFunc(runs, func(a, b record.ExportRun) int { return int(b.Last-b.First) - int(a.Last-a.First) })
	runs = slices.DeleteFunc(runs[:min(5, len(runs))], func(run record.ExportRun) bool { return run.First == run.Last })
	slices.SortFunc(runs, func(a, b record.ExportRun) int { return int(a.First - b.First) })
	if len(runs) == 0 {
		switch r.Counts.Entries {
		case 0:
			return "no entry"
		case 1:
			return "one entry"
		}
		return fmt.Sprintf("%d single entries, with gaps between them", r.Counts.Entries)
	}
	var said []string
	others := r.Counts.Entries
	for _, run := range runs {
		said = append(said, fmt.Sprintf("entries %d to %d", run.First, run.Last))
		others -= run.Last - run.First + 1
	}
	text := strings.Join(said, ", ") + " without a gap"
	if others > 0 {
		text += ", and " + counted(others, "other", "others")
	}
	return text
}

// counted is a number with what it counts, one or several.
func counted[N int | int64](n N, one, several string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, several)
}

// printed keeps what stands in a file from steering the terminal.
func printed(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return '?'
		}
		return r
	}, text)
}
