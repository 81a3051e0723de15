package server

import (
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// eventLine is one line of a lockout's history.
type eventLine struct {
	Said  plain.Sentence
	More  []plain.Sentence // what was seen, told, counted
	By    string
	At    time.Time
	Late  plain.Sentence // by how much it was entered after it happened; empty where it wasn't
	Photo string
}

func historyOf(l procedures.Lockout, names map[procedures.PersonID]string) []eventLine {
	lines := make([]eventLine, len(l.Events))
	for i, e := range l.Events {
		lines[i] = eventLine{Said: lockoutAct(l.Procedure, e), More: eventMore(e, names), By: names[e.Person], At: e.At, Late: lateEvent(e)}
		if e.Photo != "" {
			lines[i].Photo = "/photos/" + e.Photo
		}
	}
	return lines
}

// lateEvent says that an event was entered afterwards, and by how much where that
// is kept.
func lateEvent(e procedures.Event) plain.Sentence {
	if said := procedures.LateSaid(e.Entered, e.At); e.Late && !said.Empty() {
		return said
	}
	if e.Late {
		return plain.Say("entered afterwards")
	}
	return plain.Sentence{}
}

// eventMore is what an event says beside the act itself.
func eventMore(e procedures.Event, names map[procedures.PersonID]string) []plain.Sentence {
	var more []plain.Sentence
	if e.Kind != procedures.Began && e.Proof != "" && e.Proof != procedures.Tick {
		more = append(more, plain.Say("Reported: %s.", e.Proof.Words()))
	}
	if e.OffBack && (e.Proof == procedures.TryStart || e.Kind == procedures.TestEnded) {
		more = append(more, plain.Say("Control reported back at off."))
	}
	if e.Craft != "" {
		more = append(more, plain.Say("Craft or firm: %s.", e.Craft))
	}
	if e.Coordinator != "" {
		more = append(more, plain.Say("%s coordinates it with the other lockout of this equipment.", names[e.Coordinator]))
	}
	if e.Position != "" {
		more = append(more, plain.Say("Device reported %s.", e.Position.Words()))
	}
	more = append(more, tagMore(e)...)
	switch {
	case e.Kind == procedures.HandedOver && e.ToEnd:
		more = append(more, plain.Say("How it stood: %s", e.Told))
	case e.Kind == procedures.HandedOver:
		more = append(more, plain.Say("Told by %[1]s: %[2]s", names[e.From], e.Told))
	case e.Told != "":
		more = append(more, plain.Say("Told: %s", e.Told))
	}
	switch {
	case e.KeysInBox && e.Kind == procedures.Joined:
		more = append(more, plain.Say("Keys of every lock reported seen in the box."))
	case e.KeysInBox:
		more = append(more, plain.Say("Keys of the new locks reported in the box."))
	}
	if e.ToolsIn > 0 {
		more = append(more, plain.Say("%d tools and parts counted in.", e.ToolsIn))
	}
	if e.ToolsOut > 0 {
		more = append(more, plain.Say("%d tools and parts counted out.", e.ToolsOut))
	} else if e.Tools {
		more = append(more, plain.Say("Tools and parts reported out."))
	}
	if e.LeftMill {
		more = append(more, plain.Say("Recorded as having left the mill."))
	}
	if e.Clear && e.Over {
		more = append(more, plain.Say("Nobody reported in since the power came on."))
	}
	if e.Clear && e.Kind == procedures.Energized {
		more = append(more, plain.Say("Everybody reported seen clear."))
	}
	if e.BeforeEnd {
		more = append(more, plain.Say("Before the end that was expected."))
	}
	if e.NotHere != "" {
		more = append(more, plain.Say("How it was made sure that they were not here: %s", e.NotHere))
	}
	for _, try := range e.Tries {
		more = append(more, plain.Say("Tried %[1]s: %[2]s. %[3]s", try.At, try.Way, try.Result))
	}
	switch {
	case e.Kind == procedures.Began || e.Note == "": // the task is said already
	case e.Kind == procedures.Energized:
		more = append(more, plain.Say("What moves: %s", e.Note))
	default:
		more = append(more, plain.Say("Note: %s", e.Note))
	}
	return more
}

// tagMore says how a tag hangs where no lock goes on.
func tagMore(e procedures.Event) []plain.Sentence {
	if e.Tag == (procedures.Tag{}) {
		return nil
	}
	var more []plain.Sentence
	if e.Tag.Legend != "" {
		more = append(more, plain.Say("Its tag says: %s.", e.Tag.Legend.Words()))
	}
	if e.Tag.OnDevice {
		more = append(more, plain.Say("Own tag reported on the device itself."))
	} else {
		more = append(more, plain.Say("Own tag reported at: %s", e.Tag.Where))
	}
	for _, means := range e.Means {
		more = append(more, plain.Say("Besides: %s.", means.Words()))
	}
	return more
}
