package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func registerOperations() []operation {
	return []operation{
		reads("listBlades", "/blades", "/blades", "The saw register, with what was done and what is against each saw", listBladesForAPI),
		writes("enterBlade", fiber.MethodPost, "/blades", "/blades/new", "Enter a saw", enterBladeForAPI),
		writes("changeBlade", fiber.MethodPut, "/blades/{blade}", "/blades/:id/edit", "Change what stands of a saw", changeBladeForAPI),
		writes("enterBladeWork", fiber.MethodPost, "/blades/{blade}/work", "/blades/:id", "Enter what was done with a saw", enterBladeWork),
		reads("listSafety", "/safety", "/registers", "Extinguishers, first-aid kits and eyewashes, with what is due", listSafetyForAPI),
		writes("enterSafety", fiber.MethodPost, "/safety", "/safety/new", "Enter an extinguisher, a first-aid kit or an eyewash", enterSafetyForAPI),
		writes("changeSafety", fiber.MethodPut, "/safety/{item}", "/safety/:id/edit", "Change what stands of one of them, or take it out of the register", changeSafetyForAPI),
		writes("checkSafety", fiber.MethodPost, "/safety/{item}/checks", "/safety/:id", "Enter a look at one of them, or work on it", checkSafetyForAPI),
	}
}

type apiBlade struct {
	ID        checklists.BladeID `json:"id"`
	Mark      string             `json:"mark" says:"of it as it was entered; sent back with a change"`
	Serial    string             `json:"serial"`
	DiameterM float64            `json:"diameter_m"`
	Gauge     string             `json:"gauge"`
	MarkedRPM float64            `json:"marked_rpm" says:"etched on it; 0 for none"`
	Teeth     int                `json:"teeth"`
	Kind      string             `json:"kind" oneof:"inserted|solid"`
	Note      string             `json:"note,omitzero"`
	Fitted    time.Time          `json:"fitted,omitzero" says:"since when it is reported fitted"`
	Scrapped  bool               `json:"scrapped"`
	Against   []apiGap           `json:"against" says:"what keeps it off the spindle; none says only that nothing entered is against it"`
	Work      []apiBladeWork     `json:"work" says:"the first first"`
}

type apiGap struct {
	Why    string `json:"why"`
	Clause string `json:"clause,omitzero"`
}

type apiBladeWork struct {
	Work      string              `json:"work"`
	On        time.Time           `json:"on"`
	CrackM    *float64            `json:"crack_m,omitzero" says:"longest crack found, 0 for none; left out: not looked for"`
	MarkedRPM float64             `json:"marked_rpm,omitzero"`
	Who       string              `json:"who,omitzero"`
	Note      string              `json:"note,omitzero"`
	By        procedures.PersonID `json:"by"`
	At        time.Time           `json:"at"`
}

func gapForAPI(g procedures.Gap) apiGap { return apiGap{g.Why.String(), g.Clause} }

func listBladesForAPI(c *call) (items[apiBlade], error) {
	all, err := c.desk.Blades(c.ctx())
	if err != nil {
		return items[apiBlade]{}, err
	}
	facts, err := c.desk.Facts(c.ctx(), c.now)
	marks := map[checklists.BladeID]string{}
	for _, b := range facts.Blades {
		marks[b.ID] = store.Mark(b)
	}
	return itemsOf(all, func(s checklists.BladeStanding) apiBlade {
		return apiBlade{ID: s.ID, Mark: marks[s.ID], Serial: s.Serial, DiameterM: float64(s.Diameter), Gauge: s.Gauge, MarkedRPM: s.Marked, Teeth: s.Teeth, Kind: string(s.Kind), Note: s.Note, Fitted: s.Fitted, Scrapped: s.Scrapped != nil,
			Against: each(s.Against(c.mill.SetUp.SpindleSpeed), gapForAPI),
			Work: each(s.Acts, func(a checklists.BladeAct) apiBladeWork {
				return apiBladeWork{string(a.Work), a.On, (*float64)(a.Crack), a.Marked, a.Who, a.Note, a.By, a.At}
			})}
	}), err
}

// apiBladeFields are what is entered of a saw.
type apiBladeFields struct {
	Serial    string  `json:"serial"`
	DiameterM float64 `json:"diameter_m"`
	Gauge     string  `json:"gauge"`
	MarkedRPM float64 `json:"marked_rpm,omitzero"`
	Teeth     int     `json:"teeth"`
	Kind      string  `json:"kind" oneof:"inserted|solid"`
	Note      string  `json:"note,omitzero"`
}

func (b apiBladeFields) blade(id string) checklists.Blade {
	return checklists.Blade{ID: checklists.BladeID(id), Serial: b.Serial, Diameter: plain.Metres(b.DiameterM), Gauge: b.Gauge, Marked: b.MarkedRPM, Teeth: b.Teeth, Kind: checklists.ToothKind(b.Kind), Note: b.Note}
}

type apiBladePost struct {
	signature
	apiBladeFields
}

// bladeNames are the rules' fields of a saw by the names of the bodies.
func bladeNames() map[string]string {
	return map[string]string{"crack": "crack_m", "marked": "marked_rpm", "diameter": "diameter_m"}
}

func enterBladeForAPI(c *call, b apiBladePost) (apiDone, error) {
	id, err := c.desk.KeepBlade(c.ctx(), c.submission(), "", b.blade(""), c.person, c.now)
	return done(id, namedAs(bladeNames(), err))
}

// seen is the mark of the state a change was made against, as it was read.
type seen struct {
	Mark string `json:"mark" says:"as it was read: what somebody changed meanwhile is not written over"`
}

type apiBladePut struct {
	signature
	seen
	apiBladeFields
}

func changeBladeForAPI(c *call, b apiBladePut) (apiDone, error) {
	id, err := c.desk.KeepBlade(c.ctx(), c.submission(), b.Mark, b.blade(c.Params("blade")), c.person, c.now)
	return done(id, namedAs(bladeNames(), err))
}

type apiBladeWorkPost struct {
	signature
	Work      string    `json:"work" oneof:"filed|hammered|looked|fitted|taken-off|out-of-use|returned|scrapped"`
	On        time.Time `json:"on" says:"when it was done"`
	CrackM    *float64  `json:"crack_m,omitzero"`
	MarkedRPM float64   `json:"marked_rpm,omitzero" says:"etched on it anew by a sawsmith"`
	Who       string    `json:"who,omitzero" says:"who did it, where that is not who enters it"`
	Note      string    `json:"note,omitzero"`
}

func enterBladeWork(c *call, b apiBladeWorkPost) (apiDone, error) {
	return done("", namedAs(bladeNames(), c.desk.BladeDone(c.ctx(), c.submission(), checklists.BladeAct{Blade: checklists.BladeID(c.Params("blade")), Work: checklists.BladeWork(b.Work), On: b.On.UTC(), Crack: (*plain.Metres)(b.CrackM),
		Marked: b.MarkedRPM, Who: b.Who, Note: b.Note}, c.person, c.now)))
}

// day is the moment a day begins in the mill's zone, zero for none.
func (c *call) day(typed string) time.Time {
	day, err := time.ParseInLocation(time.DateOnly, typed, c.zone)
	if err != nil {
		return time.Time{}
	}
	return day.UTC()
}

// dayOf is day for a field that may be left out.
func (c *call) dayOf(field, typed string) (time.Time, error) {
	day := c.day(typed)
	if typed != "" && day.IsZero() {
		return day, wrongField(field, "a day, such as 2026-03-02")
	}
	return day, nil
}

type apiSafety struct {
	ID       checklists.SafetyID `json:"id"`
	Mark     string              `json:"mark" says:"sent back with a change"`
	Kind     string              `json:"kind" oneof:"extinguisher|first-aid|eyewash"`
	Place    string              `json:"place"`
	Serial   string              `json:"serial,omitzero"`
	Size     string              `json:"size,omitzero"`
	Type     string              `json:"type,omitzero" says:"of an extinguisher, as in its table"`
	Made     string              `json:"made,omitzero" says:"the day" format:"date"`
	Throw    bool                `json:"throw,omitzero" says:"an extinguisher that is thrown away, not refilled"`
	Contents []string            `json:"contents,omitzero"`
	Retired  bool                `json:"retired"`
	Wrong    string              `json:"wrong,omitzero" says:"what the newest look found not right"`
	Due      []apiSafetyDue      `json:"due"`
}

type apiSafetyDue struct {
	Work   string    `json:"work"`
	Last   time.Time `json:"last,omitzero" says:"left out: nobody has entered it, so it is over"`
	By     time.Time `json:"by,omitzero" says:"the last day it may be done"`
	Over   bool      `json:"over"`
	Clause string    `json:"clause,omitzero"`
}

func listSafetyForAPI(c *call) (items[apiSafety], error) {
	all, checks, err := c.desk.Safety(c.ctx())
	return itemsOf(all, func(i checklists.SafetyItem) apiSafety {
		out := apiSafety{ID: i.ID, Mark: store.Mark(i), Type: string(i.Type), Made: c.dayText(i.Made), Throw: i.Throw, Kind: string(i.Kind), Place: i.Place, Serial: i.Serial, Size: i.Size, Contents: i.Contents, Retired: !i.Retired.IsZero(),
			Due: each(i.Due(checks, c.now, c.zone), func(d checklists.SafetyDue) apiSafetyDue {
				return apiSafetyDue{string(d.Work), d.Last, d.By, d.Over, d.Clause}
			})}
		if wrong, is := i.Wrong(checks); is {
			out.Wrong = wrong.Note
		}
		return out
	}), err
}

// apiSafetyFields are what is entered of safety equipment.
type apiSafetyFields struct {
	Kind     string   `json:"kind" says:"stays what it is" oneof:"extinguisher|first-aid|eyewash"`
	Place    string   `json:"place"`
	Serial   string   `json:"serial,omitzero"`
	Size     string   `json:"size,omitzero"`
	Type     string   `json:"type,omitzero"`
	Made     string   `json:"made,omitzero" format:"date"`
	Throw    bool     `json:"throw,omitzero"`
	Contents []string `json:"contents,omitzero"`
}

func (c *call) safetyOf(id string, b apiSafetyFields) (checklists.SafetyItem, error) {
	made, err := c.dayOf("made", b.Made)
	return checklists.SafetyItem{ID: checklists.SafetyID(id), Kind: checklists.SafetyKind(b.Kind), Place: b.Place, Serial: b.Serial, Size: b.Size, Type: checklists.ExtinguisherType(b.Type), Made: made, Throw: b.Throw, Contents: b.Contents}, err
}

type apiSafetyPost struct {
	signature
	apiSafetyFields
}

func enterSafetyForAPI(c *call, b apiSafetyPost) (apiDone, error) {
	item, err := c.safetyOf("", b.apiSafetyFields)
	if err != nil {
		return apiDone{}, err
	}
	return done(c.desk.KeepSafetyItem(c.ctx(), c.submission(), "", item, c.person, c.now))
}

type apiSafetyPut struct {
	signature
	seen
	apiSafetyFields
	Retire bool `json:"retire,omitzero" says:"it is no longer there"`
}

func changeSafetyForAPI(c *call, b apiSafetyPut) (apiDone, error) {
	item, err := c.safetyOf(c.Params("item"), b.apiSafetyFields)
	if err != nil {
		return apiDone{}, err
	}
	if b.Retire {
		item.Retired = c.now
	}
	return done(c.desk.KeepSafetyItem(c.ctx(), c.submission(), b.Mark, item, c.person, c.now))
}

type apiSafetyCheck struct {
	signature
	Work    string   `json:"work" says:"as in what is due"`
	On      string   `json:"on" says:"a day of the mill" format:"date"`
	Right   bool     `json:"right"`
	Missing []string `json:"missing,omitzero" says:"of a first-aid kit's contents"`
	Who     string   `json:"who,omitzero"`
	Note    string   `json:"note,omitzero"`
}

func checkSafetyForAPI(c *call, b apiSafetyCheck) (apiDone, error) {
	return done("", c.desk.CheckSafetyItem(c.ctx(), c.submission(), checklists.SafetyCheck{Item: checklists.SafetyID(c.Params("item")), Work: checklists.SafetyWork(b.Work), On: c.day(b.On),
		Right: b.Right, Missing: b.Missing, Who: b.Who, Note: b.Note}, c.person, c.now))
}
