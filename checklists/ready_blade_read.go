package checklists

import (
	"strings"
	"time"

	"stillsaw/procedures/plain"
)

// CrackItem is the item of a check that asks for the longest crack in the saw
// that is on.
const CrackItem ItemID = "S3"

// readOff is the newest answer to the item that tells something, in a signed
// check or added to one, given from since on; whichever list asked it. One
// answered again counts as it was answered last.
func (f Facts) readOff(item ItemID, tells func(Answer) bool, since, now time.Time) (newest Answer, list ListID, version int) {
	look := func(answers []Answer, of ListID, v int) {
		for _, a := range answers {
			if a.Item.written() == item && tells(a) && !a.At.Before(since) && !a.At.After(now) && !a.At.Before(newest.At) {
				newest, list, version = a, of, v
			}
		}
	}
	for _, in := range f.Inspections {
		look(in.Answers, in.List, in.Version)
	}
	for _, am := range f.Amendments {
		look(am.Answers, am.List, am.Version)
	}
	return newest, list, version
}

// holdByReading holds the head saw on what was read off the saw itself since it
// was changed last: the serial number of another one, or of one that is out of
// use; a crack that puts the saw reported fitted out of use, though not the
// larger one the list's limit is of.
func (f Facts) holdByReading(hold func(Hold), on BladeStanding, some bool, changed, now time.Time) {
	all := Blades(f.Blades, f.BladeActs)
	read, list, _ := f.readOff(FittedItem, func(a Answer) bool { return a.Text != "" }, changed, now)
	for _, s := range all {
		if read.Text == "" || !sameSerial(s.Serial, read.Text) || some && s.ID == on.ID {
			continue
		}
		barred := s.Over != nil || s.Out != nil || s.Scrapped != nil
		switch {
		case some:
			hold(Hold{Since: read.At, By: read.By, Ref: string(list), Reason: SerialSaid(read.Text, all),
				Clears: plain.Say("The change is reported in the saw register, or the number is read again and the answer signed.")})
		case barred:
			hold(Hold{Since: read.At, By: read.By, Ref: string(list), Reason: plain.Say("Saw %[1]s was read off the spindle. %[2]s", s.Serial, s.Against(f.Mill.SetUp.SpindleSpeed)[0].Why),
				Clears: plain.Say("The saw is taken off under lockout, and one that may be fitted is put on and reported.")})
		}
	}
	if !some {
		return
	}
	crack, list, version := f.readOff(CrackItem, func(a Answer) bool { return a.Number != nil }, changed, now)
	if crack.Number == nil {
		return
	}
	if long := plain.Metres(*crack.Number) * f.lengthUnit(list, version, crack.Item); on.Cracked(long) {
		hold(Hold{Since: crack.At, By: crack.By, Ref: string(list), Reason: plain.Say("A crack of %[1]s was measured in saw %[2]s; at %[3]s a saw of this size is out of use, and only a sawsmith mends it.", plain.Gauged(long), on.Serial, on.CrackLimit()),
			Clears: plain.Say("The crack is entered in the saw register, the saw taken off under lockout, and one that may be fitted is put on and reported. Read wrong, it is measured again and the answer signed.")})
	}
}

// lengthUnit is the unit an item of a list measures a length in. One that can't be
// told counts as inches, which makes of millimetres too long a crack, never too short.
func (f Facts) lengthUnit(list ListID, version int, id ItemID) plain.Metres {
	unit := ""
	for _, l := range f.Lists {
		if item, known := l.Item(id); known && l.ID == list && (unit == "" || l.Version == version) {
			unit = item.Limits.Unit
		}
	}
	switch strings.ToLower(strings.TrimSpace(unit)) {
	case "mm":
		return 0.001
	case "cm":
		return 0.01
	}
	return plain.Inch
}
