package server

import (
	"stillsaw/procedures"
	"stillsaw/views"
)

// hangsTag tells whether s hangs a tag at a device that takes no lock.
func hangsTag(p procedures.Procedure, s procedures.Step) bool {
	return s.Stage == procedures.Apply && s.Device != "" && !lockable(p, s.Device)
}

// tagFields ask how a tag hangs, and what is done beside it.
func tagFields(f *views.Frame, p procedures.Procedure, s procedures.Step, r report) []views.Field {
	id := string(s.ID)
	choices := []views.Choice{{Text: f.T("Choose")}}
	for _, means := range procedures.ExtraMeansKnown() {
		choices = append(choices, views.Offer(string(means), f.Say(means.Words())))
	}
	tick := func(name, label string) views.Field { return f.TickField(name+id, label, r.again(name+id) == "yes") }
	legend, hazard := p.TagAt(s.Device)
	return []views.Field{
		tick("tag-says.", f.T("My own tag says %[1]s, and what happens else: %[2]s", legend.Words(), hazard)),
		tick("tag-read.", f.T("The tag can be read")),
		tick("tag-tied.", f.T("Tied with a tie for one use that locks itself and holds 50 lb (222 N)")),
		tick("tag-there.", f.T("It hangs on the device itself")),
		f.TextField("tag-where."+id, f.T("Else: where it hangs"), r.again("tag-where."+id)),
		f.ChoiceField("tag-means."+id, f.T("A tag holds nothing. What else keeps the energy away"), r.again("tag-means."+id), choices),
	}
}

// readTag takes what was said of a tag.
func (v *visit) readTag(p procedures.Procedure, s procedures.Step, e *procedures.Event) {
	id := string(s.ID)
	e.Tag = procedures.Tag{Owner: v.person.ID, Readable: v.typed("tag-read."+id) == "yes", Fastening: v.typed("tag-tied."+id) == "yes",
		OnDevice: v.typed("tag-there."+id) == "yes", Where: v.typed("tag-where." + id)}
	if v.typed("tag-says."+id) == "yes" {
		e.Tag.Legend, e.Tag.Hazard = p.TagAt(s.Device)
	}
	if means := v.typed("tag-means." + id); means != "" {
		e.Means = []procedures.ExtraMeans{procedures.ExtraMeans(means)}
	}
}

// positionOf is how a lock holds the device, by what the device is.
func positionOf(p procedures.Procedure, id procedures.DeviceID) procedures.Position {
	for _, d := range p.Devices {
		if d.ID == id {
			return d.Kind.Position()
		}
	}
	return ""
}
