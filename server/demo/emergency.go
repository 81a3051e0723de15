package demo

import (
	"stillsaw/checklists"
	"stillsaw/server/store"
)

// signCard is what the invented mill says of itself in an emergency. Its numbers
// are of the range kept free for inventions; only 911 is real.
func (m *mill) signCard() {
	m.later(6)
	card := checklists.EmergencyCard{
		Address:       "412 Sprague Brook Road, Harrow's Notch, Vermont",
		FindIt:        "44.1002 N, 72.8541 W. From the church 2.3 miles up the brook; second gate, red post. Heavy trucks: not over the plank bridge.",
		Numbers:       []checklists.Call{{Who: "Ambulance, fire, police", Number: "911"}, {Who: "Power company, lines down", Number: "802 555 0171"}},
		Hospital:      "Ashmere General, emergency room, 35 minutes by road",
		FirstAiders:   []string{m.oren.Name, m.delphine.Name},
		Kit:           "on the post by the saw, a second one in the office; tourniquet in both",
		Extinguishers: "both ends of the saw house, at the dust bin, in the office",
		Isolators:     "main disconnect on the pole at the gate, red handle down",
		Fuel:          "loader only: valve under the tank behind the shed",
		Muster:        "flagpole at the gate; whoever has the list counts",
		Meets:         "whoever is at the log deck drives to the road with the lights on",
		Contacts:      []checklists.Call{{Who: m.marta.Name, Number: "802 555 0134"}, {Who: m.oren.Name, Number: "802 555 0162"}},
	}
	m.do("sign the emergency card", func() error {
		return m.desk.SignEmergencyCard(m.ctx, store.NewID(), store.Mark(checklists.EmergencyCard{}), card, m.marta.Person, m.clock)
	})
}
