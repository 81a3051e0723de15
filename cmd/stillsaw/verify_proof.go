package main

import (
	"fmt"
	"os"
	"strings"

	"stillsaw/server/record"
)

// proof checks the proof of one entry and says what came of it.
func (v *fileVerifier) proof(path string) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	p, err := record.ParseEntryProof(strings.ReplaceAll(string(text), "\r\n", "\n"))
	if err != nil {
		return err
	}
	line := func(format string, args ...any) { fmt.Fprintf(v.out, format+"\n", args...) }
	heads := make([]record.Head, len(v.kept))
	for i, kept := range v.kept {
		heads[i] = kept.Head
	}
	r := p.Check(v.files.key, heads...)
	line("%s: entry %d of the record of mill %s, under a checkpoint of %d entries, root %s", path, p.Seq, printed(r.Head.Mill), r.Head.Size, r.Head.Root)
	for _, head := range heads {
		if head == r.Head {
			line("  The checkpoint of %d entries you gave is the one it is proven under.", head.Size)
		} else if head.Size != r.Head.Size {
			line("  Not shown: whether the checkpoint of %d entries you gave is of the same record.", head.Size)
		}
	}
	if len(r.Faults) > 0 {
		v.wrong = true
		line("ALTERED: this does not prove the entry.")
		for _, fault := range r.Faults {
			line("  %s: %s", fault.Place, printed(fault.What.String()))
		}
		return nil
	}
	line("SOUND: the entry (%s, %s) stands in the record under this checkpoint. What people wrote and who they are is not in it.", printed(r.Entry.Kind), r.Entry.At.Format("2006-01-02 15:04 MST"))
	if !r.Signed {
		line("Not checked: who signed the checkpoint. That takes the mill's whole key, as the entry that named it has it: -key.")
	}
	return nil
}
