package demo

import (
	"errors"

	"stillsaw/checklists"
	"stillsaw/server/store"
)

// wroteTooMuch is a note to the newest described defect that says more of somebody
// than a mill needs to keep.
func (m *mill) wroteTooMuch() {
	m.do("note", func() error {
		told, _, err := m.desk.Entries(m.ctx, store.Filter{Kind: store.KindDescribed, Limit: 1})
		if err != nil || len(told) == 0 {
			return errors.Join(err, errors.New("no defect was described"))
		}
		return m.desk.NoteDefect(m.ctx, store.NewID(), checklists.DefectID(told[0].Subject), checklists.DefectNote{Kind: checklists.Noted,
			Text: "Imre still can't lift his arm since he fell at home, so I held the hook for him"}, m.hollis.Person, m.clock)
	})
}

// settleKeeping is how a supervisor says for how long things are kept, holds what
// an insurer asks about, and drops that note and a photo nobody needs.
func (m *mill) settleKeeping() {
	m.do("set for how long checks are kept", func() error {
		return m.desk.SetKeepFor(m.ctx, store.NewID(), checklists.KeepPolicy{Sort: checklists.KeepChecks, Values: 5, Photos: 3,
			Reason: "Our counsel: longer than any claim here can be made, and the photos fill the disk"}, m.marta.Person, m.clock)
	})
	m.later(3)
	m.do("hold", func() error {
		_, err := m.desk.SetHold(m.ctx, store.NewID(), checklists.KeepHold{Equipment: "carriage", Reason: "The insurer asks about the slab freed by hand"}, m.marta.Person, m.clock)
		return err
	})
	m.later(4)
	m.do("drop a note and a photo", func() error {
		notes, _, err := m.desk.Entries(m.ctx, store.Filter{Kind: store.KindDefectNoted, Limit: 1})
		if err != nil || len(notes) == 0 {
			return errors.Join(err, errors.New("no note to drop"))
		}
		for _, g := range []store.Going{{Seq: notes[0].Seq, Path: "/text"}, {Photo: m.photos[openLatch]}} {
			shown, err := m.desk.ShowDrop(m.ctx, g, m.marta.Person, m.clock)
			if err != nil {
				return err
			}
			word := checklists.DropByHand{Reason: "It says more of Imre than the mill needs", Rule: "Imre asked for it; no law asks for such a note"}
			if g.Photo != "" {
				word = checklists.DropByHand{Reason: "A face can be seen in the background", Rule: "The person asked for it; the latch is mended"}
			}
			if err := m.desk.DropByHand(m.ctx, store.NewID(), store.Mark(shown), g, word, m.marta.Person, m.clock); err != nil {
				return err
			}
		}
		return nil
	})
}
