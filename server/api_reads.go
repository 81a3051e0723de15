package server

import (
	"cmp"
	"math"
	"strconv"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

func readOperations() []operation {
	return []operation{
		reads("getTrends", "/trends", "/trends", "What was measured against its limits, defects by month and how long mending took", getTrends),
		reads("listReminders", "/reminders", "/due", "What is overdue, due or lapses soon", listReminders),
		reads("listLockouts", "/lockouts", "/lockouts", "Lockouts under way, or the newest that are over. It says what was reported, not that a machine is safe", listLockoutsForAPI, stateParameter(), limitParameter()),
		reads("getLockout", "/lockouts/{lockout}", "/lockouts", "One lockout", func(c *call) (apiLockout, error) {
			l, err := c.desk.Lockout(c.ctx(), procedures.LockoutID(c.Params("lockout")))
			return lockoutForAPI(l), err
		}),
		reads("listLifts", "/lifts", "/lifts", "The newest lifts that were kept", listLiftsForAPI, limitParameter()),
		reads("getLift", "/lifts/{lift}", "/lifts/:id", "One kept lift with its answer and the reasons", func(c *call) (apiLift, error) {
			l, err := c.desk.Lift(c.ctx(), c.Params("lift"))
			if err != nil {
				return apiLift{}, err
			}
			return liftForAPI(l)
		}),
		reads("listEntries", "/record", "/record", "Entries of the record, newest first", listEntries,
			parameter{name: "kind", says: "only of this kind", oneOf: store.Kinds()}, parameter{name: "equipment", says: "only about this"}, parameter{name: "person", says: "only by this person"},
			parameter{name: "day", says: "only of this day of the mill, 2026-03-02"}, beforeParameter(), limitParameter()),
		reads("getEntry", "/record/{entry}", "/record/:seq", "One entry of the record", getEntry),
	}
}

type apiReminder struct {
	ID      string                `json:"id" says:"the same for the same thing"`
	Kind    string                `json:"kind"`
	Subject string                `json:"subject" says:"id of what it is about"`
	What    string                `json:"what"`
	State   string                `json:"state" oneof:"overdue|due|lapsing"`
	From    time.Time             `json:"from,omitzero"`
	Due     time.Time             `json:"due,omitzero"`
	AllDay  bool                  `json:"all_day" says:"due is a moment of the last day, whose time of day means nothing"`
	People  []procedures.PersonID `json:"people,omitzero"`
	Role    string                `json:"role,omitzero"`
}

func listReminders(c *call) (items[apiReminder], error) {
	facts, err := c.desk.Facts(c.ctx(), c.now)
	if err != nil {
		return items[apiReminder]{}, err
	}
	all, err := c.desk.Remindable(c.ctx(), facts, c.now)
	if err != nil {
		return items[apiReminder]{}, err
	}
	var shown []checklists.Reminder
	for _, r := range all.Reminders(c.now) {
		if r.ShownTo(c.person) {
			shown = append(shown, r)
		}
	}
	return itemsOf(shown, func(r checklists.Reminder) apiReminder {
		return apiReminder{r.ID(), string(r.Kind), r.Subject, r.What.String(), r.State.Words().String(), r.From, r.Due, r.AllDay, r.People, string(r.Role)}
	}), nil
}

type apiLockout struct {
	ID        procedures.LockoutID     `json:"id"`
	Procedure procedures.ProcedureID   `json:"procedure"`
	Title     string                   `json:"title"`
	Task      string                   `json:"task"`
	Stage     string                   `json:"stage"`
	Equipment []procedures.EquipmentID `json:"equipment" says:"that it holds"`
	Begun     time.Time                `json:"begun"`
	Expected  time.Time                `json:"expected,omitzero"`
	Ended     time.Time                `json:"ended,omitzero"`
	Primary   procedures.PersonID      `json:"primary" says:"who answers for it"`
	People    []procedures.PersonID    `json:"people" says:"signed on"`
	Locks     []apiLockOn              `json:"locks" says:"reported on"`
}

type apiLockOn struct {
	Number string              `json:"number"`
	Owner  procedures.PersonID `json:"owner"`
	Device string              `json:"device,omitzero" says:"left out: on the box with the keys"`
	On     time.Time           `json:"on"`
}

func lockoutForAPI(l procedures.Lockout) apiLockout {
	return apiLockout{ID: l.ID, Procedure: l.Procedure.ID, Title: l.Procedure.Title, Task: l.Task, Stage: l.Stage.Words().String(), Equipment: each(l.HoldsEquipment(), func(id procedures.EquipmentID) procedures.EquipmentID { return id }),
		Begun: l.Begun, Expected: l.Expected, Ended: l.Ended, Primary: l.Primary,
		People: each(l.SignedOn(), func(m procedures.Member) procedures.PersonID { return m.Person }),
		Locks: each(l.LocksOn(), func(one procedures.Lock) apiLockOn {
			return apiLockOn{one.Number, one.Owner, deviceLabel(l.Procedure, one.Device), one.On}
		})}
}

func listLockoutsForAPI(c *call) (items[apiLockout], error) {
	open, limit, err := c.openOnes()
	if err != nil {
		return items[apiLockout]{}, err
	}
	var all []procedures.Lockout
	if open {
		all, err = c.desk.OpenLockouts(c.ctx())
	} else {
		all, err = c.desk.EndedLockouts(c.ctx(), limit)
	}
	return itemsOf(all, lockoutForAPI), err
}

type apiLift struct {
	ID         string                 `json:"id"`
	Rig        string                 `json:"rig"`
	RigVersion int                    `json:"rig_version"`
	Hoist      procedures.EquipmentID `json:"hoist"`
	LandsOn    procedures.EquipmentID `json:"lands_on"`
	Go         bool                   `json:"go" says:"as judged then; what changed since may make it NO-GO"`
	ExpectedKG float64                `json:"expected_kg"`
	UpperKG    float64                `json:"upper_kg" says:"the answer was given on this"`
	Findings   []apiFinding           `json:"findings" says:"the worst first"`
	By         procedures.PersonID    `json:"by"`
	At         time.Time              `json:"at"`
}

type apiFinding struct {
	Said    string   `json:"said"`
	Link    string   `json:"link,omitzero"`
	LoadKG  float64  `json:"load_kg"`
	LimitKG float64  `json:"limit_kg" says:"0: not known"`
	Ratio   *float64 `json:"ratio,omitzero" says:"left out: over a limit that is not known"`
	Source  string   `json:"source,omitzero"`
	Blocks  bool     `json:"blocks" says:"it alone makes the lift a NO-GO"`
}

func liftForAPI(l store.Lift) (apiLift, error) {
	j, err := readLift(l)
	w := j.Verdict.Weight
	return apiLift{ID: l.ID, Rig: l.Rig, RigVersion: l.RigVersion, Hoist: l.Hoist, LandsOn: l.LandsOn, Go: l.Go, ExpectedKG: float64(w.Expected), UpperKG: float64(w.Upper), By: l.By, At: l.At,
		Findings: each(j.Verdict.Findings, func(f lift.Finding) apiFinding {
			return apiFinding{f.Said.String(), f.Link, number(f.Load), number(f.Limit), finite(f.Ratio), f.Source, f.Blocks}
		})}, err
}

// number is what JSON can hold of a quantity.
func number(kg plain.Kilograms) float64 {
	if x := float64(kg); !math.IsInf(x, 0) && !math.IsNaN(x) {
		return x
	}
	return 0
}

func listLiftsForAPI(c *call) (items[apiLift], error) {
	out := items[apiLift]{Items: []apiLift{}}
	limit, err := c.limit()
	if err != nil {
		return out, err
	}
	lifts, err := c.desk.Lifts(c.ctx(), limit)
	for _, l := range lifts {
		one, err := liftForAPI(l)
		if err != nil {
			return out, err
		}
		out.Items = append(out.Items, one)
	}
	return out, err
}

type apiEntry struct {
	Seq      int64               `json:"seq" says:"its place in the record"`
	ID       string              `json:"id"`
	Kind     string              `json:"kind"`
	Subject  string              `json:"subject" says:"id of what it is about"`
	By       procedures.PersonID `json:"by,omitzero" says:"left out: somebody not signed in"`
	At       time.Time           `json:"at" says:"when the server learned of it"`
	Happened time.Time           `json:"happened,omitzero"`
	Said     string              `json:"said"`
}

func (c *call) entries(found []store.Entry) ([]apiEntry, error) {
	t, err := c.teller(found)
	return each(found, func(e store.Entry) apiEntry {
		return apiEntry{e.Seq, e.ID, e.Kind, e.Subject, e.Actor, e.At, e.Happened, t.tell(e).Said.String()}
	}), err
}

func listEntries(c *call) (items[apiEntry], error) {
	var out items[apiEntry]
	limit, err := c.limit()
	if err != nil {
		return out, err
	}
	before, err := c.wholeQuery("before", 0)
	if err != nil {
		return out, err
	}
	day := c.Query("day")
	if _, err := time.Parse(time.DateOnly, cmp.Or(day, time.DateOnly)); err != nil {
		return out, wrongField("day", "a day, such as 2026-03-02")
	}
	kind, err := c.wordQuery("kind", "", append(store.Kinds(), "")...)
	if err != nil {
		return out, err
	}
	found, more, err := c.desk.Entries(c.ctx(), store.Filter{Kind: kind, Day: day, Equipment: procedures.EquipmentID(c.Query("equipment")), Person: procedures.PersonID(c.Query("person")), Before: before, Limit: limit})
	if err != nil {
		return out, err
	}
	if more {
		out.Next = strconv.FormatInt(found[len(found)-1].Seq, 10)
	}
	out.Items, err = c.entries(found)
	return out, err
}

func getEntry(c *call) (apiEntry, error) {
	seq, err := strconv.ParseInt(c.Params("entry"), 10, 64)
	if err != nil {
		return apiEntry{}, store.ErrNotFound
	}
	e, _, err := c.desk.Leaf(c.ctx(), seq)
	if err != nil {
		return apiEntry{}, err
	}
	told, err := c.entries([]store.Entry{e})
	return told[0], err
}
