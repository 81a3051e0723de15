package server

import (
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func registerOperations() []operation {
	return []operation{
		reads("listBlades", "/blades", "/blades", "The saw register, with what was done and what is against each saw", listBladesForAPI),
		writes("enterBlade", fiber.MethodPost, "/blades", "/blades/new", "Enter a saw", enterBladeForAPI),
		writes("enterBladeWork", fiber.MethodPost, "/blades/{blade}/work", "/blades/:id", "Enter what was done with a saw", enterBladeWork),
		reads("listSafety", "/safety", "/registers", "Extinguishers, first-aid kits and eyewashes, with what is due", listSafetyForAPI),
		writes("checkSafety", fiber.MethodPost, "/safety/{item}/checks", "/safety/:id", "Enter a look at one of them, or work on it", checkSafetyForAPI),
		reads("listLocks", "/locks", "/locks", "The locks for locking out; to an operator the own ones", listLocksForAPI),
		reads("listGear", "/gear", "/gear", "The parts of the rigs in force, with when each is to be inspected", listGearForAPI),
	}
}

type apiBlade struct {
	ID        checklists.BladeID `json:"id"`
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
	return itemsOf(all, func(s checklists.BladeStanding) apiBlade {
		return apiBlade{ID: s.ID, Serial: s.Serial, DiameterM: float64(s.Diameter), Gauge: s.Gauge, MarkedRPM: s.Marked, Teeth: s.Teeth, Kind: string(s.Kind), Note: s.Note, Fitted: s.Fitted, Scrapped: s.Scrapped != nil,
			Against: each(s.Against(c.mill.SetUp.SpindleSpeed), gapForAPI),
			Work: each(s.Acts, func(a checklists.BladeAct) apiBladeWork {
				return apiBladeWork{string(a.Work), a.On, (*float64)(a.Crack), a.Marked, a.Who, a.Note, a.By, a.At}
			})}
	}), err
}

type apiBladePost struct {
	signature
	Serial    string  `json:"serial"`
	DiameterM float64 `json:"diameter_m"`
	Gauge     string  `json:"gauge"`
	MarkedRPM float64 `json:"marked_rpm,omitzero"`
	Teeth     int     `json:"teeth"`
	Kind      string  `json:"kind" oneof:"inserted|solid"`
	Note      string  `json:"note,omitzero"`
}

func enterBladeForAPI(c *call, b apiBladePost) (apiDone, error) {
	return done(c.desk.KeepBlade(c.ctx(), c.submission(), "", checklists.Blade{Serial: b.Serial, Diameter: plain.Metres(b.DiameterM), Gauge: b.Gauge, Marked: b.MarkedRPM, Teeth: b.Teeth,
		Kind: checklists.ToothKind(b.Kind), Note: b.Note}, c.person, c.now))
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
	return done("", c.desk.BladeDone(c.ctx(), c.submission(), checklists.BladeAct{Blade: checklists.BladeID(c.Params("blade")), Work: checklists.BladeWork(b.Work), On: b.On.UTC(), Crack: (*plain.Metres)(b.CrackM),
		Marked: b.MarkedRPM, Who: b.Who, Note: b.Note}, c.person, c.now))
}

// day is the moment a day begins in the mill's zone, zero for none.
func (c *call) day(typed string) time.Time {
	day, err := time.ParseInLocation(time.DateOnly, typed, c.zone)
	if err != nil {
		return time.Time{}
	}
	return day.UTC()
}

type apiSafety struct {
	ID       checklists.SafetyID `json:"id"`
	Kind     string              `json:"kind" oneof:"extinguisher|first-aid|eyewash"`
	Place    string              `json:"place"`
	Serial   string              `json:"serial,omitzero"`
	Size     string              `json:"size,omitzero"`
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
		out := apiSafety{ID: i.ID, Kind: string(i.Kind), Place: i.Place, Serial: i.Serial, Size: i.Size, Contents: i.Contents, Retired: !i.Retired.IsZero(),
			Due: each(i.Due(checks, c.now, c.zone), func(d checklists.SafetyDue) apiSafetyDue {
				return apiSafetyDue{string(d.Work), d.Last, d.By, d.Over, d.Clause}
			})}
		if wrong, is := i.Wrong(checks); is {
			out.Wrong = wrong.Note
		}
		return out
	}), err
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

type apiLock struct {
	Number    string              `json:"number"`
	Kind      string              `json:"kind"`
	Colour    string              `json:"colour,omitzero"`
	Owner     procedures.PersonID `json:"owner"`
	Condition string              `json:"condition"`
	Retired   bool                `json:"retired"`
	Against   []string            `json:"against" says:"what keeps its owner from putting it on"`
}

func listLocksForAPI(c *call) (items[apiLock], error) {
	register, err := c.desk.Locks(c.ctx())
	if err != nil {
		return items[apiLock]{}, err
	}
	std, err := c.desk.Program(c.ctx())
	var shown []procedures.LockItem
	for _, item := range register {
		if c.readsAll() || item.Owner == c.person.ID {
			shown = append(shown, item)
		}
	}
	return itemsOf(shown, func(l procedures.LockItem) apiLock {
		return apiLock{l.Number, string(l.Kind), l.Colour, l.Owner, string(l.Condition), !l.Retired.IsZero(), each(l.OffStandard(std), plain.Sentence.String)}
	}), err
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
