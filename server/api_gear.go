package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func gearOperations() []operation {
	return []operation{
		reads("listGear", "/gear", "/gear", "The parts of the rigs in force, with when each is to be inspected", listGearForAPI),
		writes("inspectGear", fiber.MethodPost, "/gear/{rig}/{link}/inspections", "/gear/:rig/:link/inspected", "Enter that a part of a rig was inspected, and whether it may stay in use", inspectGearForAPI),
		writes("measureGear", fiber.MethodPost, "/gear/{rig}/{link}/measurements", "/gear/:rig/:link/measured", "Enter a size taken off a part of a rig", measureGearForAPI),
	}
}

type apiGearLook struct {
	signature
	Every string `json:"every" says:"which inspection it was" oneof:"shift|week|month|year"`
	Fit   bool   `json:"fit" says:"false: out of use from now on"`
	Note  string `json:"note,omitzero" says:"what is wrong, where it is not fit"`
	Photo string `json:"photo,omitzero" says:"digest of a kept photo"`
}

func inspectGearForAPI(c *call, b apiGearLook) (apiDone, error) {
	_, link, err := c.part()
	if err != nil {
		return apiDone{}, err
	}
	every, bad := lookedAt(b.Every, "note", b.Note, !b.Fit)
	bad.Add("", c.kept("photo", b.Photo))
	if err := bad.Err(); err != nil {
		return apiDone{}, err
	}
	return done(c.desk.KeepGearInspection(c.ctx(), c.submission(), store.GearInspection{Rig: c.Params("rig"), Link: link.ID, Every: every.String(), Fit: b.Fit, Note: b.Note, Photo: b.Photo}, every.Thorough(), c.person, c.now))
}

type apiGearSize struct {
	signature
	What  string  `json:"what" oneof:"link|reach|yard|throat|twist|section|pin"`
	Value float64 `json:"value" says:"in m, of a twist in degrees"`
	New   float64 `json:"new,omitzero" says:"the same as it was new; left out: as entered before"`
	Note  string  `json:"note,omitzero"`
}

func measureGearForAPI(c *call, b apiGearSize) (apiDone, error) {
	_, link, err := c.part()
	if err != nil {
		return apiDone{}, err
	}
	m := store.GearMeasurement{Rig: c.Params("rig"), Link: link.ID, What: b.What, Value: b.Value, New: b.New, Note: b.Note}
	var bad plain.Problems
	bad.Unless(len(b.Note) <= noteMost, "note", "fewer words")
	_, err = link.Judge(m.Taken())
	bad.Add("", err)
	if err := bad.Err(); err != nil {
		return apiDone{}, err
	}
	return done(c.desk.KeepGearMeasurement(c.ctx(), c.submission(), m, c.person, c.now))
}

type apiGear struct {
	Rig   string    `json:"rig"`
	Name  string    `json:"name"`
	Parts []apiPart `json:"parts"`
}

type apiPart struct {
	ID      string    `json:"id,omitzero"`
	Name    string    `json:"name"`
	RatedKG float64   `json:"rated_kg" says:"as marked; 0: not known"`
	OwnKG   float64   `json:"own_kg" says:"0: not known"`
	Last    time.Time `json:"last,omitzero" says:"inspected"`
	Due     time.Time `json:"due,omitzero" says:"left out: not known, which no lift passes"`
	State   string    `json:"state" oneof:"unknown|in-service|out-of-service|destroyed"`
	Late    bool      `json:"late" says:"its inspection is over, or not known"`
}

func listGearForAPI(c *call) (items[apiGear], error) {
	published, err := c.desk.InForce(c.ctx(), store.Rigs)
	out := items[apiGear]{Items: []apiGear{}}
	for _, p := range published {
		published, err := store.ReadRig(p.Doc)
		if err != nil {
			return out, err
		}
		published.ID = p.ID
		known, err := c.desk.Gear(c.ctx(), p.ID)
		if err != nil {
			return out, err
		}
		rig := registered(published, known, c.now)
		out.Items = append(out.Items, apiGear{p.ID, rig.Name, each(rig.Links, func(l lift.Link) apiPart {
			return apiPart{l.ID, l.Name, l.RatedLoad, l.OwnMass, l.Inspected, l.InspectionDue, l.State.String(), l.InspectionDue.IsZero() || c.now.After(l.InspectionDue)}
		})})
	}
	return out, err
}
