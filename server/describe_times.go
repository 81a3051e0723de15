package server

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// clocks are what of an entry is told by two: the server's and that of the phone
// it was entered on.
func (t teller) clocks(e store.Entry) procedures.PhoneClock {
	clock := procedures.PhoneClock{At: e.At, Phone: e.Phone}
	if in, ok := e.Body.(checklists.Inspection); ok && clock.Phone.IsZero() {
		clock.Phone = in.Phone // kept there before every entry had it
	}
	if zone, err := t.mill.LocationAt(e.At); err == nil {
		clock.Mill = zone
	}
	return clock
}

// changesShown is how many answers of an amendment its entry tells.
const changesShown = 5

// amendmentSaid is what an amendment made of what was signed before it; ok is
// false where that can't be read any more.
func (v *visit) amendmentSaid(a checklists.Amendment) (said plain.Sentence, ok bool) {
	in, _, err := v.desk.Inspection(v.ctx(), a.Inspection)
	if err != nil {
		return said, false
	}
	list, err := v.desk.List(v.ctx(), a.List, a.Version)
	if err != nil {
		return said, false
	}
	earlier, err := v.desk.Amendments(v.ctx(), a.Inspection)
	if err != nil {
		return said, false
	}
	given := byItem(in.Answers)
	for _, one := range earlier {
		if one.ID == a.ID {
			break
		}
		for _, answer := range one.Answers {
			given[answer.Item] = answer
		}
	}
	var changes []plain.Sentence
	for _, answer := range a.Answers {
		item, known := list.Item(answer.Item)
		if !known {
			continue
		}
		if len(changes) == changesShown {
			changes = append(changes, plain.Say("and %d more", len(a.Answers)-changesShown))
			break
		}
		changes = append(changes, plain.Say("%[1]s: was %[2]s, became %[3]s", item.Said(), resultWords(given[answer.Item]), resultWords(answer)))
	}
	return plain.Say("%[1]s amended. %[2]s", in.Title, changes), len(changes) > 0
}

// late says that an entry was made after what it tells, or is dated after it, and
// by how much; empty where it was not. What is entered by the day only is late on a
// later day.
func (t teller) late(e store.Entry) plain.Sentence {
	switch e.Kind {
	case store.KindTraining, store.KindProcedureInspected, store.KindBladeAct, store.KindSafetyCheck:
		zone, err := t.mill.LocationAt(e.At)
		if err != nil {
			zone = time.UTC
		}
		on, entered := e.Happened.In(zone), e.At.In(zone)
		if on.IsZero() || on.Format(time.DateOnly) == entered.Format(time.DateOnly) {
			return plain.Sentence{}
		}
		return plain.Say("of another day: done %[1]s, entered %[2]s", dayOf(on), e.At)
	}
	return procedures.LateSaid(e.At, e.Happened)
}
