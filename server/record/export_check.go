package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// photosMost bounds the photos of an export that are remembered.
const photosMost = 1 << 20

// keyed are the keys of an export that can be read.
type keyed struct {
	keys      []ExportKey
	verifiers []note.Verifier
}

// at are the keys that were in use for a log of size entries.
func (k keyed) at(size int64) (held []note.Verifier) {
	for i, key := range k.keys {
		if key.held(size) {
			held = append(held, k.verifiers[i])
		}
	}
	return held
}

// judge looks at the checkpoint and the keys, once they were all read.
func (x *exportReader) judge() {
	if x.judged {
		return
	}
	x.judged = true
	r := x.report
	if r.Header.Mill.ID == "" || !isMill(r.Header.Mill.ID) {
		r.fault("mill", "mill", "The export names no mill.")
	}
	for i, key := range r.Header.Keys {
		verifier, err := note.NewVerifier(key.Verifier)
		if err != nil || verifier.Name() != Origin(r.Header.Mill.ID) {
			r.fault("keys", "keys", "Key %d is not one of this mill's.", i+1)
			continue
		}
		x.keys.keys, x.keys.verifiers = append(x.keys.keys, key), append(x.keys.verifiers, verifier)
	}
	said, err := ReadHead(r.Header.Checkpoint)
	if err != nil {
		r.fault("checkpoint", "checkpoint", "The checkpoint can't be read.")
		return
	}
	head, opened, err := OpenCheckpoint(r.Header.Checkpoint, x.keys.at(said.Size)...)
	if err != nil {
		r.fault("checkpoint", "checkpoint", "The checkpoint is not signed by the mill's key: it, or the key named beside it, was changed. No proof can be checked.")
		return
	}
	if head.Mill != r.Header.Mill.ID {
		r.fault("checkpoint", "checkpoint", "The checkpoint is of another mill.")
		return
	}
	r.Head, x.provable = head, true
	r.Key = x.signedBy(opened)
	x.usable()
	for _, other := range x.hold.Heads {
		switch {
		case other.Mill != head.Mill:
			r.fault("checkpoint", "checkpoint", "The checkpoint to hold it against is of another mill, %s.", other.Mill)
		case other.Size == head.Size && other.Root != head.Root:
			r.fault("checkpoint", "checkpoint", "The checkpoint to hold it against has another root for the same %d entries: one of the two logs was rewritten.", head.Size)
		case other.Size == head.Size:
			r.Agreed[other.Size] = true
		}
	}
	for _, other := range x.hold.Earlier {
		if other.Mill == head.Mill && other.Size == head.Size && other.Root != head.Root {
			r.fault("checkpoint", "checkpoint", "An export read before has another root for the same %d entries: one of the two logs was rewritten.", head.Size)
		}
	}
}

// signedBy is the verifier of the first of the mill's keys under n.
func (x *exportReader) signedBy(n *note.Note) string {
	for _, signature := range n.Sigs {
		for i, verifier := range x.keys.verifiers {
			if verifier.Name() == signature.Name && verifier.KeyHash() == signature.Hash {
				return x.keys.keys[i].Verifier
			}
		}
	}
	return ""
}

// entry checks one entry.
func (x *exportReader) entry(line exportEntryLine) {
	before := x.report.FaultCount
	x.report.Counts.Entries++
	x.inTurn(line)
	x.report.ran(line.Seq)
	leaf := []byte(line.Leaf)
	read := ExportedEntry{Seq: line.Seq, Hash: tlog.RecordHash(leaf), Leaf: leaf}
	x.follow(read)
	p, readable := x.leaf(line, read.Hash)
	if readable {
		read.Entry = x.openings(p, line)
		for _, digest := range PhotosNamed(leaf) {
			if len(x.said.wanted) < photosMost {
				x.said.wanted[digest] = true
			}
		}
	}
	x.names(leaf)
	read.Proven = x.provable && x.report.FaultCount == before
	if read.Proven {
		x.said.hears(p)
	}
	if x.hold.Each != nil {
		x.hold.Each(read)
	}
}

// also checks an entry that the others lean on.
func (x *exportReader) also(line exportEntryLine) {
	before := x.report.FaultCount
	x.inTurn(line)
	p, readable := x.leaf(line, tlog.RecordHash([]byte(line.Leaf)))
	if len(line.Openings) > 0 {
		x.wrongIn(line.Seq, "opening", "Entry %d was not asked for, and personal values of it are shown.", line.Seq)
	}
	if readable && x.provable && x.report.FaultCount == before {
		x.said.hears(p)
	}
}

// wrongIn notes a fault of an entry of the list at hand.
func (x *exportReader) wrongIn(seq int64, part, what string, args ...any) {
	x.report.fault(x.list, strings.TrimSpace(entryPlace(seq)+" "+part), what, args...)
}

func (x *exportReader) inTurn(line exportEntryLine) {
	if line.Seq <= x.last {
		x.wrongIn(line.Seq, "", "Entry %d does not come after entry %d.", line.Seq, x.last)
	}
	x.last = line.Seq
}

// leaf checks that the leaf of an entry is one, and lies where it is said to.
func (x *exportReader) leaf(line exportEntryLine, hash tlog.Hash) (p parsed, readable bool) {
	fault := func(part, what string, args ...any) { x.wrongIn(line.Seq, part, what, args...) }
	p, err := parse([]byte(line.Leaf))
	wrong := x.inclusion(line, hash, err == nil && p.Seq == line.Seq)
	switch wrong {
	case "hash":
		fault(wrong, "Entry %d is proven, but the hash noted beside it is another one.", line.Seq)
	case "leaf":
		fault(wrong, "Entry %d was changed: its text is not what its hash was made of.", line.Seq)
	case "proof":
		fault(wrong, "Entry %d: its proof does not lead to the checkpoint. The proof was changed, or the entry never stood there.", line.Seq)
	case "seq":
		fault(wrong, "Entry %d does not lie under the checkpoint at that place.", line.Seq)
	}
	if err != nil && wrong == "" {
		fault("leaf", "Entry %d is proven, but it is not an entry this program reads.", line.Seq)
	}
	if err == nil {
		if p.Mill != x.report.Header.Mill.ID {
			fault("", "Entry %d belongs to another mill.", line.Seq)
		}
		if p.Seq != line.Seq {
			fault("", "What stands as entry %d was written as entry %d.", line.Seq, p.Seq)
		}
	}
	return p, err == nil
}

// inclusion says what of an entry does not lead to the checkpoint: "" where all
// does or nothing can be told.
func (x *exportReader) inclusion(line exportEntryLine, hash tlog.Hash, inPlace bool) string {
	noted := line.Hash == hash.String()
	if !x.provable {
		if !noted {
			return "leaf"
		}
		return ""
	}
	proof := make(tlog.RecordProof, len(line.Proof))
	for i, text := range line.Proof {
		parsed, err := tlog.ParseHash(text)
		if err != nil {
			return "proof"
		}
		proof[i] = parsed
	}
	head := x.report.Head
	lies := func(hash tlog.Hash) bool {
		return line.Seq >= 0 && line.Seq < head.Size && tlog.CheckRecord(proof, head.Size, head.Root, line.Seq, hash) == nil
	}
	switch {
	case lies(hash):
		if !noted {
			return "hash"
		}
		return ""
	case !noted:
		if said, err := tlog.ParseHash(line.Hash); err == nil && !lies(said) && inPlace {
			return "proof" // both
		}
		return "leaf"
	case inPlace:
		return "proof"
	}
	return "seq"
}

// openings checks the personal values shown and puts them into the entry.
func (x *exportReader) openings(p parsed, line exportEntryLine) Entry {
	fault := func(part, what string, args ...any) { x.wrongIn(line.Seq, part, what, args...) }
	var shown []Opening
	x.report.Counts.Openings += int64(len(line.Openings))
	for _, o := range line.Openings {
		salt, err := base64.StdEncoding.Strict().DecodeString(o.Salt)
		if err != nil || base64.StdEncoding.EncodeToString(salt) != o.Salt {
			salt = nil // which fits nothing
		}
		shown = append(shown, Opening{o.Path, salt, o.Value})
	}
	values, wrong := p.open(shown)
	for _, w := range wrong {
		place := "opening " + strings.ToValidUTF8(w.Path, "?")
		switch w.Change {
		case OpeningStray:
			fault(place, "Entry %d: there is a value for %s, which is no personal field of it.", line.Seq, w.Path)
		case OpeningTwice:
			fault(place, "Entry %d: there is a second value for %s.", line.Seq, w.Path)
		default:
			fault(place, "Entry %d: what is shown at %s is not what was written.", line.Seq, w.Path)
		}
	}
	x.report.Counts.Withheld += int64(max(0, len(p.sealed)-len(line.Openings)))
	x.said.lacks(p, shown, x.report.Header.Withheld)
	entry, err := Read([]byte(line.Leaf), slices.DeleteFunc(shown, func(o Opening) bool { _, fits := values[o.Path]; return !fits }))
	if err != nil {
		return Entry{} // two values for one field
	}
	return entry
}

// follow goes along the log while no entry is left out, to meet the smaller
// checkpoints the export is held against.
func (x *exportReader) follow(e ExportedEntry) {
	if x.gap || x.edge.size != e.Seq {
		x.gap = true
		return
	}
	x.edge.Append(e.Hash)
	for _, other := range slices.Concat(x.hold.Heads, x.hold.Earlier) {
		if other.Size != x.edge.size || other.Mill != x.report.Head.Mill || other.Size == x.report.Head.Size {
			continue
		}
		if other.Root != x.edge.Root() {
			x.report.fault("entries", "entry "+strconv.FormatInt(e.Seq, 10), "The checkpoint to hold it against has another root for the first %d entries: one of the two logs was rewritten.", other.Size)
			continue
		}
		x.report.Agreed[other.Size] = true
	}
}

// photoDigests finds what may be the digest of a photo in a leaf.
var photoDigests = regexp.MustCompile(`"[0-9a-f]{64}"`)

func (x *exportReader) names(leaf []byte) {
	for _, found := range photoDigests.FindAll(leaf, -1) {
		if len(x.named) < photosMost {
			x.named[string(found[1:len(found)-1])] = true
		}
	}
}

// photo checks one picture.
func (x *exportReader) photo(line exportPhotoLine) {
	x.report.Counts.Photos++
	fault := func(what string, args ...any) {
		x.report.fault("photos", "photo "+shortDigest(line.Digest), what, args...)
	}
	if x.pictured[line.Digest] {
		fault("The photo %s is there twice.", shortDigest(line.Digest))
	}
	if len(x.pictured) < photosMost {
		x.pictured[line.Digest] = true
	}
	if !x.named[line.Digest] && len(x.named) < photosMost {
		fault("No entry of the export names the photo %s.", shortDigest(line.Digest))
	}
	content, err := base64.StdEncoding.Strict().DecodeString(line.Bytes)
	switch sum := sha256.Sum256(content); {
	case line.Left != "" && line.Bytes == "":
		x.report.PhotosOut++
		switch proven := x.provable && !x.report.places["withheld"]; {
		case !proven || line.Left == PhotoLeftOut && x.report.Header.Withheld.Photos || line.Left == PhotoDropped && x.said.photos[line.Digest]:
		case line.Left == PhotoDropped:
			fault("The photo %s is said to be dropped, and no entry in the export says so.", shortDigest(line.Digest))
		default:
			fault("The photo %s is not there. The export does not say that photos are kept back, and no entry in it that this one was dropped.", shortDigest(line.Digest))
		}
	case err != nil || hex.EncodeToString(sum[:]) != line.Digest || line.Left != "":
		fault("The photo %s is not the one whose digest the entry holds.", shortDigest(line.Digest))
	}
}

// finish checks what follows when all lines were read.
func (x *exportReader) finish() {
	x.judge()
	r := x.report
	counts := func(part string, said, read int64, what string) {
		if said != read && !r.places[part] {
			r.fault(part, "counts", what, said, read)
		}
	}
	counts("entries", x.counts.Entries, r.Counts.Entries, "The export says that it has %d entries, it has %d.")
	counts("entries", x.counts.Openings, r.Counts.Openings, "The export says that it shows %d personal values, it shows %d.")
	counts("entries", x.counts.Withheld, r.Counts.Withheld, "The export says that it leaves out %d personal values, it leaves out %d.")
	counts("photos", x.counts.Photos, r.Counts.Photos, "The export says that it has %d photos, it has %d.")
	x.keysNamed()
	x.unexplained()
	x.everything()
	x.seal()
	if more, err := x.in.Peek(1); len(more) > 0 || !errors.Is(err, io.EOF) {
		r.fault("end", "end", "After the seal something follows.")
	}
	r.finished = true
}

// everything notes an entry that is left out of an export which asked for all.
func (x *exportReader) everything() {
	r := x.report
	all := r.Header.Selection
	if all.Words = ""; all != (ExportSelection{}) || !x.provable || r.places["entries"] || r.places["selection"] {
		return
	}
	missing := int64(0)
	if len(r.Runs) > 0 && r.Runs[0].First == 0 {
		missing = r.Runs[0].Last + 1
	}
	if missing < r.Head.Size {
		r.fault("entries", entryPlace(missing), "The export was asked for everything, and entry %d is not in it.", missing)
	}
}

// seal holds the seal against what was read.
func (x *exportReader) seal() {
	r := x.report
	var text string
	value, ended := bytes.CutSuffix(bytes.TrimPrefix(x.sealed, []byte(`"seal":`)), []byte("}\n"))
	if err := strictly(value, &text); err != nil || !ended {
		r.fault("seal", "seal", "The seal can't be read.")
		return
	}
	if again, err := sealLine(text); err != nil || !bytes.Equal(again, x.sealed) {
		r.fault("seal", "seal", "The seal is not in the form the program writes.")
		return
	}
	known := x.keys.verifiers
	if x.provable {
		known = x.keys.at(r.Head.Size)
	}
	opened, err := note.Open([]byte(text), note.VerifierList(known...))
	if err != nil || len(opened.Sigs) != 1 || len(opened.UnverifiedSigs) != 0 || !strictBase64(opened.Sigs[0].Base64) {
		r.fault("seal", "seal", "The seal is not signed by the mill's key: it was changed, or the export was made by somebody else.")
		return
	}
	if r.Key != "" && r.Key != x.signedBy(opened) {
		r.fault("seal", "seal", "The seal is signed with another key than the checkpoint.")
	}
	whole, parts := x.digest.sums()
	if opened.Text == sealText(r.Header.Mill.ID, whole, parts) {
		return
	}
	said := map[string]string{}
	for _, line := range strings.Split(opened.Text, "\n") {
		if part, digest, ok := strings.Cut(line, " "); ok {
			said[part] = digest
		}
	}
	located := len(r.places) > 0
	for _, part := range exportParts() {
		if said[part] != parts[part] && !r.places[part] {
			r.fault(part, part, "What stands under %q is not what was sealed.", part)
			located = true
		}
	}
	if !located {
		r.fault("seal", "seal", "The file is not the one that was sealed.")
	}
}

func strictBase64(text string) bool {
	raw, err := base64.StdEncoding.Strict().DecodeString(text)
	return err == nil && base64.StdEncoding.EncodeToString(raw) == text
}
