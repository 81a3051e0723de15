package server

import (
	"errors"
	"slices"
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/views"
)

type lockoutPage struct {
	*views.Frame
	ID         string
	Submission string
	Lockout    procedures.Lockout
	Begun      plain.Sentence
	Answers    []plain.Sentence
	More       []plain.Sentence // what is missing, in full
	Badge      views.Badge
	Held       []string
	Locks      []lockLine
	People     []memberLine
	Answerable []plain.Sentence // who answers for it now, who coordinates
	Forgotten  []forgottenLine
	Stages     []stageLine
	History    []eventLine
	Cautions   []plain.Sentence

	Danger     plain.Sentence   // a test under way, or hands out: said loudest
	LeftOut    []plain.Sentence // energies it doesn't hold, a newer version
	Recheck    time.Time        // when what can build up again has to be proven again
	Departures []departureLine

	Act         string // the form shown, "" for none
	Heading     plain.Sentence
	Clause      string // of the present stage, where its steps are shown
	Why         plain.Sentence
	Steps       []stepLine
	Energy      []energyLine     // at the first step: what to know of each
	Wait        time.Time        // when the wait of the present steps is over
	Said        []plain.Sentence // what to know before filling in
	InTheWay    []obstacle       // what stands in the way of the act
	Inside      plain.Sentence   // who may be in it while a proof is tried
	Fields      []views.Field
	Photo       views.Field   // a step asks for it
	AsideFields []views.Field // seldom filled in
	Aside       bool          // some of these hold something
	Rows        int           // of tries to reach somebody
	MoreRows    bool          // one more may be added
	Kept        string        // digest of the photo a refused form brought
	Late        string        // when it happened, as typed
	Signs       plain.Sentence
	Button      string
	Final       bool   // it can't be undone: a lock comes off, or the machine goes back into service
	Draft       string // the key under which the phone keeps what is typed
	Others      []views.Place
	NotYet      plain.Sentence // why the work may not begin yet

	Departure string // address to enter what happened against the order
}

// memberLine is one person's stay on the job.
type memberLine struct {
	Name   string
	Craft  string
	Said   plain.Sentence
	Joined time.Time
}

type stageLine struct {
	Words  plain.Sentence
	Clause string
	State  string // "done", "now", "later"
	Again  bool   // done before, and now once more
}

// stepLine is one present step: done, with who and when, or with its fields.
type stepLine struct {
	ID     procedures.StepID
	Text   string
	Clause string       // where it is another than the stage's
	Where  string       // the device, as marked at the machine
	Zero   string       // how zero is shown
	Photo  *markedPhoto // of the device to be set or locked
	Done   bool
	By     string
	At     time.Time
	Proof  plain.Sentence
	Fields []views.Field
	Kept   string         // digest of the step's photo that a refused form brought
	Note   plain.Sentence // why there is nothing to fill in
}

func (v *visit) lockoutPage(l procedures.Lockout, r report, problems plain.Problems) error {
	names, err := v.names()
	if err != nil {
		return err
	}
	head, err := v.desk.Head(v.ctx())
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return err
	}
	frame := v.frame("%[1]s: %[2]s", l.Procedure.Title, lockoutSaid(l, v.now))
	page := lockoutPage{Frame: frame, ID: string(l.ID), Submission: store.NewID(), Lockout: l,
		Begun: plain.Say("Begun by %[1]s %[2]s, expected until %[3]s.", names[l.BegunBy()], l.Begun, l.Expected),
		Badge: frame.StatusBadge(checklists.Held), Held: heldBy(l, plant), Locks: lockoutOn(l, names).Locks, People: v.members(l, names),
		Answerable: answerable(l, names), Stages: stagesOf(l, v.person.ID, v.now), History: historyOf(l, names), Cautions: procedures.Cautions()}
	page.Answers, page.More = answers(l, names, v.person.ID, v.now)
	page.Danger = v.dangerOf(l, names)
	against, err := v.against(l)
	if err != nil {
		return err
	}
	if page.Danger.Empty() && !against.Empty() {
		page.Danger = against
		page.Answers = slices.DeleteFunc(page.Answers, func(said plain.Sentence) bool { return said.String() == l.Next().String() }) // it would say to work
	}
	if out := l.StayOut(v.person.ID, v.now); page.Danger.Empty() && v.isOn(l) && !out.Empty() {
		page.Danger = out // once, and loudest
		page.Answers = slices.DeleteFunc(page.Answers, func(said plain.Sentence) bool { return said.String() == out.String() })
	}
	if page.LeftOut, err = v.notLocked(l, plant); err != nil {
		return err
	}
	open, err := v.desk.OpenLockouts(v.ctx())
	if err != nil {
		return err
	}
	if l.CoordinatorAway(open) {
		page.Answerable = append(page.Answerable, plain.Say("Who coordinates the crafts is signed on to no lockout under way any more. Agree on who does, before anybody goes on."))
	}
	if next := l.RecheckNext(); next.After(v.now) {
		page.Recheck = next
	}
	if page.Forgotten, err = v.forgotten(l, names); err != nil {
		return err
	}
	if page.Departures, err = v.departuresIn(l, plant, names); err != nil {
		return err
	}
	page.Problems, page.SaidOnce = saidOnce(problems)
	page.Live, page.Seen = "/events", head.Size
	if len(l.Procedure.Equipment) > 0 {
		page.Departure = "/departures/new?equipment=" + string(l.Procedure.Equipment[0]) + "&lockout=" + string(l.ID)
	}
	if len(problems) > 0 || v.typed("more") == "yes" {
		page.Submission, page.Kept, page.Late = v.submission(), r.photo, v.typed("happened")
	}
	if r.locks, err = v.ownNumbers(l); err != nil {
		return err
	}
	if r.tell, err = v.whoToTell(l.Procedure); err != nil {
		return err
	}
	if err := v.present(&page, l, r, names); err != nil {
		return err
	}
	page.sayOnce(l)
	return v.show("lockout", page, problems)
}

// sayOnce leaves what is to be done next to the step that says it, where its form
// is on the page.
func (p *lockoutPage) sayOnce(l procedures.Lockout) {
	missing := l.Missing().String()
	if !slices.ContainsFunc(p.Steps, func(s stepLine) bool { return !s.Done && strings.HasPrefix(missing, s.Text) }) {
		return
	}
	p.More = slices.DeleteFunc(p.More, func(said plain.Sentence) bool {
		return said.String() == plain.Say("First: %s", l.Missing()).String() || said.String() == plain.Say("Next: %s", l.Missing()).String()
	})
	if strings.Contains(p.NotYet.String(), missing) {
		p.NotYet = plain.Say("Not yet: every step up to zero comes first.")
	}
}

// answerable says who answers for l, where that isn't who began it, or where
// crafts are to be coordinated.
func answerable(l procedures.Lockout, names map[procedures.PersonID]string) []plain.Sentence {
	var said []plain.Sentence
	if l.Open() && l.Primary != l.BegunBy() {
		said = append(said, plain.Say("%s took it over and answers for it.", names[l.Primary]))
	}
	if over := l.Coordinates(); l.Open() && over != "" {
		said = append(said, plain.Say("%s coordinates the crafts at this equipment.", names[over]))
	}
	return said
}

// departuresIn are what was entered as having gone against the rule in l.
func (v *visit) departuresIn(l procedures.Lockout, plant procedures.Plant, names map[procedures.PersonID]string) ([]departureLine, error) {
	found, err := v.desk.LockoutDepartures(v.ctx(), l)
	var lines []departureLine
	for _, d := range found {
		lines = append(lines, departureLine{Href: "/departures/" + string(d.ID), What: d.What, Machine: nameIn(plant, d.Equipment), By: names[d.By], About: names[d.About], Happened: d.Happened, Open: d.Open()})
	}
	return lines, err
}

// ownNumbers are the registered locks of the signed-in person that aren't on in l.
func (v *visit) ownNumbers(l procedures.Lockout) ([]string, error) {
	register, err := v.desk.Locks(v.ctx())
	var numbers []string
	for _, item := range register {
		on := slices.ContainsFunc(l.LocksOn(), func(lock procedures.Lock) bool {
			return procedures.LockNumber(lock.Number) == procedures.LockNumber(item.Number)
		})
		if item.Owner == v.person.ID && item.Retired.IsZero() && item.Condition == procedures.LockGood && !on {
			numbers = append(numbers, item.Number)
		}
	}
	return numbers, err
}

// heldBy names the equipment that may not run because of l.
func heldBy(l procedures.Lockout, plant procedures.Plant) []string {
	reached := map[procedures.EquipmentID]bool{}
	for _, id := range l.HoldsEquipment() {
		for _, on := range plant.ReachedByLockout(id) {
			reached[on] = true
		}
	}
	var held []string
	for _, e := range plant {
		if reached[e.ID] && e.Kind != procedures.Site {
			held = append(held, e.Name)
		}
	}
	return held
}

func (v *visit) members(l procedures.Lockout, names map[procedures.PersonID]string) []memberLine {
	var lines []memberLine
	if !l.Open() {
		return nil
	}
	for _, m := range l.SignedOn() {
		line := memberLine{Name: names[m.Person], Craft: m.Craft, Joined: m.Joined, Said: l.StatusOf(m, v.now)}
		lines = append(lines, line)
	}
	return lines
}

// stagesOf is the order and where in it person stands, "" for nobody in particular:
// work is nobody's turn who has to prove zero first.
func stagesOf(l procedures.Lockout, person procedures.PersonID, now time.Time) []stageLine {
	again := l.ProveAgain(person, now)
	var lines []stageLine
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		steps := stage == procedures.Work
		for _, s := range l.Procedure.Steps {
			steps = steps || s.Stage == stage
		}
		line := stageLine{Words: stage.Words(), Clause: stage.Clause(), State: "later"}
		switch {
		case again && stage == procedures.Verify:
			line.State, line.Again = "now", true
		case again && stage == procedures.Work: // comes after that
		case l.Closed || stage < l.Stage:
			line.State = "done"
		case stage == l.Stage && l.Open():
			line.State = "now"
		}
		if steps {
			lines = append(lines, line)
		}
	}
	return lines
}
