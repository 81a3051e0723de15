package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/server/store"
)

func cardOperations() []operation {
	return []operation{
		reads("getEmergencyCard", "/emergency-card", "/help/emergency", "The mill's card for an emergency", getCard),
		writes("putEmergencyCard", fiber.MethodPut, "/emergency-card", "/help/emergency/edit", "Sign a card in place of the one there is. Anybody may read it", putCard),
	}
}

// apiCardFields are what the card tells.
type apiCardFields struct {
	Address       string      `json:"address"`
	FindIt        string      `json:"find_it"`
	Numbers       []apiNumber `json:"numbers"`
	Hospital      string      `json:"hospital"`
	FirstAiders   []string    `json:"first_aiders"`
	Kit           string      `json:"kit"`
	Extinguishers string      `json:"extinguishers"`
	Isolators     string      `json:"isolators"`
	Fuel          string      `json:"fuel"`
	Muster        string      `json:"muster"`
	Meets         string      `json:"meets"`
	Contacts      []apiNumber `json:"contacts"`
}

type apiCard struct {
	Made bool `json:"made" says:"false: the mill has none of its own yet"`
	seen
	apiCardFields
	By procedures.PersonID `json:"by,omitzero"`
	At time.Time           `json:"at,omitzero"`
}

type apiNumber struct {
	Who    string `json:"who"`
	Number string `json:"number"`
}

func getCard(c *call) (apiCard, error) {
	card, err := c.desk.EmergencyCard(c.ctx())
	number := func(n checklists.Call) apiNumber { return apiNumber(n) }
	return apiCard{card.Made(), seen{store.Mark(card)}, apiCardFields{card.Address, card.FindIt, each(card.Numbers, number), card.Hospital, each(card.FirstAiders, asIs), card.Kit, card.Extinguishers,
		card.Isolators, card.Fuel, card.Muster, card.Meets, each(card.Contacts, number)}, card.By, card.At}, err
}

type apiCardPut struct {
	signature
	seen
	apiCardFields
}

func putCard(c *call, b apiCardPut) (apiDone, error) {
	call := func(n apiNumber) checklists.Call { return checklists.Call(n) }
	card := checklists.EmergencyCard{Address: b.Address, FindIt: b.FindIt, Numbers: each(b.Numbers, call), Hospital: b.Hospital, FirstAiders: b.FirstAiders, Kit: b.Kit, Extinguishers: b.Extinguishers,
		Isolators: b.Isolators, Fuel: b.Fuel, Muster: b.Muster, Meets: b.Meets, Contacts: each(b.Contacts, call)}
	return done("", c.desk.SignEmergencyCard(c.ctx(), c.submission(), b.Mark, card, c.person, c.now))
}
