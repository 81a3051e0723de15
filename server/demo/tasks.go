package demo

import (
	"stillsaw/procedures"
	"stillsaw/server/store"
)

// answerForTasks is Marta going through the starter tasks: she answers for what
// is production, but for one she wants to watch first, and enters one of minor
// servicing.
func (m *mill) answerForTasks() {
	var all []procedures.Task
	m.do("read the tasks", func() (err error) {
		all, err = m.desk.Tasks(m.ctx)
		return err
	})
	for _, t := range all {
		if t.Kind == procedures.Production && t.ID != "sweep-outside" {
			m.keepTask(store.Mark(t), t)
		}
	}
	m.keepTask("", procedures.Task{Title: "Set the guides by hand from outside the shield", Equipment: []procedures.EquipmentID{"head-saw"}, Kind: procedures.MinorServicing,
		GuardOff: procedures.No, BodyIn: procedures.No, Routine: procedures.Yes, Repetitive: procedures.Yes, Integral: procedures.Yes, Protected: procedures.Yes,
		Measure: "Hand wheel outside the shield; both feet behind the yellow line", Note: "With a tool or inside the guard it is servicing."})
}

func (m *mill) keepTask(seen string, t procedures.Task) {
	m.later(1)
	m.do("keep the task "+t.Title, func() error {
		_, err := m.desk.KeepTask(m.ctx, store.NewID(), seen, t, m.marta.Person, m.clock)
		return err
	})
}

// rewordHoist is a draft Marta has begun: the scope in plainer words.
func (m *mill) rewordHoist() {
	m.do("draft a next version", func() error {
		p := m.papers["hoist"]
		p.Version = 0
		p.Scope = "Everything done at the hoist, its trolley and its yoke with a hand on it: oiling, looking the hook over, changing the chain."
		draft, err := store.DraftOf(store.Procedures, string(p.ID), p.Title, p)
		if err != nil {
			return err
		}
		return m.desk.KeepDraft(m.ctx, draft, m.clock)
	})
}
