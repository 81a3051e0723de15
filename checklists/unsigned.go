package checklists

import (
	"slices"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
)

// Unsigned is a walk that was finished without contact: every answer is given,
// nobody has signed. It holds the equipment of its list until it is signed, by
// whoever finished it or in their place by a supervisor.
type Unsigned struct {
	Inspection InspectionID             `json:"inspection"`
	List       ListID                   `json:"list"`
	Version    int                      `json:"version"`
	Title      string                   `json:"title"`
	By         procedures.PersonID      `json:"by"`
	Began      time.Time                `json:"began"`
	Seen       time.Time                `json:"seen"` // finished, as far as the phone's clock told
	At         time.Time                `json:"at"`   // the server learned of it
	Answers    int                      `json:"answers"`
	Stops      []ItemID                 `json:"stops"` // answered Defect, stop
	Equipment  []procedures.EquipmentID `json:"equipment"`
	Aside      Aside                    `json:"aside,omitzero"` // it is not to be signed
}

// FoundUnsigned is a stop found in a walk that nobody has signed: an item answered
// Defect that stops its machine.
type FoundUnsigned struct {
	Inspection InspectionID
	List       ListID
	Item       ItemID
	Equipment  procedures.EquipmentID
	What       string
	By         procedures.PersonID
	At         time.Time // zero: of a walk begun anew, to be answered again
}

// Finish makes of the answers of a walk, each taken by [TakeSeen], one that waits
// for its signature. Its errors are those of [Complete]: nothing is finished with
// an answer missing.
func Finish(id InspectionID, list List, answers []Answer, by procedures.Person, mill Mill, began, seen, now time.Time) (Unsigned, error) {
	none := func() string { return "" }
	in, found, err := Complete(list, answers, by, none, mill, began, now, time.Time{}, nil)
	if err != nil {
		return Unsigned{}, err
	}
	u := Unsigned{Inspection: id, List: list.ID, Version: list.Version, Title: list.Title, By: by.ID, Began: began, Seen: seen, At: now, Answers: len(in.Answers)}
	if u.Seen.IsZero() || u.Seen.After(now) {
		u.Seen = now
	}
	for _, d := range found {
		if d.Severity != Mend {
			u.Stops = append(u.Stops, d.Item)
		}
	}
	for _, item := range list.Asks() {
		if !slices.Contains(u.Equipment, item.Equipment) {
			u.Equipment = append(u.Equipment, item.Equipment)
		}
	}
	return u, nil
}

// Stops are the stops found in a walk under way.
func Stops(id InspectionID, list List, answers []Answer) []FoundUnsigned {
	var all []FoundUnsigned
	for _, a := range answers {
		if a.Result != Found || a.Severity == Mend {
			continue
		}
		f := FoundUnsigned{Inspection: id, List: list.ID, Item: a.Item, What: a.Note, By: a.By, At: a.At}
		if item, known := list.Item(a.Item); known {
			f.Equipment = item.Equipment
		}
		all = append(all, f)
	}
	return all
}

// MayAnswer returns nil, or a [plain.Refusal] for somebody who may not change or
// sign what another finished without contact.
func (u Unsigned) MayAnswer(by procedures.Person) error {
	if u.By != "" && u.By == by.ID || by.Supervises() {
		return nil
	}
	return plain.Refuse("", "Somebody else finished this check without contact, and it waits for their signature. A supervisor or the deputy may look at it and sign in their place, or you go through the list yourself.")
}

// Waiting are the walks finished without contact that hold their equipment, the
// oldest first: those nobody has signed and neither whoever finished it nor a
// supervisor has gone through the list and signed since; nor anybody, of one that is
// not to be signed.
func (f Facts) Waiting(now time.Time) []Unsigned {
	var waiting []Unsigned
	for _, u := range f.Unsigned {
		if !f.signed(u, now) {
			waiting = append(waiting, u)
		}
	}
	slices.SortStableFunc(waiting, func(a, b Unsigned) int { return a.At.Compare(b.At) })
	return waiting
}

// signed tells whether a walk finished without contact waits no more.
func (f Facts) signed(u Unsigned, now time.Time) bool {
	return slices.ContainsFunc(f.Inspections, func(in Inspection) bool {
		if in.At.IsZero() || in.At.After(now) || in.List != u.List {
			return false
		}
		if in.ID == u.Inspection && u.Inspection != "" {
			return true
		}
		if in.Version < u.Version {
			return false // an older list may leave out what this one checks
		}
		return u.goneThrough(in) || !u.At.IsZero() && in.At.After(u.At) && f.answersFor(in.Signer, u.By, in.At)
	})
}

// answersFor tells whether what a person signed then takes the place of what by
// left unsigned: it is by, or a supervisor.
func (f Facts) answersFor(signer, by procedures.PersonID, then time.Time) bool {
	if signer != "" && signer == by {
		return true
	}
	at := slices.IndexFunc(f.People, func(p procedures.Person) bool { return p.ID == signer })
	return signer != "" && at >= 0 && f.People[at].Now(then).Supervises()
}

// seenSince tells whether whoever found it, or a supervisor, has looked at the item
// again since and signed what it is like.
func (f Facts) seenSince(s FoundUnsigned, now time.Time) bool {
	looked := func(list ListID, answers []Answer, signer procedures.PersonID, at time.Time) bool {
		if list != s.List || s.At.IsZero() || at.After(now) || !f.answersFor(signer, s.By, at) {
			return false
		}
		return slices.ContainsFunc(answers, func(a Answer) bool {
			return a.Item == s.Item && a.At.After(s.At) && (a.Result == OK || a.Result == Found)
		})
	}
	return slices.ContainsFunc(f.Inspections, func(in Inspection) bool { return looked(in.List, in.Answers, in.Signer, in.At) }) ||
		slices.ContainsFunc(f.Amendments, func(a Amendment) bool { return looked(a.List, a.Answers, a.Signer, a.At) })
}

// holdByUnsigned holds what was checked without contact and not signed, and what
// was found wrong in walks nobody has signed, also where a check of before still
// counts.
func (f Facts) holdByUnsigned(found holdMap, now time.Time) {
	for _, u := range f.Waiting(now) {
		name := f.personNamed(u.By)
		h := Hold{Kind: HeldUnsigned, Since: u.At, By: u.By, Ref: string(u.Inspection),
			Reason: plain.Say("Checked without contact by %[1]s, not yet signed: %[2]s", name, u.Title),
			Clears: plain.Say("%s looks at it and signs, or a supervisor does in their place.", name)}
		if u.IsAside() {
			h = f.holdAside(u)
		}
		f.holdNamed(found, u.Equipment, h)
	}
	for _, s := range f.FoundUnsigned {
		if f.seenSince(s, now) {
			continue
		}
		what := plain.Say("%s", s.What)
		if s.What == "" {
			what = plain.Say("stopped, with nothing more said")
		}
		f.holdNamed(found, []procedures.EquipmentID{s.Equipment}, Hold{Kind: HeldByFinding, Since: s.At, By: s.By, Ref: string(s.Inspection),
			Reason: plain.Say("Found at %[1]s, not yet signed: %[2]s", string(s.Item), what),
			Clears: plain.Say("The check is signed, and then it is mended and returned to service. If it was a slip of the hand, the item is answered again.")})
	}
}

// holdNamed puts a hold on equipment and what a stop there would reach, its own
// first. What names no equipment that is there reaches everything.
func (f Facts) holdNamed(found holdMap, named []procedures.EquipmentID, h Hold) {
	unknown := func(id procedures.EquipmentID) bool { _, known := f.Plant.Find(id); return !known }
	if len(named) == 0 || slices.ContainsFunc(named, unknown) {
		found.put(f.everything(), h)
	}
	for _, id := range named {
		h.From = id
		found.put([]procedures.EquipmentID{id}, h)
	}
	for _, id := range named {
		h.From = id
		found.put(f.Plant.ReachedByStop(id), h)
	}
}

// personNamed is somebody's name as a sentence takes it.
func (f Facts) personNamed(id procedures.PersonID) plain.Sentence {
	for _, p := range f.People {
		if p.ID == id && p.Name != "" {
			return plain.Say("%s", p.Name)
		}
	}
	return plain.Say("somebody no longer named")
}
