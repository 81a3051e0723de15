package server

import (
	"net/url"

	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func weighingSaid(w store.Weighing) plain.Sentence {
	if w.Aside {
		return plain.Say("A reading of the scale put aside: %s", w.Note)
	}
	return plain.Say("A lift weighed: the scale showed %[1]s, %[2]s of it gear.", plain.Kilograms(w.Reading), plain.Kilograms(w.Gear))
}

func gearInspectionSaid(in store.GearInspection) plain.Sentence {
	if in.Fit {
		return plain.Say("A part of the rig %[1]s inspected and passed: %[2]s.", in.Rig, in.Link)
	}
	return plain.Say("A part of the rig %[1]s inspected and not fit: %[2]s. %[3]s", in.Rig, in.Link, in.Note)
}

// gearPath is the page of one part of a rig.
func gearPath(rig, link string) string {
	return "/gear/" + url.PathEscape(rig) + "/" + url.PathEscape(link)
}
