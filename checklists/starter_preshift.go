package checklists

import (
	"slices"

	"stillsaw/procedures"
)

// PreShift is the id of the starter list walked before each shift.
const PreShift ListID = "pre-shift"

const practice = "common practice, no source"

// mostRepeats bounds items repeated for each headblock or entry point, so that
// a slip of the hand at set-up does not make an endless list.
const mostRepeats = 24

// preShiftItems are the checks of every shift, for the equipment the plant has.
func preShiftItems(a SetUp, plant procedures.Plant) []Item {
	var items []Item
	for _, station := range [][]Item{
		stopItems(a), carriageItems(a), dogItems(a), sawItems(a), primeMoverItems(a, plant),
		hoistItems(a), dustItems(a, plant), areaItems(a),
	} {
		items = append(items, station...)
	}
	items = fitted(items, plant)
	return append(items, otherItems(plant, items)...)
}

// otherItems asks one general item of each piece of equipment that has none,
// such as a compressor or a slab conveyor: what nobody checks may never run.
func otherItems(plant procedures.Plant, items []Item) []Item {
	var more []Item
	for _, e := range plant {
		asked := slices.ContainsFunc(items, func(i Item) bool { return i.Equipment == e.ID })
		if asked || e.Kind == procedures.Site || len(items) == 0 {
			continue
		}
		more = append(more, at(e.Name, e.ID, Item{ID: ItemID("O-" + string(e.ID)), State: Stopped, Severity: Stop, DefectPhoto: true,
			Source: "29 CFR 1910.212(a)(1)",
			Prompt: e.Name + ": looks sound, every guard is on, nothing leaks",
			How:    "Walk round it with a light, nobody's hand near a moving part."})...)
	}
	return more
}

// order is the place of the state in a walk.
func (s MachineState) order() int {
	switch s {
	case LockedOut:
		return 1
	case Stopped:
		return 2
	case Running:
		return 3
	}
	return 0
}

// at gives items their station and equipment; an item without a kind is a choice.
func at(station string, equipment procedures.EquipmentID, items ...Item) []Item {
	for i := range items {
		items[i].Station, items[i].Equipment = station, equipment
		if items[i].Kind == "" {
			items[i].Kind = Choice
		}
	}
	return items
}

// repeats is how often an item is asked for something counted at set-up: at
// least once, also when the count was not stated.
func repeats(count int) int { return min(max(count, 1), mostRepeats) }

// whenElse is for words that vary with one answer.
func whenElse(condition bool, then, otherwise string) string {
	if condition {
		return then
	}
	return otherwise
}

func bound(x float64) *float64 { return &x }
