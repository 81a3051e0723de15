package server

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

// walkPage is an inspection under way: one state of the machine, or the end,
// where it is signed.
type walkPage struct {
	*views.Frame
	Address    string
	ListTitle  string
	State      string
	StateName  string
	Submission string
	Steps      []walkStep
	Done, Of   int
	Begun      string // who began it and when
	Version    int    // of the list it goes by, 0: of a draft looked at
	Anew       string // a later version of the list took the place of the one it was begun with
	AnewAt     string // address to begin it again
	MayAnswer  bool
	Waits      string // finished without contact: by whom, when
	WaitsSaid  string // and whose signature it waits for
	MaySign    bool

	Lead     string
	Cautions []plain.Sentence
	Locks    []lockNeed
	Turn     turning
	Stations []station
	Draft    string    // key of the phone's own copy
	Saved    time.Time // newest answer kept of this state
	Branches bool      // what is asked depends on answers
	Edit     string    // of a preview: address of the draft
	Preview  bool      // nothing is kept: the list is shown as the phone will show it

	Open    []openItem // still to answer
	Found   []foundItem
	Skipped []foundItem
}

type walkStep struct {
	Href, Name string
	Done, Of   int
	Here       bool
}

type openItem struct{ ID, Href, Prompt, Station, Want string }

type foundItem struct {
	Href, Prompt, Note, Photo string
	Stops                     bool
	MendBy                    time.Time
	StopGap                   string
	Earlier                   time.Time // the defect is known and to be mended by then: a later MendBy puts nothing off
}

// stepOf is state if the list asks something in it, else the first step that
// does, or the last.
func stepOf(list checklists.List, state string) string {
	if state == toSign {
		return toSign
	}
	for _, known := range machineStates() {
		if string(known) == state && len(asked(list, known, nil)) > 0 {
			return state
		}
	}
	for _, known := range machineStates() {
		if len(asked(list, known, nil)) > 0 {
			return string(known)
		}
	}
	return toSign
}

// firstOpen is the step where answers are still missing.
func firstOpen(w store.Walk) string {
	given := byItem(w.Answers)
	for _, state := range machineStates() {
		for _, item := range asked(w.List, state, given) {
			if _, answered := given[item.ID]; !answered {
				return string(state)
			}
		}
	}
	return toSign
}

func (v *visit) walkPage(w store.Walk, state string, form walkForm, problems plain.Problems) error {
	facts, err := v.desk.Facts(v.ctx(), v.now)
	if err != nil {
		return err
	}
	names, err := v.names()
	if err != nil {
		return err
	}
	if state == "" {
		state = firstOpen(w)
	}
	if state = stepOf(w.List, state); !v.person.Works() {
		state = toSign // somebody who only reads sees how far it has come
	}
	page := walkPage{Frame: v.frame("%s", w.List.Title), Address: v.inspection(), ListTitle: w.List.Title, State: state, Submission: store.NewID(), MayAnswer: v.person.Works(), Version: w.List.Version}
	if len(problems) > 0 {
		page.Submission = v.submission()
	}
	page.Problems = sayingWhich(problems, w.List)
	page.Begun = page.T("Begun by %[1]s, %[2]s.", names[w.Person], w.Began)
	page.waits(w.ID, facts, names)
	page.anew(w, facts, v.now)
	given := byItem(w.Answers)
	page.steps(w.List, given)
	page.Title = plain.Say("%s: %d of %d answered", w.List.Title, page.Done, page.Of)
	if v.Method() == fiber.MethodGet { // after a POST the address is not one to load the page from again
		head, err := v.desk.Head(v.ctx())
		if err != nil {
			return err
		}
		page.Live, page.Seen = "/events", head.Size
	}
	if state == toSign {
		page.ending(w, given, facts.Defects)
		return v.show("inspection-walk", page, page.Problems)
	}
	items := asked(w.List, checklists.MachineState(state), given)
	page.StateName = page.Say(stateWords(checklists.MachineState(state)))
	page.Stations = stations(page.Frame, mayBeAsked(w.List, checklists.MachineState(state), items), given, form.Typed, v.zone, v.typedIn, v.mayBeNamed(facts))
	for i := range page.Stations {
		page.Stations[i].unasked(w.List, items)
	}
	for _, s := range page.Stations {
		for i := range s.Items {
			item, _ := w.List.Item(checklists.ItemID(s.Items[i].Name))
			if d, stands := checklists.KnownDefect(facts.Defects, w.List.ID, item); stands {
				s.Items[i].knows(d, v.zone, v.now)
			}
		}
	}
	page.goOn()
	page.Branches = branches(w.List)
	page.Draft = "walk:" + string(w.ID) + ":" + state
	for _, item := range items {
		if a := given[item.ID]; a.At.After(page.Saved) {
			page.Saved = a.At
		}
	}
	switch checklists.MachineState(state) {
	case checklists.LockedOut:
		page.Lead = page.T("Everything on this page is done with the machine locked out, your own lock on and zero proven. Answers are taken only then; not checked is always taken, with the reason.")
		page.Cautions = procedures.Cautions()
		page.Locks, err = v.lockNeeds(page.Frame, items, facts)
	case checklists.Stopped:
		page.Lead = page.T("The machine stands still, stopped and held from starting, nobody at the controls. No hand goes past a guard: what needs that is asked under lock.")
	case checklists.Running:
		page.Lead = page.T("These need the machine turning. Everything before it is answered first, the locks are off and everybody is clear.")
		page.Turn = v.turning(page.Frame, items, facts, names)
	}
	if err != nil {
		return err
	}
	return v.show("inspection-walk", page, page.Problems)
}

// waits says that the walk was finished without contact.
func (p *walkPage) waits(id checklists.InspectionID, facts checklists.Facts, names map[procedures.PersonID]string) {
	p.MaySign = p.MayAnswer
	for _, u := range facts.Unsigned {
		if u.Inspection != id {
			continue
		}
		p.Waits = p.T("Finished without contact by %[1]s, %[2]s.", names[u.By], u.Seen)
		p.WaitsSaid = p.T("It waits for your signature. Look through it and sign; until then what it checks is held.")
		if u.By != p.Person.ID {
			p.WaitsSaid = p.T("It waits for the signature of %s, or of a supervisor. Until then what it checks is held.", names[u.By])
		}
		p.MaySign = p.MayAnswer && u.MayAnswer(p.Person) == nil
		p.MayAnswer = p.MaySign
	}
}

// anew says that a later version of the list took the place of the one this was
// begun with.
func (p *walkPage) anew(w store.Walk, facts checklists.Facts, now time.Time) {
	carried := slices.ContainsFunc(w.Answers, func(a checklists.Answer) bool { return a.At.IsZero() })
	switch {
	case facts.Overtaken(w.List, w.Began, now):
		p.Anew = p.T("A later version of this list is in force, and this check was begun too long ago to be signed. Begin it again: what was entered comes along, and is answered again.")
		p.AnewAt = beginAgain(w)
	case carried:
		p.Anew = p.T("This list was published anew since the check was begun. What was entered is still here; look again and answer each item again.")
	}
}

func (p *walkPage) steps(list checklists.List, given map[checklists.ItemID]checklists.Answer) {
	for _, state := range machineStates() {
		items := asked(list, state, given)
		if len(items) == 0 {
			continue
		}
		step := walkStep{Href: p.Address + "?state=" + string(state), Name: p.Say(stateWords(state)), Of: len(items), Here: p.State == string(state)}
		for _, item := range items {
			if _, answered := given[item.ID]; answered {
				step.Done++
			}
		}
		p.Done, p.Of = p.Done+step.Done, p.Of+step.Of
		p.Steps = append(p.Steps, step)
	}
}

// goOn says where the button of each station leads: to the next one, and from
// the last to the next state or to signing.
func (p *walkPage) goOn() {
	last := -1 // station where something is asked
	for i := range p.Stations {
		if p.Stations[i].Of == 0 {
			continue
		}
		if last >= 0 {
			p.Stations[last].Next = p.State + "." + strconv.Itoa(i+1)
		}
		last = i
	}
	next := toSign
	for i, step := range p.Steps {
		if step.Here && i+1 < len(p.Steps) {
			next = p.Steps[i+1].Href[len(p.Address+"?state="):]
		}
	}
	if last >= 0 {
		p.Stations[last].Next = next
	}
}

// ending is what stands between the last answer and the signature.
func (p *walkPage) ending(w store.Walk, given map[checklists.ItemID]checklists.Answer, defects []checklists.Defect) {
	for _, state := range machineStates() {
		for _, item := range asked(w.List, state, given) {
			name := string(item.ID)
			href := p.Address + "?state=" + string(state) + "#f-" + name
			a, answered := given[item.ID]
			if !answered || wrongWith(p.Problems, item.ID) {
				p.Open = append(p.Open, openItem{ID: name, Href: href, Prompt: p.Say(item.Said()), Station: item.Station, Want: p.wanted(name)})
				continue
			}
			found := foundItem{Href: href, Prompt: p.T("%[1]s · %[2]s", name, item.Said()), Note: a.Note, Stops: a.Severity != checklists.Mend, MendBy: a.MendBy, StopGap: a.StopGap}
			if a.Photo != "" {
				found.Photo = "/photos/" + a.Photo
			}
			switch a.Result {
			case checklists.Found:
				found.Earlier = earlierDate(defects, w.List.ID, item, a)
				p.Found = append(p.Found, found)
			case checklists.NotChecked:
				found.Stops = item.Severity != checklists.Mend
				p.Skipped = append(p.Skipped, found)
			}
		}
	}
	switch {
	case len(p.Open) > 0:
		p.Title = plain.Say("%s: %d still to answer", w.List.Title, len(p.Open))
	case len(p.Found) > 0:
		p.Title = plain.Say("%s: %d defects to sign", w.List.Title, len(p.Found))
	default:
		p.Title = plain.Say("%s: all answered, ready to sign", w.List.Title)
	}
}

// earlierDate is by when a known defect is to be mended that is answered with a
// later date, the zero time where there is none.
func earlierDate(defects []checklists.Defect, list checklists.ListID, item checklists.Item, a checklists.Answer) time.Time {
	known, stands := checklists.KnownDefect(defects, list, item)
	if stands && known.Severity == checklists.Mend && known.Covers(a) && a.MendBy.After(known.MendBy) {
		return known.MendBy
	}
	return time.Time{}
}

// wanted is what the rules want of an item as a whole or of any part of it.
func (p *walkPage) wanted(item string) string {
	for _, problem := range p.Problems {
		if wrongWith(plain.Problems{problem}, checklists.ItemID(item)) {
			return p.Say(problem.Want)
		}
	}
	return ""
}

// lockNeed is how one or more machines stand with the lockout that items under
// lock need. It says what was reported, never that a machine is safe.
type lockNeed struct {
	Machines, Said, Href, Link string
	Reported                   bool
}

// lockNeeds lists, for every machine of the items done under lock, the lockout
// the visitor has verified, can join or verify again, or has to begin.
func (v *visit) lockNeeds(f *views.Frame, items []checklists.Item, facts checklists.Facts) ([]lockNeed, error) {
	var open []procedures.EquipmentID
	for _, item := range items {
		if item.State == checklists.LockedOut && !slices.Contains(open, item.Equipment) {
			open = append(open, item.Equipment)
		}
	}
	// take removes from open what fits and returns its names.
	take := func(fits func(procedures.EquipmentID) bool) []string {
		var names []string
		open = slices.DeleteFunc(open, func(id procedures.EquipmentID) bool {
			if fits(id) {
				names = append(names, nameIn(facts.Plant, id))
				return true
			}
			return false
		})
		return names
	}
	var needs []lockNeed
	for _, l := range facts.Lockouts {
		if names := take(func(id procedures.EquipmentID) bool { return l.VerifiedFor(v.person.ID, id, v.now) }); len(names) > 0 {
			needs = append(needs, lockNeed{Machines: f.T("%s", names), Said: f.T("You reported your own lock on and zero proven: %s.", l.Procedure.Title),
				Href: "/lockouts/" + string(l.ID), Link: f.T("See the lockout"), Reported: true})
		}
	}
	for _, l := range facts.Lockouts {
		if names := take(func(id procedures.EquipmentID) bool { return l.Open() && slices.Contains(l.Procedure.Equipment, id) }); len(names) > 0 {
			need := lockNeed{Machines: f.T("%s", names), Href: "/lockouts/" + string(l.ID), Link: f.T("Go on with the lockout"),
				Said: f.T("A lockout is under way: %s. Put your own lock on and prove zero before you answer.", l.Procedure.Title)}
			if l.Overnight {
				need.Said, need.Link = f.T("Left locked overnight: %s. Verify it again before you answer.", l.Procedure.Title), f.T("Verify the lock again")
			}
			needs = append(needs, need)
		}
	}
	written, err := v.procedures()
	if err != nil {
		return nil, err
	}
	for len(open) > 0 {
		best, most := procedures.Procedure{}, 0
		for _, p := range written {
			covers := 0
			for _, id := range open {
				if slices.Contains(p.Equipment, id) {
					covers++
				}
			}
			if covers > most {
				best, most = p, covers
			}
		}
		if most == 0 {
			names := take(func(procedures.EquipmentID) bool { return true })
			return append(needs, lockNeed{Machines: f.T("%s", names), Said: f.T("No lockout procedure in force covers this. The supervisor publishes one first.")}), nil
		}
		names := take(func(id procedures.EquipmentID) bool { return slices.Contains(best.Equipment, id) })
		needs = append(needs, lockNeed{Machines: f.T("%s", names), Said: f.T("Not locked out by you, as far as Stillsaw was told."),
			Href: "/lockouts/new?procedure=" + string(best.ID), Link: f.T("Begin a lockout: %s", best.Title)})
	}
	return needs, nil
}

// procedures lists those in force.
func (v *visit) procedures() ([]procedures.Procedure, error) {
	published, err := v.desk.InForce(v.ctx(), store.Procedures)
	if err != nil {
		return nil, err
	}
	written := make([]procedures.Procedure, 0, len(published))
	for _, p := range published {
		one, err := v.desk.Procedure(v.ctx(), procedures.ProcedureID(p.ID), p.Version)
		if err != nil {
			return nil, err
		}
		written = append(written, one)
	}
	return written, nil
}

// turning is how the machines of running items stand with run checks.
type turning struct {
	Machines []turnedMachine
	Ask      []views.Field
	Warning  views.Caution
}

type turnedMachine struct {
	Name, Who string
	Until     time.Time
}

// turnsCaution is what a machine that turns does to a person.
func turnsCaution(f *views.Frame) views.Caution {
	return f.Warning(f.T("A machine that turns can catch, cut or throw. Look that nobody is near or in line with the saw, give the warning, wait for the all-clear, and start from the stand only. Hand on the stop."))
}

func (v *visit) turning(f *views.Frame, items []checklists.Item, facts checklists.Facts, names map[procedures.PersonID]string) turning {
	t := turning{Warning: turnsCaution(f)}
	var seen []procedures.EquipmentID
	for _, item := range items {
		e, known := facts.Plant.Find(item.Equipment)
		if !known || e.Kind == procedures.Site || item.State != checklists.Running || slices.Contains(seen, e.ID) {
			continue
		}
		seen = append(seen, e.ID)
		mine := false
		for _, run := range facts.RunChecks {
			if slices.Contains(run.Equipment, e.ID) && !v.now.Before(run.From) && v.now.Before(run.Until) {
				t.Machines = append(t.Machines, turnedMachine{Name: e.Name, Who: names[run.Person], Until: run.Until})
				mine = mine || run.Person == v.person.ID
			}
		}
		if !mine {
			ticked := strings.HasSuffix(v.Path(), "/run-check") && v.typed("turn."+string(e.ID)) != "" // as it was sent; beforehand none is
			t.Ask = append(t.Ask, f.TickField("turn."+string(e.ID), e.Name, ticked))
		}
	}
	return t
}
