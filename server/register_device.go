package server

import (
	"net/url"
	"slices"
	"strconv"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// cutGroup is what a device may keep away, by the piece that holds it.
type cutGroup struct {
	Heading string
	Own     bool // of the piece the device is at
	Open    bool // something in it is ticked
	Fields  []views.Field
}

// device is the one the address names, a zero one to be added.
func (v *visit) device(e procedures.Equipment) (procedures.Device, error) {
	id := v.Params("device")
	if id == newPart && e.Kind != procedures.Site {
		return procedures.Device{}, nil
	}
	i := slices.IndexFunc(e.Devices, func(own procedures.Device) bool { return string(own.ID) == id })
	if i < 0 {
		return procedures.Device{}, store.ErrNotFound
	}
	return e.Devices[i], nil
}

func (s *Server) showDevice(v *visit) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	d, err := v.device(e)
	if err != nil {
		return err
	}
	return v.devicePage(plant, e, d, deviceTyped(d), store.NewID(), store.Mark(e), nil)
}

// How a device takes a lock, as a form sends it.
const (
	lockStraight = "yes"
	lockAdapter  = "adapter"
	lockNot      = "no"
)

func deviceTyped(d procedures.Device) func(string) string {
	typed := map[string]string{"kind": string(d.Kind), "label": d.Label, "place": d.Place}
	if d.Number > 0 {
		typed["number"] = strconv.Itoa(d.Number)
	}
	switch {
	case d.Adapter:
		typed["lock"] = lockAdapter
	case d.Lockable:
		typed["lock"] = lockStraight
	case d.ID != "":
		typed["lock"] = lockNot
	}
	for _, id := range d.Cuts {
		typed["cuts."+string(id)] = "yes"
	}
	return func(field string) string { return typed[field] }
}

// controls are in the list of kinds beside the isolators: whoever looks for one
// finds it and is told why it isn't one.
func controls(f *views.Frame) []views.Choice {
	return []views.Choice{views.Offer("stop-button", f.T("stop button, emergency stop")), views.Offer("push-button", f.T("push button")), views.Offer("pendant", f.T("pendant of the hoist")),
		views.Offer("selector", f.T("selector switch")), views.Offer("key", f.T("key, ignition")), views.Offer("clutch-lever", f.T("clutch lever"))}
}

func (v *visit) devicePage(plant procedures.Plant, e procedures.Equipment, d procedures.Device, typed func(string) string, submission, seen string, problems plain.Problems) error {
	page := registerPart{Frame: v.frame("%[1]s: %[2]s", e.Name, d.Label), Back: machinePath(e.ID), New: d.ID == "", Submission: submission, Seen: seen,
		Action: machinePath(e.ID) + "/device/" + url.PathEscape(v.Params("device"))}
	if page.New {
		page.Title = plain.Say("%s: one more isolating device", e.Name)
	}
	page.Problems = problems
	var kinds []views.Choice
	for _, kind := range procedures.DeviceKinds() {
		kinds = append(kinds, views.Offer(string(kind), page.Say(kind.Words())))
	}
	page.Fields = []views.Field{
		page.ChoiceField("kind", page.T("Kind"), typed("kind"), append(kinds, controls(page.Frame)...)).WithHint(page.T("Stop button, pendant, key and lever stand in the list to tell you why they don't isolate.")),
		page.TextField("label", page.T("What it is called"), typed("label")),
		page.TextField("place", page.T("Where it is"), typed("place")),
		page.NumberField("number", page.T("Number painted on it"), typed("number")).WithHint(page.T("Empty if none is painted.")),
		page.ChoiceField("lock", page.T("Takes a lock"), typed("lock"), []views.Choice{{Value: lockStraight, Text: page.T("Yes, straight on it")}, {Value: lockAdapter, Text: page.T("Yes, with an adapter kept with the locks")}, {Value: lockNot, Text: page.T("No")}}),
	}
	page.CutsWrong = page.Problem("cuts")
	page.Cuts = cutsOf(page.Frame, plant, e.ID, typed)
	var err error
	if page.Photo, err = v.marked(d); err != nil {
		return err
	}
	page.PhotoKept = d.Photo
	shown := ""
	if d.Photo != "" {
		shown = page.T("a photo")
	}
	page.Note("photo", page.T("Photo of the place"), d.Photo, shown)
	page.Says = page.T("This is how it stands at the machine. It goes on the record.")
	return v.show("register-device", page, problems)
}

// cutsOf offers every energy of the plant, those of the piece itself first.
func cutsOf(f *views.Frame, plant procedures.Plant, own procedures.EquipmentID, typed func(string) string) []cutGroup {
	var groups []cutGroup
	for _, e := range plant {
		group := cutGroup{Heading: e.Name, Own: e.ID == own}
		for _, energy := range e.Energies {
			name := "cuts." + string(energy.ID)
			group.Fields = append(group.Fields, f.TickField(name, energy.Source, typed(name) == "yes").WithHint(f.Say(energy.Kind.Words())))
			group.Open = group.Open || typed(name) == "yes"
		}
		switch {
		case len(group.Fields) == 0:
		case group.Own:
			groups = append([]cutGroup{group}, groups...)
		default:
			groups = append(groups, group)
		}
	}
	return groups
}

func (s *Server) keepDevice(v *visit) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	before, err := v.device(e)
	if err != nil {
		return err
	}
	photo, problems, err := v.photoOrBefore("photo")
	if err != nil {
		return err
	}
	d := v.readDevice(plant, before, photo)
	problems.Unless(v.typed("lock") != "", "lock", "whether it takes a lock")
	_, wrong := plant.KeepDevice(e.ID, d)
	problems.Add("", wrong)
	unsigned, err := v.sign()
	if err != nil {
		return err
	}
	if problems = append(problems, unsigned...); len(problems) == 0 {
		err := v.desk.EditRegister(v.ctx(), v.submission(), v.since(), e.ID, v.person, v.now, func(p procedures.Plant) (procedures.Plant, error) { return p.KeepDevice(e.ID, d) })
		if err == nil {
			if d.Photo != "" && d.Photo != before.Photo && before.ID != "" {
				return v.moveOn(machinePath(e.ID)+"/device/"+url.PathEscape(string(d.ID))+"/point", "register")
			}
			return v.moveOn(machinePath(e.ID), "register")
		}
		if problems, err = problemsOf(err); err != nil {
			return err
		}
	}
	now := stands{mark: store.Mark(e)}
	if before.ID != "" {
		now.page = func() error { return s.showDevice(v) }
	}
	before.Photo, before.Point = d.Photo, d.Point
	return v.again(problems, now, func() error {
		return v.devicePage(plant, e, before, v.typed, v.submission(), v.typed("seen"), problems)
	})
}

// readDevice is the device as typed, with a photo just taken, if there is one.
func (v *visit) readDevice(plant procedures.Plant, d procedures.Device, photo string) procedures.Device {
	if d.ID == "" {
		d.ID = procedures.DeviceID(store.NewID())
	}
	d.Kind, d.Label, d.Place, d.Number = procedures.DeviceKind(v.typed("kind")), v.typed("label"), v.typed("place"), 0
	if text := v.typed("number"); text != "" {
		if d.Number = whole(text); d.Number == 0 {
			d.Number = -1 // a painted 0 is no number; empty is none
		}
	}
	d.Adapter = v.typed("lock") == lockAdapter
	d.Lockable = d.Adapter || v.typed("lock") == lockStraight
	d.Cuts = nil
	for _, e := range plant {
		for _, energy := range e.Energies {
			if v.typed("cuts."+string(energy.ID)) == "yes" {
				d.Cuts = append(d.Cuts, energy.ID)
			}
		}
	}
	switch {
	case photo != "" && photo != d.Photo:
		d.Photo, d.Point = photo, procedures.Point{}
	case v.typed("no_photo") == "yes":
		d.Photo, d.Point = "", procedures.Point{}
	}
	return d
}

func (s *Server) dropDevice(v *visit) error {
	plant, e, err := v.piece()
	if err != nil {
		return err
	}
	d, err := v.device(e)
	if err != nil || d.ID == "" {
		return store.ErrNotFound
	}
	return v.keepRegister(e, nil, func(p procedures.Plant) (procedures.Plant, error) { return p.DropDevice(d.ID) },
		func(problems plain.Problems) error {
			return v.devicePage(plant, e, d, deviceTyped(d), store.NewID(), store.Mark(e), problems)
		})
}
