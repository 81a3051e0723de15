package server

import (
	"strconv"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// piecePart is one energy, device or kind of link on the form.
type piecePart struct {
	Heading, Hint string
	More          string // where the rest of it is changed
	Fields        []views.Field
}

type piecePage struct {
	*views.Frame
	ID         string
	Submission string
	Seen       string
	Name       views.Field
	Energies   []piecePart
	Devices    []piecePart
	Links      []piecePart
	Track      []views.Field // of a carriage: where its headblocks stand
	Site       bool
	Parts      []string
}

func (s *Server) showPiece(v *visit) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	return v.piecePage(plant, e, pieceTyped(e, v.typedIn), store.NewID(), nil)
}

func (v *visit) piece() (procedures.Plant, procedures.Equipment, error) {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return nil, procedures.Equipment{}, err
	}
	e, ok := plant.Find(procedures.EquipmentID(v.Params("id")))
	if !ok {
		return nil, e, store.ErrNotFound
	}
	return plant, e, nil
}

// pieceTyped is how the fields of a piece are filled in before anything is typed.
func pieceTyped(e procedures.Equipment, in measures) func(string) string {
	r := newReader(in)
	typed := map[string]string{"name": e.Name}
	for _, energy := range e.Energies {
		typed["size."+string(energy.ID)] = energy.Magnitude
	}
	for _, d := range e.Devices {
		typed["label."+string(d.ID)], typed["place."+string(d.ID)] = d.Label, d.Place
		if d.Number > 0 {
			typed["number."+string(d.ID)] = strconv.Itoa(d.Number)
		}
	}
	for i, at := range e.Headblocks {
		if i > 0 {
			typed["headblocks"] += "; "
		}
		typed["headblocks"] += r.lengthTyped(at)
	}
	if e.LandingMark > 0 {
		typed["landing_mark"] = r.lengthTyped(e.LandingMark)
	}
	for _, link := range e.Links {
		typed["link."+string(link.Kind)+"."+string(link.To)] = "yes"
	}
	return func(field string) string { return typed[field] }
}

func linkKinds() []procedures.LinkKind {
	return []procedures.LinkKind{procedures.Drives, procedures.Supplies, procedures.LandsOn}
}

func (v *visit) piecePage(plant procedures.Plant, e procedures.Equipment, typed func(string) string, submission string, problems plain.Problems) error {
	page := piecePage{Frame: v.frame("%[1]s: %[2]s", e.Name, measured(e)), ID: string(e.ID), Submission: submission, Seen: v.opened(store.Mark(e)), Site: e.Kind == procedures.Site}
	page.Problems = problems
	page.Name = page.TextField("name", page.T("Name"), typed("name"))
	for _, energy := range e.Energies {
		id := string(energy.ID)
		part := piecePart{Heading: energy.Source, Hint: page.T("%[1]s. %[2]s", energy.Kind.Words(), energy.Hazard), Fields: []views.Field{
			page.TextField("size."+id, page.T("Size, number and unit"), typed("size."+id)).WithHint(page.T("As measured or on the plate, such as 480 V, 60 hp. Empty while not yet measured."))}}
		part.More = machinePath(e.ID) + "/energy/" + id
		page.Energies = append(page.Energies, part)
	}
	for _, d := range e.Devices {
		id := string(d.ID)
		page.Devices = append(page.Devices, piecePart{Heading: page.Say(d.Kind.Words()), Hint: page.Say(d.TakesLock()), More: machinePath(e.ID) + "/device/" + id, Fields: []views.Field{
			page.TextField("label."+id, page.T("What it is called"), typed("label."+id)),
			page.TextField("place."+id, page.T("Where it is"), typed("place."+id)),
			page.NumberField("number."+id, page.T("Number painted on it"), typed("number."+id)).WithHint(page.T("Empty if none is painted."))}})
	}
	if e.Kind == procedures.Carriage {
		unit := page.T("millimetres")
		if v.typedIn.units == checklists.InchPound {
			unit = page.T("inches")
		}
		page.Track = []views.Field{
			page.TextField("headblocks", page.T("Headblocks: distance of each from the zero mark, separated by semicolons"), typed("headblocks")).WithHint(page.T("As 1 ft 6 in; 5 ft; 8 ft. A bare number counts as %s. Empty while not measured.", unit)),
			page.TextField("landing_mark", page.T("Where the half-length mark of a piece is set down, from the same zero mark"), typed("landing_mark")).WithHint(page.T("The mark painted on the carriage that the hoist sets pieces down to."))}
	}
	for _, kind := range linkKinds() {
		part := piecePart{Heading: page.Say(linkHeading(kind))}
		for _, other := range plant {
			if other.ID != e.ID && other.Kind != procedures.Site {
				name := "link." + string(kind) + "." + string(other.ID)
				part.Fields = append(part.Fields, page.TickField(name, other.Name, typed(name) == "yes"))
			}
		}
		page.Links = append(page.Links, part)
	}
	for _, id := range plant.Parts(e.ID) {
		page.Parts = append(page.Parts, nameIn(plant, id))
	}
	return v.show("piece", page, problems)
}

func linkHeading(kind procedures.LinkKind) plain.Sentence {
	switch kind {
	case procedures.Drives:
		return plain.Say("It drives, so that moving one moves the other, even by hand")
	case procedures.Supplies:
		return plain.Say("It supplies with power, air or oil")
	}
	return plain.Say("It sets loads down on")
}

func (s *Server) changePiece(v *visit) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	w, problems := v.readPiece(plant, e)
	if len(problems) == 0 {
		_, err := plant.Changed(e.ID, w)
		problems.Add("", err)
	}
	wrong, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, wrong...); len(problems) == 0 {
		err := v.desk.EditEquipment(v.ctx(), v.submission(), v.since(), e.ID, w, v.person, v.now)
		if err == nil {
			return v.moveOn(machinePath(e.ID), "equipment")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.again(problems, stands{mark: store.Mark(e), page: func() error { return s.showPiece(v) }},
		func() error { return v.piecePage(plant, e, v.typed, v.submission(), problems) })
}

// readPiece reads what was typed; numbers that are none are problems at once.
func (v *visit) readPiece(plant procedures.Plant, e procedures.Equipment) (procedures.Particulars, plain.Problems) {
	var problems plain.Problems
	w := procedures.Particulars{Name: v.typed("name"), Sizes: map[procedures.EnergyID]string{}, Coasts: map[procedures.EnergyID]time.Duration{}, Devices: map[procedures.DeviceID]procedures.Fitting{}}
	for _, energy := range e.Energies {
		id := string(energy.ID)
		w.Sizes[energy.ID] = v.typed("size." + id)
		w.Coasts[energy.ID] = energy.Coast // measured, not typed
	}
	for _, d := range e.Devices {
		id := string(d.ID)
		fitting := procedures.Fitting{Marking: procedures.Marking{Label: v.typed("label." + id), Place: v.typed("place." + id)}, Lockable: d.Lockable}
		if text := v.typed("number." + id); text != "" {
			if fitting.Number = whole(text); fitting.Number == 0 {
				fitting.Number = -1 // a painted 0 is no number; empty is none
			}
		}
		w.Devices[d.ID] = fitting
	}
	if e.Kind == procedures.Carriage {
		r := newReader(v.typedIn)
		for _, text := range strings.FieldsFunc(v.typed("headblocks"), func(r rune) bool { return r == ';' || r == ',' && !v.typedIn.comma }) {
			if text = strings.TrimSpace(text); text != "" {
				w.Headblocks = append(w.Headblocks, r.optional("headblocks", text))
			}
		}
		w.LandingMark = r.optional("landing_mark", v.typed("landing_mark"))
		problems = append(problems, r.problems...)
	}
	for _, kind := range linkKinds() {
		for _, other := range plant {
			if v.typed("link."+string(kind)+"."+string(other.ID)) == "yes" {
				w.Links = append(w.Links, procedures.Link{Kind: kind, To: other.ID})
			}
		}
	}
	return w, problems
}

func (s *Server) removePiece(v *visit) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	problems, err := v.sign()
	if err != nil {
		return err
	}
	if len(problems) == 0 {
		err := v.desk.RemoveEquipment(v.ctx(), v.submission(), e.ID, v.person, v.now)
		if err == nil {
			return v.moveOn("/equipment", "equipment")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	return v.piecePage(plant, e, pieceTyped(e, v.typedIn), v.submission(), problems)
}
