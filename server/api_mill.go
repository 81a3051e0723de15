package server

import (
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func millOperations() []operation {
	return []operation{
		reads("getMill", "/mill", "/", "What holds for the mill as a whole", apiMillOf),
		reads("listEquipment", "/equipment", "/equipment", "The equipment, each after what it is part of", func(c *call) (items[apiEquipment], error) {
			plant, err := c.desk.Plant(c.ctx())
			return itemsOf(plant, equipmentForAPI), err
		}),
		reads("listReadiness", "/readiness", "/", "Whether each piece of equipment may run, and what holds it", listReadiness),
	}
}

type apiMill struct {
	Name         string      `json:"name"`
	Zone         string      `json:"zone" says:"IANA name of the time zone now"`
	Units        string      `json:"units" says:"of the screens; the API is in SI units" oneof:"inch-pound|metric"`
	Law          string      `json:"law"`
	SingleHanded bool        `json:"single_handed" says:"one person works here alone"`
	Shifts       []apiShift  `json:"shifts"`
	Closed       []apiClosed `json:"closed"`
	Woods        []string    `json:"woods,omitzero" says:"kinds of wood sawn here"`
	SpindleRPM   float64     `json:"spindle_rpm,omitzero"`
	SawDiameterM float64     `json:"saw_diameter_m,omitzero"`
}

type apiShift struct {
	Name   string                `json:"name"`
	Start  string                `json:"start" says:"time of day on the mill's clock, 07:00"`
	End    string                `json:"end" says:"an end before the start is on the next day"`
	Days   []string              `json:"days" oneof:"Sunday|Monday|Tuesday|Wednesday|Thursday|Friday|Saturday"`
	People []procedures.PersonID `json:"people,omitzero" says:"expected to do its checks"`
}

type apiClosed struct {
	From   time.Time `json:"from"`
	Until  time.Time `json:"until"`
	Reason string    `json:"reason"`
}

func apiMillOf(c *call) (apiMill, error) {
	m := c.mill
	return apiMill{Name: m.Name, Zone: c.zone.String(), Units: string(m.Units), Law: m.SetUp.Law, SingleHanded: m.SingleHanded, Woods: m.Kinds,
		SpindleRPM: m.SetUp.SpindleSpeed, SawDiameterM: float64(m.SetUp.SawDiameter),
		Closed: each(m.Closed, func(one checklists.Closure) apiClosed { return apiClosed(one) }), Shifts: each(m.Shifts, shiftForAPI)}, nil
}

func shiftForAPI(one checklists.Shift) apiShift {
	return apiShift{Name: one.Name, Start: timeOfDay(one.Start), End: timeOfDay(one.End), People: one.People, Days: each(one.Days, time.Weekday.String)}
}

type apiEquipment struct {
	ID     procedures.EquipmentID `json:"id"`
	PartOf procedures.EquipmentID `json:"part_of,omitzero"`
	Kind   string                 `json:"kind" oneof:"site|head-saw|carriage|dogs-and-knees|hoist|dust-collection|off-bearing|supply"`
	Name   string                 `json:"name"`
	Links  []apiLink              `json:"links" says:"how it acts on others"`
}

type apiLink struct {
	Kind string                 `json:"kind" oneof:"drives|supplies|lands-on"`
	To   procedures.EquipmentID `json:"to"`
}

func equipmentForAPI(e procedures.Equipment) apiEquipment {
	return apiEquipment{ID: e.ID, PartOf: e.PartOf, Kind: string(e.Kind), Name: e.Name,
		Links: each(e.Links, func(l procedures.Link) apiLink { return apiLink{string(l.Kind), l.To} })}
}

type apiReadiness struct {
	Equipment procedures.EquipmentID `json:"equipment"`
	Name      string                 `json:"name"`
	Status    string                 `json:"status" says:"MAY RUN says that nothing reported holds it, not that it is safe" oneof:"NOT KNOWN|HELD|RUN CHECK ONLY|MAY RUN"`
	Holds     []apiHold              `json:"holds" says:"the most serious first"`
	RunCheck  *apiRunCheck           `json:"run_check,omitzero"`
}

type apiHold struct {
	Kind   string                 `json:"kind"`
	From   procedures.EquipmentID `json:"from,omitzero" says:"where the reason lies"`
	Reason string                 `json:"reason"`
	Clears string                 `json:"clears" says:"what ends it"`
	Since  time.Time              `json:"since,omitzero"`
	By     procedures.PersonID    `json:"by,omitzero"`
	Ref    string                 `json:"ref,omitzero" says:"id of the defect, lockout, departure, saw or list"`
}

type apiRunCheck struct {
	Person procedures.PersonID `json:"person" says:"who alone may turn it"`
	Until  time.Time           `json:"until"`
}

func listReadiness(c *call) (items[apiReadiness], error) {
	facts, err := c.desk.Facts(c.ctx(), c.now)
	if err != nil {
		return items[apiReadiness]{}, err
	}
	return itemsOf(checklists.Ready(facts, c.now), func(r checklists.Readiness) apiReadiness {
		out := apiReadiness{Equipment: r.Equipment, Name: nameIn(facts.Plant, r.Equipment), Status: r.Status.String(),
			Holds: each(r.Holds, func(h checklists.Hold) apiHold {
				return apiHold{string(h.Kind), h.From, h.Reason.String(), h.Clears.String(), h.Since, h.By, h.Ref}
			})}
		if r.RunCheck != nil {
			out.RunCheck = &apiRunCheck{r.RunCheck.Person, r.RunCheck.Until}
		}
		return out
	}), nil
}
