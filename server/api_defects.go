package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
)

func defectOperations() []operation {
	return []operation{
		reads("listDefects", "/defects", "/defects", "Defects, newest first", listDefectsForAPI, stateParameter(), limitParameter()),
		reads("getDefect", "/defects/{defect}", "/defects/:id", "One defect with its log", getDefectForAPI),
		writes("raiseDefect", fiber.MethodPost, "/defects", "/stop-it", "Stop a piece of equipment: it is held from now on. Nothing is to be signed for it", func(c *call, b apiStop) (apiDone, error) {
			if err := c.kept("photo", b.Photo); err != nil {
				return apiDone{}, err
			}
			return done(c.desk.StopIt(c.ctx(), c.submission(), checklists.Defect{Equipment: b.Equipment, What: b.What, Photo: b.Photo}, c.person, c.now))
		}),
		writes("describeDefect", fiber.MethodPost, "/defects/{defect}/description", "/defects/:id/describe", "Say what is wrong with what was stopped without a word", func(c *call, b apiDescription) (apiDone, error) {
			if err := c.kept("photo", b.Photo); err != nil {
				return apiDone{}, err
			}
			id := c.defectID()
			return done(id, c.desk.DescribeDefect(c.ctx(), c.submission(), id, b.What, b.Photo, c.person, c.now))
		}),
		writes("assignDefect", fiber.MethodPost, "/defects/{defect}/assignment", "/defects/:id/assign", "Ask somebody to see to it by a day", func(c *call, b apiAssignment) (apiDone, error) {
			id := c.defectID()
			return done(id, namedAs(map[string]string{"assigned": "person"}, c.desk.AssignDefect(c.ctx(), c.submission(), id, b.Person, endOfDay(b.Due, c.zone), c.person, c.now)))
		}),
		writes("redateDefect", fiber.MethodPost, "/defects/{defect}/date", "/defects/:id/date", "Give it another day after which it stops its equipment", func(c *call, b apiNewDate) (apiDone, error) {
			id := c.defectID()
			return done(id, c.desk.RedateDefect(c.ctx(), c.submission(), id, endOfDay(b.MendBy, c.zone), b.StopGap, b.Reason, c.person, c.now))
		}),
		writes("noteDefect", fiber.MethodPost, "/defects/{defect}/notes", "/defects/:id/note", "Add to its log: a note, or a part ordered, come in or used", func(c *call, b apiNotePost) (apiDone, error) {
			if err := c.kept("photo", b.Photo); err != nil {
				return apiDone{}, err
			}
			id := c.defectID()
			return done(id, c.desk.NoteDefect(c.ctx(), c.submission(), id, checklists.DefectNote{Kind: checklists.NoteKind(b.Kind), Text: b.Text, Photo: b.Photo}, c.person, c.now))
		}),
		writes("mendDefect", fiber.MethodPost, "/defects/{defect}/mending", "/defects/:id/mend", "Report it mended; its equipment stays held until it is returned to service", func(c *call, b apiMending) (apiDone, error) {
			if err := c.kept("photo", b.Photo); err != nil {
				return apiDone{}, err
			}
			id := c.defectID()
			return done(id, c.desk.MendDefect(c.ctx(), c.submission(), id, b.Note, b.Photo, c.person, c.now))
		}),
		writes("returnDefect", fiber.MethodPost, "/defects/{defect}/return", "/defects/:id/return", "Return a mended defect's equipment to service, as somebody other than the mender", func(c *call, b apiReturn) (apiDone, error) {
			if err := c.kept("photo", b.Photo); err != nil {
				return apiDone{}, err
			}
			again := checklists.Recheck{Note: b.Note, Answer: checklists.Answer{Photo: b.Photo}}
			if b.OK {
				again.Answer.Result = checklists.OK
			}
			id := c.defectID()
			return done(id, c.desk.ReturnDefect(c.ctx(), c.submission(), id, again, c.person, c.now))
		}),
	}
}

// stateParameter chooses what is open or what is over.
func stateParameter() parameter {
	return parameter{name: "state", says: "open, which it is where it is left out, or over", oneOf: []string{"open", "over"}}
}

// openOnes reads the parameters state and limit.
func (c *call) openOnes() (open bool, limit int, err error) {
	state, err := c.wordQuery("state", "open", "open", "over")
	if err != nil {
		return false, 0, err
	}
	limit, err = c.limit()
	return state == "open", limit, err
}

func (c *call) defectID() checklists.DefectID { return checklists.DefectID(c.Params("defect")) }

type apiDefect struct {
	ID         checklists.DefectID     `json:"id"`
	Equipment  procedures.EquipmentID  `json:"equipment"`
	What       string                  `json:"what" says:"empty while nobody has said"`
	Severity   string                  `json:"severity" oneof:"stop|mend"`
	State      string                  `json:"state" says:"mended waits for its return to service" oneof:"open|mended|over"`
	Stops      bool                    `json:"stops" says:"it holds its equipment now"`
	StopGap    string                  `json:"stop_gap,omitzero"`
	MendBy     time.Time               `json:"mend_by,omitzero" says:"from then on it stops its equipment"`
	Photo      string                  `json:"photo,omitzero"`
	By         procedures.PersonID     `json:"by,omitzero" says:"left out: somebody not signed in"`
	At         time.Time               `json:"at"`
	Inspection checklists.InspectionID `json:"inspection,omitzero" says:"it was found in"`
	List       checklists.ListID       `json:"list,omitzero"`
	Item       checklists.ItemID       `json:"item,omitzero"`
	Assigned   procedures.PersonID     `json:"assigned,omitzero"`
	Due        time.Time               `json:"due,omitzero"`
	MendedBy   procedures.PersonID     `json:"mended_by,omitzero"`
	MendedAt   time.Time               `json:"mended_at,omitzero"`
	MendNote   string                  `json:"mend_note,omitzero"`
	ReturnedBy procedures.PersonID     `json:"returned_by,omitzero"`
	ReturnedAt time.Time               `json:"returned_at,omitzero"`
	ReturnNote string                  `json:"return_note,omitzero"`
	NoSecond   bool                    `json:"no_second,omitzero" says:"returned by its own mender at a mill of one person"`
	Again      checklists.DefectID     `json:"again,omitzero" says:"the defect it is a recurrence of"`
	Times      int                     `json:"times,omitzero" says:"how often it was found, with this one"`
	Notes      []apiNote               `json:"notes,omitzero"`
}

type apiNote struct {
	Kind  string              `json:"kind" oneof:"note|ordered|arrived|used"`
	Text  string              `json:"text"`
	Photo string              `json:"photo,omitzero"`
	By    procedures.PersonID `json:"by"`
	At    time.Time           `json:"at"`
}

func (c *call) defect(d checklists.Defect) apiDefect {
	out := apiDefect{ID: d.ID, Equipment: d.Equipment, What: d.What, Severity: string(d.Severity), State: "open", Stops: d.StopsNow(c.now), StopGap: d.StopGap, MendBy: d.MendBy, Photo: d.Photo,
		By: d.By, At: d.At, Inspection: d.Inspection, List: d.List, Item: d.Item, Assigned: d.Assigned, Due: d.Due, MendedBy: d.MendedBy, MendedAt: d.MendedAt, MendNote: d.MendNote,
		ReturnedBy: d.ReturnedBy, ReturnedAt: d.ReturnedAt, ReturnNote: d.ReturnNote, NoSecond: d.NoSecond, Again: d.Again, Times: d.Times}
	switch {
	case !d.Open():
		out.State = "over"
	case d.AwaitsReturn():
		out.State = "mended"
	}
	return out
}

func listDefectsForAPI(c *call) (items[apiDefect], error) {
	open, limit, err := c.openOnes()
	if err != nil {
		return items[apiDefect]{}, err
	}
	defects, err := c.desk.Defects(c.ctx(), open, limit)
	return itemsOf(defects, c.defect), err
}

func getDefectForAPI(c *call) (apiDefect, error) {
	d, err := c.desk.Defect(c.ctx(), c.defectID())
	if err != nil {
		return apiDefect{}, err
	}
	out := c.defect(d)
	notes, err := c.desk.DefectNotes(c.ctx(), d.ID)
	out.Notes = each(notes, func(n checklists.DefectNote) apiNote { return apiNote{string(n.Kind), n.Text, n.Photo, n.By, n.At} })
	return out, err
}

type apiStop struct {
	Equipment procedures.EquipmentID `json:"equipment"`
	What      string                 `json:"what,omitzero"`
	Photo     string                 `json:"photo,omitzero"`
}

type apiDescription struct {
	What  string `json:"what"`
	Photo string `json:"photo,omitzero"`
}

type apiAssignment struct {
	signature
	Person procedures.PersonID `json:"person"`
	Due    string              `json:"due" says:"a day of the mill" format:"date"`
}

type apiNewDate struct {
	signature
	MendBy  string `json:"mend_by" says:"a day of the mill" format:"date"`
	StopGap string `json:"stop_gap,omitzero"`
	Reason  string `json:"reason,omitzero" says:"why it can wait longer"`
}

type apiNotePost struct {
	signature
	Kind  string `json:"kind" oneof:"note|ordered|arrived|used"`
	Text  string `json:"text"`
	Photo string `json:"photo,omitzero"`
}

type apiMending struct {
	signature
	Note  string `json:"note" says:"what was done"`
	Photo string `json:"photo,omitzero"`
}

type apiReturn struct {
	signature
	Note  string `json:"note,omitzero"`
	OK    bool   `json:"ok,omitzero" says:"of a defect that belongs to no item: it was looked at and is OK"`
	Photo string `json:"photo,omitzero"`
}
