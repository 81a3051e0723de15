package server

import (
	"errors"
	"net/url"
	"slices"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

func (s *Server) frontRoutes() {
	s.get("/", anyone, s.front)
	s.get("/stop-it", anyone, s.showStopIt)
	s.post("/stop-it", anyone, s.stopIt)
}

type frontPage struct {
	*views.Frame
	Machines []machine
	Lists    []listDue
	Next     []dueLine // what is due next, the soonest first
	Lockouts []lockoutLine
	Walks    []walkLine
	Inspect  []inspectionDue        // procedures to inspect, or soon
	Remind   []reminderLine         // for who is signed in, beside lists and procedures
	Reminds  int                    // how many there are of every kind
	Empty    bool                   // nothing is in force yet
	Waits    []waitLine             // what waits for the signature of who is signed in
	Alarms   []alarmLine            // of witnesses of the record, for supervisors
	Backups  []plain.Sentence       // that are old, for supervisors
	Stopped  procedures.EquipmentID // what who looks has just stopped
}

// machine is one piece of equipment with its answer.
type machine struct {
	ID    procedures.EquipmentID
	Name  string
	Badge views.Badge
	Run   string // RUN CHECK ONLY: who, until when
	Holds views.Holds
	Mends []mendLine // may run meanwhile
}

// mendLine is a defect that does not hold yet: its stop-gap, and from when it does.
type mendLine struct {
	Href string
	Said plain.Sentence
}

type listDue struct {
	ID    string
	Title string
	Said  plain.Sentence
	Done  bool
	Open  string // address of the signed inspection
}

// lockoutLine says who reported which locks; it never says a machine is safe.
type lockoutLine struct {
	Href, Title, Task string
	Who               []string // signed on, who answers for it first
	Begun, Expected   time.Time
	Locks             []lockLine
	Overnight         bool
	Stands            plain.Sentence
	Danger            plain.Sentence // a test under way, or hands out
	Forgotten         []forgottenLine
	Against           int // departures open in it
}

type lockLine struct {
	Number, Owner, Device string
	On                    time.Time
}

type walkLine struct {
	Href, Title, Who string
	On               int // version it was begun on, where that is not the one in force and is said
}

func (s *Server) front(v *visit) error {
	v.Set("Cache-Control", "no-store") // going back must not show an old MAY RUN
	if v.sharesFront() {
		return v.showSharedFront()
	}
	page, err := v.frontPage()
	if err != nil {
		return err
	}
	return v.show(page.template(), page, nil)
}

// onWall tells whether a screen on the wall asks.
func (v *visit) onWall() bool { return v.Context().QueryArgs().Has("wall") }

func (p frontPage) template() string {
	if p.Wall {
		return "wall"
	}
	return "front"
}

// frontPage is the first page as of now.
func (v *visit) frontPage() (page frontPage, err error) {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return page, err
	}
	names, err := v.names()
	if err != nil {
		return page, err
	}
	head, err := v.desk.Head(v.ctx())
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return page, err
	}
	page = frontPage{Frame: v.frame("May it run?"), Empty: len(facts.Lists) == 0}
	page.Live, page.Seen, page.Wall = "/events", head.Size, v.onWall()
	page.Refresh = 60
	if d, err := v.justStopped(); err == nil && d.Open() {
		page.Flash, page.Stopped = plain.Say("%s is held. Everybody sees it now.", stoppedName(facts.Plant, d.Equipment)), d.Equipment
	} else if err != nil && !errors.Is(err, store.ErrNotFound) {
		return page, err
	}
	ready := checklists.Ready(facts, v.now)
	for _, r := range ready {
		m := page.machine(r, facts.Plant, names)
		m.Mends = mendLines(facts.Defects, r.Equipment, v.now)
		page.Machines = append(page.Machines, m)
	}
	page.Title = frontTitle(ready, facts.Plant)
	if v.person.Supervises() {
		if page.Alarms, err = v.alarmLines(); err != nil {
			return page, err
		}
		if page.Backups, err = v.oldBackups(); err != nil {
			return page, err
		}
	}
	lists, dues := slices.Clone(facts.Lists), map[checklists.ListID]checklists.DueState{}
	for _, l := range lists {
		dues[l.ID] = facts.Due(l, v.now)
	}
	slices.SortStableFunc(lists, func(a, b checklists.List) int {
		return checklists.MoreNeeded(a, b, dues[a.ID].Status, dues[b.ID].Status)
	})
	for _, l := range lists {
		due := dues[l.ID]
		if !onFront(l.Schedule, due.Status) {
			continue
		}
		line := listDue{ID: string(l.ID), Title: l.Title, Said: due.Said, Done: due.Status == checklists.IsDone}
		if due.Done != nil {
			line.Open = "/inspections/" + string(due.Done.ID)
		}
		page.Lists = append(page.Lists, line)
	}
	page.Next = nextLines(facts, names, v.now)
	for _, l := range facts.Lockouts {
		line, err := v.lockoutStanding(l, names)
		if err != nil {
			return page, err
		}
		for _, d := range facts.Departures {
			if d.Lockout == l.ID && d.Open() {
				line.Against++
			}
		}
		page.Lockouts = append(page.Lockouts, line)
	}
	if _, page.Inspect, err = v.inspectionsDue(); err != nil {
		return page, err
	}
	if page.Remind, page.Reminds, err = v.frontReminders(facts); err != nil {
		return page, err
	}
	if page.Waits, err = v.waiting(facts, names); err != nil {
		return page, err
	}
	walks, err := v.desk.Walks(v.ctx())
	if err != nil {
		return page, err
	}
	for _, w := range walks {
		page.Walks = append(page.Walks, walkLine{Href: "/inspections/" + string(w.ID), Title: w.List.Title, Who: names[w.Person]})
	}
	return page, nil
}

// frontTitle says the answer: what is held and what may run for a check only, or
// that nothing is.
func frontTitle(ready []checklists.Readiness, plant procedures.Plant) plain.Sentence {
	var held, checked []string
	for _, r := range ready {
		switch name := nameIn(plant, r.Equipment); r.Status {
		case checklists.MayRun:
		case checklists.RunCheckOnly:
			checked = append(checked, name)
		default:
			held = append(held, name)
		}
	}
	switch {
	case len(ready) == 0:
		return plain.Say("Not known: no equipment is entered")
	case len(held) == len(ready):
		return plain.Say("All held")
	case len(held) > 0 && len(checked) > 0:
		return plain.Say("Held: %[1]s. Run check only: %[2]s", strings.Join(held, ", "), strings.Join(checked, ", "))
	case len(held) > 0:
		return plain.Say("Held: %s", strings.Join(held, ", "))
	case len(checked) > 0:
		return plain.Say("Run check only: %s", strings.Join(checked, ", "))
	}
	return plain.Say("All may run")
}

// Checks tells whether who looks may go through a list, after signing in at most.
func (p frontPage) Checks() bool { return !p.SignedIn() || p.Person.Works() }

// mendLines are the equipment's defects that do not stop it yet.
func mendLines(open []checklists.Defect, on procedures.EquipmentID, now time.Time) []mendLine {
	var lines []mendLine
	for _, d := range open {
		if d.Equipment == on && d.Open() && !d.StopsNow(now) {
			lines = append(lines, mendLine{Href: "/defects/" + string(d.ID), Said: plain.Say("To mend by %s: %s. Until then: %s", d.MendBy, d.What, d.StopGap)})
		}
	}
	return lines
}

func nameIn(plant procedures.Plant, id procedures.EquipmentID) string {
	if e, ok := plant.Find(id); ok {
		return e.Name
	}
	return string(id)
}

func (p frontPage) machine(r checklists.Readiness, plant procedures.Plant, names map[procedures.PersonID]string) machine {
	holds := views.Together(holdLines(r, plant, names), uncheckedOf, func(several []views.Hold) plain.Sentence {
		return plain.Say("%d items not checked", len(several))
	})
	for i := range holds {
		if !p.Checks() && strings.HasPrefix(holds[i].Href, "/inspections/new") {
			holds[i].Href = ""
		}
	}
	m := machine{ID: r.Equipment, Name: nameIn(plant, r.Equipment), Badge: p.StatusBadge(r.Status), Holds: p.HoldList(holds)}
	if r.Status == checklists.RunCheckOnly && r.RunCheck != nil {
		m.Run = p.T("%s only, until %s.", names[r.RunCheck.Person], p.Clock(r.RunCheck.Until))
	}
	return m
}

// holdLines names who and what stands behind each hold and where it is cleared.
func holdLines(r checklists.Readiness, plant procedures.Plant, names map[procedures.PersonID]string) []views.Hold {
	var lines []views.Hold
	for _, h := range r.Holds {
		line := views.Hold{Reason: h.Reason, Clears: h.Clears, Since: h.Since, By: names[h.By]}
		if h.From != r.Equipment {
			line.From = nameIn(plant, h.From)
		}
		switch h.Kind {
		case checklists.HeldUnchecked:
			line.Href, line.Unchecked = "/inspections/new?list="+h.Ref, true
		case checklists.HeldByDue:
			line.Href = "/inspections/new?list=" + h.Ref
		case checklists.HeldUnsigned, checklists.HeldByFinding:
			line.Href = "/inspections/" + h.Ref
		case checklists.HeldByDefect, checklists.HeldByReturn:
			line.Href = "/defects/" + h.Ref
		case checklists.HeldByDeparture:
			line.Href = "/departures/" + h.Ref
		case checklists.HeldByLockout:
			line.Href = "/lockouts/" + h.Ref
		case checklists.HeldByClock:
			line.Href = "/clock"
		case checklists.HeldByBlade:
			line.Href = "/blades/" + h.Ref
		case checklists.HeldUnread:
			line.Href = "/published"
		}
		lines = append(lines, line)
	}
	return lines
}

// uncheckedOf is the list that a hold of an item not checked comes of: a page long
// of them says no more than how many there are.
func uncheckedOf(h views.Hold) string {
	if h.Unchecked {
		return h.Href
	}
	return ""
}

func lockoutOn(l procedures.Lockout, names map[procedures.PersonID]string) lockoutLine {
	line := lockoutLine{Href: "/lockouts/" + string(l.ID), Title: l.Procedure.Title, Task: l.Task, Begun: l.Begun, Expected: l.Expected, Overnight: l.Overnight}
	if l.Open() {
		line.Who = []string{names[l.Primary]}
		for _, m := range l.SignedOn() {
			if m.Person != l.Primary {
				line.Who = append(line.Who, names[m.Person])
			}
		}
	}
	for _, lock := range l.LocksOn() {
		line.Locks = append(line.Locks, lockLine{Number: lock.Number, Owner: names[lock.Owner], Device: deviceLabel(l.Procedure, lock.Device), On: lock.On})
	}
	return line
}

// lockoutStanding is lockoutOn with what is raised about it now.
func (v *visit) lockoutStanding(l procedures.Lockout, names map[procedures.PersonID]string) (lockoutLine, error) {
	line := lockoutOn(l, names)
	line.Stands, line.Danger = lockoutSaid(l, v.now), v.dangerOf(l, names)
	var err error
	line.Forgotten, err = v.forgotten(l, names)
	return line, err
}

// deviceLabel is how a device is marked at the machine; a lock that names none
// is on the box with the keys.
func deviceLabel(p procedures.Procedure, id procedures.DeviceID) string {
	for _, d := range p.Devices {
		if d.ID == id {
			return d.Label
		}
	}
	return ""
}

type stopItPage struct {
	*views.Frame
	Submission string
	Machines   []views.Choice
}

// showStopIt is the first tap; choosing the machine is the second.
func (s *Server) showStopIt(v *visit) error { return v.stopItPage(nil) }

func (v *visit) stopItPage(problems plain.Problems) error {
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	page := stopItPage{Frame: v.frame("Stop it: what must not run?"), Submission: store.NewID()}
	page.Problems, page.StopIt = problems, ""
	for _, e := range plant {
		name := e.Name
		if e.Kind == procedures.Site {
			name = page.T("The whole mill")
		}
		page.Machines = append(page.Machines, views.Choice{Value: string(e.ID), Text: name})
	}
	return v.show("stop-it", page, problems)
}

// stopIt holds a machine at once. Nobody has to be signed in to stop something.
func (s *Server) stopIt(v *visit) error {
	d := checklists.Defect{Equipment: procedures.EquipmentID(v.typed("equipment")), What: v.typed("what"), Severity: checklists.Stop}
	id, err := v.desk.StopIt(v.ctx(), v.submission(), d, v.person, v.now)
	if err != nil {
		problems, err := problemsOf(err)
		if err != nil {
			return err
		}
		return v.stopItPage(problems)
	}
	if v.person.ID == "" {
		return v.moveOn("/?stopped="+url.QueryEscape(string(id)), "stopped")
	}
	return v.moveOn("/defects/"+string(id), "stopped")
}

// justStopped is the defect of a stop just made, by the address of the page after it.
func (v *visit) justStopped() (checklists.Defect, error) {
	id := v.Query("stopped")
	if id == "" || v.Query("done") != "stopped" {
		return checklists.Defect{}, store.ErrNotFound
	}
	return v.desk.Defect(v.ctx(), checklists.DefectID(id))
}

// stoppedName is what the page of the stop calls it.
func stoppedName(plant procedures.Plant, id procedures.EquipmentID) plain.Sentence {
	if e, ok := plant.Find(id); ok && e.Kind == procedures.Site {
		return plain.Say("The whole mill")
	}
	return plain.Say("%s", nameIn(plant, id))
}
