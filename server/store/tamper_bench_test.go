package store

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/server/record"
)

// bench is a small mill to be altered, and what others keep of it. Its log is
// read by four, each a little later than the one before, and goes on by two more
// entries nobody outside has seen.
type bench struct {
	m  *Mill
	tx *Tx // of the alteration at hand, taken back afterwards

	verified []string // what verifying it says, read once
	made     []byte   // an export made of it, nil where none can be
	read     []string // what is wrong with that alone
	readKey  []string // and with the key known

	header func(*record.ExportHeader) // what an export says of itself, if otherwise than it is

	measured, dropped, rotated, photographed, signed, left int64 // seqs of entries
	defect                                                 checklists.DefectID
	photo                                                  string

	paper  Checkpoint // noted down by somebody
	export []byte     // of everything, made when the paper was
	phone  record.Head
	folder []string // checkpoints a witness keeps, the newest last
	key    string   // verifier in use then
	end    record.Head

	record []forged // as it stands untouched
	others []forged // entries of another mill
}

func newBench(t *testing.T) *bench {
	t.Helper()
	m := setUp(t, open(t), fernhollow)
	ctx, b := t.Context(), &bench{m: m}
	do := func(err error) { t.Helper(); require.NoError(t, err) }
	do(m.Publish(ctx, NewID(), Lists, "short", 1, sam, six.Add(-time.Hour), nil))
	do(m.Publish(ctx, NewID(), Rigs, "main-hoist", 1, sam, six.Add(-time.Hour), NumberRig))
	last := func() int64 {
		head, err := m.Head(ctx)
		do(err)
		return head.Size - 1
	}
	_, err := m.EnsureKey(ctx, six)
	do(err)
	_, err = m.KeepGearMeasurement(ctx, NewID(), GearMeasurement{Rig: "main-hoist", Link: "legs", What: "thickness", Value: 0.0094, New: 0.0099, Note: "with calipers"}, ada, six)
	do(err)
	b.measured = last()
	do(m.drop(ctx, "", act{Actor: sam.ID, At: six}, func(*Tx) ([]Dropped, error) {
		return []Dropped{{Rule: "nothing asks for it", Reason: "asked to", Values: []DroppedValues{{Seq: b.measured, Paths: []string{"/note"}}}}}, nil
	}))
	b.dropped = last()
	do(m.RotateKey(ctx, NewID(), "the PC was sold", sam, six))
	b.rotated = last()
	b.photo, err = m.KeepPhoto(ctx, Photo{Type: "image/jpeg", Width: 2, Height: 1, Bytes: []byte("a picture of a belt")}, six)
	do(err)
	b.defect, err = m.StopIt(ctx, NewID(), checklists.Defect{Equipment: "dust-collection", What: "belt squeals", Photo: b.photo}, ben, six)
	do(err)
	b.photographed = last()
	signed(t, m, NewID(), ada, six.Add(time.Minute))
	b.signed = last()
	_, err = m.EnterDeparture(ctx, NewID(), checklists.Departure{Equipment: "hoist", What: "lifted while held", Happened: six.Add(-time.Hour)}, ben, six.Add(2*time.Minute))
	do(err)
	b.left = last()
	later := func(name string) {
		changed := millOf(m.id)
		changed.Name = name
		do(m.ChangeMill(ctx, NewID(), changed, sam, six.Add(3*time.Minute)))
	}
	b.paper = kept(t, m, six.Add(3*time.Minute))
	b.key = b.paper.Keys[len(b.paper.Keys)-1].Verifier
	do(m.s.reads.Transaction(func(db *gorm.DB) error {
		b.tx = &Tx{db: db}
		b.export, err = b.exportOfSome(Selection{}, nil, nil)
		return err
	}))
	later("Fernhollow Mill")
	later("Fernhollow Saws")
	b.phone = kept(t, m, six.Add(4*time.Minute)).Head
	later("Fernhollow Sawmill")
	b.folder = []string{b.paper.Text, kept(t, m, six.Add(5*time.Minute)).Text}
	later("Fernhollow")
	later("Fernhollow & Sons")
	b.end, err = m.Head(ctx)
	do(err)
	b.record, err = forgeryOf(&Tx{db: m.s.reads}, m.id)
	do(err)
	b.others = b.neighbours(t)
	keysOff(t, m.s)
	return b
}

// neighbours are the entries of another mill that comes to lie in the same database.
func (b *bench) neighbours(t *testing.T) []forged {
	t.Helper()
	s := b.m.s
	if s.postgres != nil {
		var err error
		s, err = s.postgres.Open(t.Context(), t.TempDir(), neighbour, nil)
		require.NoError(t, err)
		defer func() { require.NoError(t, s.Close()) }()
	}
	entries, err := forgeryOf(&Tx{db: s.reads}, settle(t, s, neighbour).id)
	require.NoError(t, err)
	return entries
}

// mills are those whose rows the bench sees.
func (b *bench) mills() []checklists.MillID {
	if b.m.s.postgres == nil {
		return []checklists.MillID{b.m.id, neighbour}
	}
	return []checklists.MillID{b.m.id}
}

// exportOfSome exports those of the entries selected that pass, nil for all, from
// the database as it stands, with what was made together with it.
func (b *bench) exportOfSome(selection Selection, files []record.ExportFile, pass func(Exported) bool) ([]byte, error) {
	tx, m := b.tx, b.m
	head, err := headOf(tx, m.id)
	if err != nil {
		return nil, err
	}
	c, err := m.checkpointAt(tx, head)
	if err != nil {
		return nil, err
	}
	signer, _, err := m.s.keys.signer(m.id, c.Keys[len(c.Keys)-1].Verifier)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	header := headerOf(m, c, selection)
	if b.header != nil {
		b.header(&header)
	}
	w, err := record.NewExportWriter(&out, header)
	if err != nil {
		return nil, err
	}
	var photos []string
	if err := tx.exported(m.id, head, selection, Withhold{}, func(e Exported) error {
		if e.Also {
			return w.Also(e.Row, e.Proof)
		}
		if pass != nil && !pass(e) {
			return nil
		}
		photos = append(photos, e.Photos...)
		return w.Entry(e.Row, e.Proof)
	}); err != nil {
		return nil, err
	}
	for _, digest := range slices.Compact(photos) {
		var rows []photoRow
		if err := tx.gorm().Find(&rows, "mill = ? AND digest = ?", m.id, digest).Error; err != nil {
			return nil, err
		}
		photo := record.ExportPhoto{Digest: digest, Left: record.PhotoNotKept}
		if len(rows) > 0 && len(rows[0].Bytes) > 0 {
			photo = record.ExportPhoto{Digest: digest, Type: rows[0].Type, Bytes: rows[0].Bytes}
		}
		if err := w.Photo(photo); err != nil {
			return nil, err
		}
	}
	err = w.Close(files, signer)
	return out.Bytes(), err
}

func headerOf(m *Mill, c Checkpoint, selection Selection) record.ExportHeader {
	h := record.ExportHeader{Mill: record.ExportMill{ID: string(m.id), Name: "Fernhollow", Zone: "America/New_York"}, Checkpoint: c.Text,
		Made:      record.ExportMade{At: record.ExportTime(six), By: record.ExportBy{ID: string(sam.ID), Name: sam.Name}, Program: "stillsaw"},
		Selection: record.ExportSelection{From: selection.From, Until: selection.Until, Equipment: string(selection.Equipment), Person: string(selection.Person), Subject: selection.Subject, Words: "as asked"},
		Withheld:  record.ExportWithheld{Words: "nothing"}}
	for _, key := range c.Keys {
		h.Keys = append(h.Keys, record.ExportKey{Verifier: key.Verifier, From: key.From, Until: key.Until})
	}
	return h
}

// holders look at an altered database, each with what it has. What they say
// begins with the place: an entry, the head, a table, a file.
func holders() []struct {
	name string
	look func(b *bench, t *testing.T) []string
} {
	return []struct {
		name string
		look func(b *bench, t *testing.T) []string
	}{
		{"the database", (*bench).alone},
		{"and `-rebuild`", (*bench).rebuilt},
		{"a checkpoint", (*bench).againstPaper},
		{"a phone", (*bench).againstPhone},
		{"a witness's folder", (*bench).againstFolder},
		{"an export from before", (*bench).againstExport},
		{"a new export", (*bench).newExport},
		{"and the key", (*bench).newExportAndKey},
	}
}

func (b *bench) place(seq int64) string {
	if seq < 0 {
		return "record"
	}
	return fmt.Sprint("entry ", seq)
}

// look reads the altered database once for all holders.
func (b *bench) look(t *testing.T) {
	report, err := verifyMill(b.tx, b.m.id)
	require.NoError(t, err)
	for _, f := range report.Faults {
		b.verified = append(b.verified, b.place(f.Seq)+": "+f.Change.String())
	}
	require.Equal(t, report.OK(), len(b.verified) == 0)
	made, err := b.exportOfSome(Selection{}, nil, nil)
	if err != nil {
		b.read, b.readKey = noExport(), noExport()
		return
	}
	b.readAlone(made)
}

// readAlone reads an export for who has it alone, and who knows the key as well.
func (b *bench) readAlone(text []byte) {
	if bytes.Equal(b.made, text) {
		return
	}
	b.made = text
	r := record.ReadExport(bytes.NewReader(text), record.ExportHold{})
	b.read = placesOf(r)
	b.readKey = placesOf(r)
	if held := r.HoldKey(record.Fingerprint(b.key)); held.Is == record.KeyForeign || held.Is == record.KeyFormer {
		b.readKey = append(b.readKey, "key: "+held.Said().String())
	}
}

func (b *bench) alone(*testing.T) []string { return b.verified }

func (b *bench) rebuilt(t *testing.T) []string {
	built, err := rebuild(t.Context(), b.tx, b.mills(), Rebuilding{Scratch: t.TempDir()})
	require.NoError(t, err)
	said := slices.Clone(b.verified)
	for _, d := range built.Differences {
		said = append(said, "table "+d.Table+": "+[]string{"", "row missing", "row too many", "field changed", "member missing", "member too many", "missing"}[d.Change])
	}
	for _, f := range built.Failed {
		said = append(said, b.place(f.Seq)+": not replayed")
	}
	return said
}

// against is what holding the record against checkpoints comes to.
func (b *bench) against(t *testing.T, text string) (said []string) {
	compared, err := compareMill(b.tx, b.m.id, record.FindCheckpoints(text))
	if err != nil {
		return []string{"record: can't be held against anything, " + err.Error()}
	}
	for _, c := range compared {
		if !c.OK() {
			said = append(said, fmt.Sprintf("record: %s", agreements()[c.Agreement]))
		}
	}
	return said
}

func agreements() map[Agreement]string {
	return map[Agreement]string{CantTell: "hashes missing", Agrees: "other key", Changed: "other than the checkpoint", CutBack: "shorter than the checkpoint"}
}

func (b *bench) againstPaper(t *testing.T) []string { return b.against(t, b.paper.Text) }
func (b *bench) againstFolder(t *testing.T) []string {
	return b.against(t, strings.Join(b.folder, "\n"))
}

// againstPhone is what a phone that comes by is told, and makes of it: the
// answer to /checkpoint/consistency (views/static/witness.js).
func (b *bench) againstPhone(*testing.T) []string {
	head, err := headOf(b.tx, b.m.id)
	if err != nil {
		return nil // no answer, and no alarm: the page Verify says when it heard last
	}
	c, err := b.m.checkpointAt(b.tx, head)
	if err != nil {
		return nil
	}
	if c.Size < b.phone.Size {
		return []string{"record: shorter than the phone saw it"}
	}
	proof, err := record.ProveConsistency(b.phone.Size, c.Size, hashReader(b.tx, b.m.id))
	if err != nil {
		return []string{"record: no proof to be had"}
	}
	if record.CheckConsistency(b.phone, c.Head, proof) != nil {
		return []string{"record: does not go on from what the phone saw"}
	}
	return nil
}

func placesOf(r *record.ExportReport) (said []string) {
	for _, f := range r.Faults {
		said = append(said, f.Place+": "+f.What.String())
	}
	return said
}

func noExport() []string { return []string{"no export can be made"} }

func (b *bench) newExport(*testing.T) []string       { return b.read }
func (b *bench) newExportAndKey(*testing.T) []string { return b.readKey }

// againstExport holds the export from before against a new one, and its
// checkpoint against the database.
func (b *bench) againstExport(t *testing.T) []string {
	said := b.against(t, b.paper.Text) // the checkpoint in it
	if b.made == nil {
		return append(said, noExport()...)
	}
	return append(said, readTogether(b.export, b.made)...)
}

// readTogether is what is wrong with exports read one after the other.
func readTogether(texts ...[]byte) (said []string) {
	var seen record.ExportsRead
	for i, text := range texts {
		r := record.ReadExport(bytes.NewReader(text), seen.Hold(nil))
		seen.Take(fmt.Sprint("file ", i), r)
		said = append(said, placesOf(r)...)
	}
	return said
}
