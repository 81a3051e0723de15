package demo

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/server/store"
)

// today is the moment the day began at the mill.
func (m *mill) today() time.Time {
	year, month, day := m.clock.In(m.zone).Date()
	return time.Date(year, month, day, 0, 0, 0, 0, m.zone).UTC()
}

// train enters that people were trained to lock out by every procedure.
func (m *mill) train(people ...*hand) {
	var all []procedures.Procedure
	for _, p := range procedures.StarterProcedures(m.plant, m.about.SetUp.Answers()) {
		if read, ok := m.papers[p.ID]; ok {
			all = append(all, read)
		}
	}
	for _, h := range people {
		m.do("train "+h.Name, func() error {
			t := procedures.OwnTraining(h.Person, all, m.today())
			t.OwnWord, t.Trainer, t.Covered = false, m.marta.Name, "Each procedure at its machine, locks on and off, the coast of saw and fan"
			_, err := m.desk.EnterTraining(m.ctx, store.NewID(), t, m.marta.Person, m.clock)
			return err
		})
		m.later(2)
	}
}

// sayProgram signs the mill's program of energy control.
func (m *mill) sayProgram() {
	m.do("say the program", func() error {
		crew := []procedures.PersonID{m.oren.ID, m.delphine.ID, m.hollis.ID, m.perrin.ID}
		p := procedures.Program{
			Purpose:     "Nobody is hurt by a machine that starts, moves or lets go while somebody reaches into it.",
			Duty:        "Everybody keeps to it: crew, deputy, supervisor and whoever comes from outside.",
			InCharge:    m.marta.ID,
			Scope:       "Head saw, carriage, dogs and knees, hoist and dust collection: greasing, clearing, mending, saw changes.",
			Enforcement: "Work without a lock ends at once. It is talked over the same day; the second time means home without pay.",
			Law:         procedures.Law(m.about.SetUp.Law),
			AbsentOwner: "Look for the owner everywhere, telephone, ask at home. Marta signs for it, with a second person at the machine. The owner is told at the gate before the next shift.",
			LockColour:  "red", TagStandard: "Red and white card, printed, name and photo, nylon tie",
		}
		for _, e := range m.plant {
			if e.Kind != procedures.Site {
				p.Affected = append(p.Affected, procedures.Affected{Equipment: e.ID, People: crew})
			}
		}
		return m.desk.KeepProgram(m.ctx, store.NewID(), p, m.marta.Person, m.clock)
	})
}

// exchange enters the electricians from outside and what was told of them.
func (m *mill) exchange() {
	m.do("exchange procedures", func() error {
		c := procedures.Contractor{Firm: "Tamarack Lane Electric", OursGiven: m.today(), TheirsSeen: m.today(),
			Restrictions: "Their lock stays on the main until they say so themselves. Nobody closes it for them.",
			Briefed:      []procedures.PersonID{m.oren.ID, m.delphine.ID, m.imre.ID}}
		_, err := m.desk.KeepContractor(m.ctx, store.NewID(), c, m.marta.Person, m.clock)
		return err
	})
}

// inspectProcedure is Marta's yearly look at how the head rig is locked for the
// night, gone over with everybody who may lock it.
func (m *mill) inspectProcedure() {
	m.do("inspect a procedure", func() (err error) {
		p := m.papers["head-rig"]
		in := procedures.ProcedureInspection{Procedure: p.ID, Equipment: p.Equipment, On: m.today(), ShownBy: m.oren.ID, Inspector: m.marta.ID, TagLimits: procedures.TagPoints(),
			Findings: []procedures.Finding{
				{Said: "The hasp at the saw disconnect is worn, a second lock hardly fits", Kind: procedures.WrongGear, Owner: m.imre.ID, Due: m.today().AddDate(0, 0, 7)},
				{Said: "The number at the carriage chock can't be read from the stand", Kind: procedures.WrongText, Owner: m.oren.ID, Due: m.today().AddDate(0, 2, 0)}}}
		for _, h := range []*hand{m.oren, m.delphine, m.imre, m.hollis} {
			in.Reviewed = append(in.Reviewed, procedures.Review{Person: h.ID, On: m.today()})
		}
		for _, h := range m.more {
			if h.Works() {
				in.Reviewed = append(in.Reviewed, procedures.Review{Person: h.ID, On: m.today()})
			}
		}
		for _, h := range []*hand{m.oren, m.delphine, m.hollis, m.perrin} {
			in.Affected = append(in.Affected, procedures.Review{Person: h.ID, On: m.today()})
		}
		m.certified, err = m.desk.InspectProcedure(m.ctx, store.NewID(), in, "", m.marta.Person, m.clock)
		return err
	})
}

// newHasp is what came of it.
func (m *mill) newHasp() {
	m.do("see to a finding", func() error {
		return m.desk.SeeToFinding(m.ctx, store.NewID(), m.certified, 0, "New hasp, takes six locks", m.imre.Person, m.clock)
	})
}
