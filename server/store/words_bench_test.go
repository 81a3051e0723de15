package store

import (
	"crypto/rand"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/record"
)

// signedWalk is the body of a signed inspection of that many answers, one in ten
// of them with a defect.
func signedWalk(answers int) *inspectionBody {
	in := checklists.Inspection{ID: "01970000-0000-7000-8000-000000000001", List: "01970000-0000-7000-8000-000000000002", Version: 3, Title: "Pre-shift check of the mill",
		Signer: "01970000-0000-7000-8000-000000000003", Began: six.Add(-20 * time.Minute), At: six}
	var found []checklists.Defect
	var about []procedures.EquipmentID
	for i := range answers {
		machine := procedures.EquipmentID(fmt.Sprintf("machine-%d", i%6))
		a := checklists.Answer{Item: checklists.ItemID(fmt.Sprintf("01970000-0000-7000-8000-%012x", 100+i)), Result: checklists.OK, By: in.Signer, At: six.Add(-time.Duration(answers-i) * time.Minute)}
		switch i % 10 {
		case 3:
			play := 0.25
			a.Number = &play
		case 6:
			a.Result, a.Severity, a.Note, a.MendBy = checklists.Found, checklists.Mend, fmt.Sprintf("Latch of hook S-12%d bent, still shuts", i), six.Add(72*time.Hour)
			found = append(found, checklists.Defect{ID: checklists.DefectID(fmt.Sprintf("01970000-0000-7000-8000-%012x", 500+i)), Equipment: machine, Inspection: in.ID, List: in.List, Item: a.Item,
				What: a.Note, Severity: a.Severity, MendBy: a.MendBy, By: a.By, At: a.At})
		}
		in.Answers = append(in.Answers, a)
		about = append(about, machine)
	}
	return newInspectionBody(in, found, about)
}

func BenchmarkSealOfASignedWalk(b *testing.B) {
	walk := signedWalk(30)
	kind, version := walk.kind()
	b.ReportAllocs()
	for b.Loop() {
		sealed, err := record.Seal(record.Envelope{Mill: string(fernhollow), ID: NewID(), Kind: kind, Version: version, Subject: string(walk.ID), Actor: string(walk.Signer), At: six, Offset: -300, Body: walk}, rand.Reader)
		require.NoError(b, err)
		b.SetBytes(int64(len(sealed.Leaf)))
	}
}

func BenchmarkWordsOfASignedWalk(b *testing.B) {
	walk := signedWalk(30)
	b.ReportAllocs()
	for b.Loop() {
		require.NotEmpty(b, wordsOf(KindInspection, string(walk.Signer), "2026-03-03", walk))
	}
}

// Each walk is said by itself, as where nobody else signs at the time.
func BenchmarkWordsKeptOfASignedWalk(b *testing.B) {
	m := newMill(b)
	words := wordsOf(KindInspection, "01970000-0000-7000-8000-000000000003", "2026-03-03", signedWalk(30))
	b.ReportAllocs()
	require.NoError(b, m.s.writer.do(b.Context(), func(tx *Tx) error {
		for seq := int64(0); b.Loop(); seq++ {
			var u unsaid
			u.add(m.id, 100+seq%800, words)
			if err := tx.say(u); err != nil {
				return err
			}
		}
		return nil
	}))
}
