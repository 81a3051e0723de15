package server

import (
	"net/url"
	"slices"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// registerPart is the form of one energy or device of a piece.
type registerPart struct {
	*views.Frame
	Back, Action string
	New          bool
	Fields       []views.Field
	Cuts         []cutGroup // of a device
	CutsWrong    string
	Photo        *markedPhoto
	PhotoKept    string
	Submission   string
	Seen         string
	Says         string // what its signature says
}

// newPart is the last part of an address where one more is added.
const newPart = "new"

// energy is the one the address names, a zero one to be added.
func (v *visit) energy(e procedures.Equipment) (procedures.Energy, error) {
	id := v.Params("energy")
	if id == newPart && e.Kind != procedures.Site {
		return procedures.Energy{}, nil
	}
	i := slices.IndexFunc(e.Energies, func(own procedures.Energy) bool { return string(own.ID) == id })
	if i < 0 {
		return procedures.Energy{}, store.ErrNotFound
	}
	return e.Energies[i], nil
}

func (s *Server) showEnergy(v *visit) error {
	_, e, err := v.piece()
	if err != nil {
		return err
	}
	energy, err := v.energy(e)
	if err != nil {
		return err
	}
	return v.energyPage(e, energy, energyTyped(energy), store.NewID(), store.Mark(e), nil)
}

// energyTyped is how the form is filled in before anything is typed.
func energyTyped(e procedures.Energy) func(string) string {
	typed := map[string]string{"kind": string(e.Kind), "source": e.Source, "size": e.Magnitude, "hazard": e.Hazard, "relief": e.Relief, "zero": e.Zero}
	if e.Stored {
		typed["stored"] = "yes"
	}
	if e.Recheck > 0 {
		typed["recheck"] = minutesTyped(e.Recheck)
	}
	return func(field string) string { return typed[field] }
}

func (v *visit) energyPage(e procedures.Equipment, energy procedures.Energy, typed func(string) string, submission, seen string, problems plain.Problems) error {
	page := registerPart{Frame: v.frame("%[1]s: %[2]s", e.Name, energy.Source), Back: machinePath(e.ID), New: energy.ID == "", Submission: submission, Seen: seen,
		Action: machinePath(e.ID) + "/energy/" + url.PathEscape(v.Params("energy"))}
	if page.New {
		page.Title = plain.Say("%s: one more energy", e.Name)
	}
	page.Problems = problems
	var kinds []views.Choice
	for _, kind := range energyKinds() {
		kinds = append(kinds, views.Offer(string(kind), page.Say(kind.Words())))
	}
	page.Fields = []views.Field{
		page.ChoiceField("kind", page.T("Kind"), typed("kind"), kinds),
		page.TextField("source", page.T("Where it comes from"), typed("source")).WithHint(page.T("As: saw motor, feed rope, cant in the air.")),
		page.TextField("size", page.T("Size, number and unit"), typed("size")).WithHint(page.T("As measured or on the plate, such as 480 V, 60 hp. Empty while not yet measured.")),
		page.AreaField("hazard", page.T("How it hurts"), typed("hazard")),
		page.TickField("stored", page.T("It is still there when the power is off"), typed("stored") == "yes").WithHint(page.T("What coasts, hangs, is stretched, bent or hot always is.")),
		page.AreaField("relief", page.T("How it is let out or held"), typed("relief")),
		page.AreaField("zero", page.T("How one sees that it is gone"), typed("zero")),
		page.NumberField("recheck", page.T("It can build up again: proven again at least every"), typed("recheck")).WithUnit(page.T("minutes")).WithHint(page.T("Empty if it can't.")),
	}
	page.Says = page.T("This is how it stands at the machine. It goes on the record.")
	return v.show("register-energy", page, problems)
}

// energyKinds are the kinds a form offers.
func energyKinds() []procedures.EnergyKind {
	return []procedures.EnergyKind{procedures.Electrical, procedures.Rotation, procedures.Moving, procedures.Gravity, procedures.Spring, procedures.Hydraulic,
		procedures.Pneumatic, procedures.Engine, procedures.Shaft, procedures.Thermal, procedures.Strain, procedures.Chemical}
}

func (s *Server) keepEnergy(v *visit) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	before, err := v.energy(e)
	if err != nil {
		return err
	}
	energy, problems := v.readEnergy(before)
	_, wrong := plant.KeepEnergy(e.ID, energy)
	problems.Add("", wrong)
	return v.keepRegister(e, problems, func(p procedures.Plant) (procedures.Plant, error) { return p.KeepEnergy(e.ID, energy) },
		func(problems plain.Problems) error {
			now := stands{mark: store.Mark(e)}
			if before.ID != "" {
				now.page = func() error { return s.showEnergy(v) }
			}
			return v.again(problems, now, func() error { return v.energyPage(e, before, v.typed, v.submission(), v.typed("seen"), problems) })
		})
}

// readEnergy is the energy as typed, with the coast time it had: that is
// measured, not typed.
func (v *visit) readEnergy(e procedures.Energy) (procedures.Energy, plain.Problems) {
	var problems plain.Problems
	if e.ID == "" {
		e.ID = procedures.EnergyID(store.NewID())
	}
	e.Kind, e.Source, e.Magnitude, e.Hazard = procedures.EnergyKind(v.typed("kind")), v.typed("source"), v.typed("size"), v.typed("hazard")
	e.Stored, e.Relief, e.Zero, e.Recheck = v.typed("stored") == "yes", v.typed("relief"), v.typed("zero"), 0
	if e.Kind != procedures.Rotation {
		e.Coast = 0
	}
	if text := v.typed("recheck"); text != "" {
		minutes, err := checklists.ParseNumber(v.typedIn.pointed("recheck", text, &problems))
		ok := err == nil && minutes > 0 && minutes <= 24*60
		problems.Unless(ok, "recheck", "minutes as a number, at most a day; empty if it can't build up again")
		if ok {
			e.Recheck = time.Duration(minutes * float64(time.Minute))
		}
	}
	return e, problems
}

// keepRegister keeps a change of the piece once nothing is wrong and it is
// signed, else has it shown again.
func (v *visit) keepRegister(e procedures.Equipment, problems plain.Problems, change func(procedures.Plant) (procedures.Plant, error), again func(plain.Problems) error) error {
	unsigned, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, unsigned...); len(problems) == 0 {
		err := v.desk.EditRegister(v.ctx(), v.submission(), v.since(), e.ID, v.person, v.now, change)
		if err == nil {
			return v.moveOn(machinePath(e.ID), "register")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return again(problems)
}

func (s *Server) dropEnergy(v *visit) error {
	_, e, err := v.piece()
	if err != nil {
		return err
	}
	energy, err := v.energy(e)
	if err != nil || energy.ID == "" {
		return store.ErrNotFound
	}
	return v.keepRegister(e, nil, func(p procedures.Plant) (procedures.Plant, error) { return p.DropEnergy(energy.ID) },
		func(problems plain.Problems) error {
			return v.energyPage(e, energy, energyTyped(energy), store.NewID(), store.Mark(e), problems)
		})
}
