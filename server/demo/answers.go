package demo

import (
	"math"

	"stillsaw/checklists"
)

// findings are the answers of a morning that are not as they should be.
type findings map[checklists.ItemID]checklists.Answer

// answers are those to all items of a state.
func (m *mill) answers(state checklists.MachineState, found findings) []checklists.Answer {
	var given []checklists.Answer
	for _, item := range m.list.Items {
		if item.State != state {
			continue
		}
		a, wrong := found[item.ID]
		if !wrong {
			a = m.fine(item)
		}
		a.Item = item.ID
		given = append(given, a)
	}
	return given
}

// fine is the answer to an item that is as it should be.
func (m *mill) fine(item checklists.Item) checklists.Answer {
	a := checklists.Answer{Result: checklists.OK}
	switch item.Kind {
	case checklists.Number:
		number := m.measure(item.ID)
		a.Number = &number
	case checklists.Text:
		a.Text = m.words(item.ID)
	}
	switch item.ID {
	case "C7-1":
		a.Photo = m.photo(wayIn1)
	case "C7-2":
		a.Photo = m.photo(wayIn2)
	case "X1":
		a.Photo = m.photo(coldBin)
	}
	return a
}

// measure is what is read at an item that asks for a number.
func (m *mill) measure(id checklists.ItemID) float64 {
	switch id {
	case "K3": // gap from a dog to the line of the saw
		return m.between(5.0/8, 7.0/8, 1.0/16)
	case "K4": // knees after one set: the pawl wears from day to day
		return math.Round(m.wear*1000) / 1000
	case "S6": // guides
		return m.between(1.0/40, 1.0/25, 1.0/200)
	case "S7-gap":
		return m.between(0.5, 0.75, 1.0/16)
	case "S1-speed":
		return 650
	case "X2":
		return math.Round(m.bin)
	case "X3":
		return m.between(1.0/64, 1.0/16, 1.0/64)
	}
	return 0 // S3: no crack
}

// words is what is entered at an item that asks for them.
func (m *mill) words(id checklists.ItemID) string {
	switch id {
	case "S1":
		return saws()[m.saw]
	case "H4":
		return m.imre.Name
	case "A5":
		return m.delphine.Name
	}
	return m.present()
}
