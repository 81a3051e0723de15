package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func incidentOperations() []operation {
	return []operation{
		reads("listIncidents", "/incidents", "/incidents", "Incidents and near misses, newest first", listIncidentsForAPI, stateParameter(), limitParameter()),
		reads("getIncident", "/incidents/{incident}", "/incidents/:id", "One incident with what followed from it", getIncidentForAPI),
		writes("enterIncident", fiber.MethodPost, "/incidents", "/incidents/new", "Enter that somebody was hurt, something broke, or nearly so", enterIncidentForAPI),
		writes("actAfterIncident", fiber.MethodPost, "/incidents/{incident}/actions", "/incidents/:id/actions", "Say what is to be done after it, by whom and by when", func(c *call, b apiActionPost) (apiDone, error) {
			id := c.incidentID()
			return done(id, c.desk.ActAfterIncident(c.ctx(), c.submission(), id, checklists.IncidentAction{What: b.Action, Person: b.Person, Due: endOfDay(b.Due, c.zone)}, c.person, c.now))
		}),
		writes("reportAction", fiber.MethodPost, "/incidents/{incident}/actions/{action}", "/incidents/:id/actions/:action", "Report it done", func(c *call, b apiActionDone) (apiDone, error) {
			id := checklists.IncidentActionID(c.Params("action"))
			return done(id, c.desk.ReportIncidentAction(c.ctx(), c.submission(), c.incidentID(), id, b.Done, c.person, c.now))
		}),
		writes("learnHarm", fiber.MethodPost, "/incidents/{incident}/harm", "/incidents/:id/harm", "Enter what harm was learnt of later, and when the mill was told", func(c *call, b apiHarm) (apiDone, error) {
			id := c.incidentID()
			return done(id, c.desk.LearnHarm(c.ctx(), c.submission(), id, checklists.Harm(b.Harm), b.Known.UTC(), c.person, c.now))
		}),
		writes("closeIncident", fiber.MethodPost, "/incidents/{incident}/closing", "/incidents/:id/close", "Close it with what was found out and changed", func(c *call, b apiReason) (apiDone, error) {
			id := c.incidentID()
			return done(id, c.desk.CloseIncident(c.ctx(), c.submission(), id, b.Reason, c.person, c.now))
		}),
		reads("listDepartures", "/departures", "/departures", "What happened against the rule, newest first", listDeparturesForAPI, stateParameter(), limitParameter()),
		writes("enterDeparture", fiber.MethodPost, "/departures", "/departures/new", "Enter what happened against the rule; its equipment is held from now on", enterDepartureForAPI),
		writes("closeDeparture", fiber.MethodPost, "/departures/{departure}/closing", "/departures/:id/close", "Close it with a reason", func(c *call, b apiReason) (apiDone, error) {
			id := checklists.DepartureID(c.Params("departure"))
			return done(id, c.desk.CloseDeparture(c.ctx(), c.submission(), id, b.Reason, c.person, c.now))
		}),
	}
}

func (c *call) incidentID() checklists.IncidentID {
	return checklists.IncidentID(c.Params("incident"))
}

type apiIncident struct {
	ID        checklists.IncidentID  `json:"id"`
	Kind      string                 `json:"kind" oneof:"near-miss|hurt|damage"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Happened  time.Time              `json:"happened"`
	Where     string                 `json:"where,omitzero"`
	What      string                 `json:"what"`
	Present   string                 `json:"present,omitzero" says:"who was there"`
	Harmed    string                 `json:"harmed,omitzero" says:"who was hurt, and what the injury is"`
	Harm      string                 `json:"harm,omitzero" says:"left out: not known" oneof:"first-aid|treated|hospital|amputation|eye|death"`
	Photo     string                 `json:"photo,omitzero"`
	By        procedures.PersonID    `json:"by"`
	At        time.Time              `json:"at"`
	Defect    checklists.DefectID    `json:"defect,omitzero" says:"that holds its equipment"`
	Departure checklists.DepartureID `json:"departure,omitzero" says:"that holds its equipment"`
	HarmKnown time.Time              `json:"harm_known,omitzero" says:"when the mill was told of harm learnt of later"`
	ClosedBy  procedures.PersonID    `json:"closed_by,omitzero"`
	ClosedAt  time.Time              `json:"closed_at,omitzero"`
	Reason    string                 `json:"reason,omitzero"`
	ReportBy  time.Time              `json:"report_by,omitzero" says:"the latest time to report it to the authorities, where the law's is known here; none is no proof that nothing is to be reported"`
	Clause    string                 `json:"clause,omitzero" says:"that asks for the report"`
	Actions   []apiAction            `json:"actions,omitzero"`
}

type apiAction struct {
	ID     checklists.IncidentActionID `json:"id"`
	What   string                      `json:"what"`
	Person procedures.PersonID         `json:"person"`
	Due    time.Time                   `json:"due"`
	By     procedures.PersonID         `json:"by"`
	At     time.Time                   `json:"at"`
	DoneBy procedures.PersonID         `json:"done_by,omitzero"`
	DoneAt time.Time                   `json:"done_at,omitzero"`
	Done   string                      `json:"done,omitzero"`
}

func (c *call) incident(i checklists.Incident) apiIncident {
	out := apiIncident{ID: i.ID, Kind: string(i.Kind), Equipment: i.Equipment, Happened: i.Happened, Where: i.Where, What: i.What, Present: i.Present, Harmed: i.Harmed, Harm: string(i.Harm), Photo: i.Photo,
		By: i.By, At: i.At, Defect: i.Defect, Departure: i.Departure, HarmKnown: i.HarmKnown, ClosedBy: i.ClosedBy, ClosedAt: i.ClosedAt, Reason: i.Reason}
	out.ReportBy, out.Clause = i.ReportBy(procedures.Law(c.mill.SetUp.Law))
	return out
}

func listIncidentsForAPI(c *call) (items[apiIncident], error) {
	open, limit, err := c.openOnes()
	if err != nil {
		return items[apiIncident]{}, err
	}
	incidents, err := c.desk.Incidents(c.ctx(), open, limit)
	return itemsOf(incidents, c.incident), err
}

func getIncidentForAPI(c *call) (apiIncident, error) {
	i, err := c.desk.Incident(c.ctx(), c.incidentID())
	if err != nil {
		return apiIncident{}, err
	}
	out := c.incident(i)
	actions, err := c.desk.IncidentActions(c.ctx(), i.ID)
	out.Actions = each(actions, func(a checklists.IncidentAction) apiAction {
		return apiAction{a.ID, a.What, a.Person, a.Due, a.By, a.At, a.DoneBy, a.DoneAt, a.Done}
	})
	return out, err
}

type apiIncidentPost struct {
	signature
	Kind      string                 `json:"kind" oneof:"near-miss|hurt|damage"`
	Equipment procedures.EquipmentID `json:"equipment"`
	Happened  time.Time              `json:"happened"`
	Where     string                 `json:"where,omitzero"`
	What      string                 `json:"what"`
	Present   string                 `json:"present,omitzero"`
	Harmed    string                 `json:"harmed,omitzero"`
	Harm      string                 `json:"harm,omitzero" oneof:"first-aid|treated|hospital|amputation|eye|death"`
	Photo     string                 `json:"photo,omitzero"`
	Hold      string                 `json:"hold,omitzero" says:"left out: by a stop defect, until it is looked at and returned to service" oneof:"departure|nothing"`
}

func enterIncidentForAPI(c *call, b apiIncidentPost) (apiDone, error) {
	if err := c.kept("photo", b.Photo); err != nil {
		return apiDone{}, err
	}
	return done(c.desk.EnterIncident(c.ctx(), c.submission(), checklists.Incident{Kind: checklists.IncidentKind(b.Kind), Equipment: b.Equipment, Happened: b.Happened.UTC(), Where: b.Where, What: b.What,
		Present: b.Present, Harmed: b.Harmed, Harm: checklists.Harm(b.Harm), Photo: b.Photo}, checklists.Holding(b.Hold), c.person, c.now))
}

type apiActionPost struct {
	signature
	Action string              `json:"action" says:"what is to be done"`
	Person procedures.PersonID `json:"person"`
	Due    string              `json:"due" says:"a day of the mill" format:"date"`
}

type apiActionDone struct {
	signature
	Done string `json:"done" says:"what was done"`
}

type apiHarm struct {
	signature
	Harm  string    `json:"harm" oneof:"first-aid|treated|hospital|amputation|eye|death"`
	Known time.Time `json:"known" says:"when the mill was told"`
}

type apiReason struct {
	signature
	Reason string `json:"reason"`
}

type apiDeparture struct {
	ID        checklists.DepartureID `json:"id"`
	Equipment procedures.EquipmentID `json:"equipment"`
	What      string                 `json:"what"`
	Happened  time.Time              `json:"happened"`
	Photo     string                 `json:"photo,omitzero"`
	Lockout   procedures.LockoutID   `json:"lockout,omitzero"`
	By        procedures.PersonID    `json:"by"`
	At        time.Time              `json:"at"`
	ClosedBy  procedures.PersonID    `json:"closed_by,omitzero"`
	ClosedAt  time.Time              `json:"closed_at,omitzero"`
	Reason    string                 `json:"reason,omitzero"`
}

func listDeparturesForAPI(c *call) (items[apiDeparture], error) {
	open, limit, err := c.openOnes()
	if err != nil {
		return items[apiDeparture]{}, err
	}
	departures, err := c.desk.Departures(c.ctx(), open, limit)
	return itemsOf(departures, func(d checklists.Departure) apiDeparture {
		return apiDeparture{d.ID, d.Equipment, d.What, d.Happened, d.Photo, d.Lockout, d.By, d.At, d.ClosedBy, d.ClosedAt, d.Reason}
	}), err
}

type apiDeparturePost struct {
	signature
	Equipment procedures.EquipmentID `json:"equipment"`
	What      string                 `json:"what"`
	Happened  time.Time              `json:"happened"`
	Photo     string                 `json:"photo,omitzero"`
}

func enterDepartureForAPI(c *call, b apiDeparturePost) (apiDone, error) {
	if err := c.kept("photo", b.Photo); err != nil {
		return apiDone{}, err
	}
	return done(c.desk.EnterDeparture(c.ctx(), c.submission(), checklists.Departure{Equipment: b.Equipment, What: b.What, Happened: b.Happened.UTC(), Photo: b.Photo}, c.person, c.now))
}
