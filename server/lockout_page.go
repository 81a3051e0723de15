package server

import (
	"errors"
	"strconv"
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
	Stages     []stageLine
	History    []eventLine
	Cautions   []plain.Sentence

	Act     string // the form shown, "" for none
	Heading plain.Sentence
	Clause  string // of the present stage, where its steps are shown
	Why     plain.Sentence
	Steps   []stepLine
	Energy  []energyLine // at the first step: what to know of each
	Wait    time.Time    // when the wait of the present steps is over
	Fields  []views.Field
	Note    views.Field
	Aside   bool   // note, photo or time hold something
	Kept    string // digest of the photo a refused form brought
	Late    string // when it happened, as typed
	Signs   plain.Sentence
	Button  string
	Draft   string // the key under which the phone keeps what is typed
	Others  []views.Place

	Departure string // address to enter what happened against the order
}

// memberLine is one person's stay on the job.
type memberLine struct {
	Name   string
	Said   plain.Sentence
	Joined time.Time
}

type stageLine struct {
	Words  plain.Sentence
	Clause string
	State  string // "done", "now", "later"
}

// stepLine is one present step: done, with who and when, or with its fields.
type stepLine struct {
	Text   string
	Clause string // where it is another than the stage's
	Where  string // the device, as marked at the machine
	Zero   string // how zero is shown
	Done   bool
	By     string
	At     time.Time
	Proof  plain.Sentence
	Fields []views.Field
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
		Begun: plain.Say("Begun by %[1]s %[2]s, expected until %[3]s.", names[l.Primary], l.Begun, l.Expected),
		Badge: frame.StatusBadge(checklists.Held), Held: heldBy(l, plant), Locks: lockoutOn(l, names).Locks, People: v.members(l, names),
		Stages: stagesOf(l), History: historyOf(l, names), Cautions: procedures.Cautions()}
	page.Answers, page.More = answers(l, names, v.now)
	page.Problems = problems
	page.Live, page.Seen = "/events", head.Size
	if len(l.Procedure.Equipment) > 0 {
		page.Departure = "/departures/new?equipment=" + string(l.Procedure.Equipment[0])
	}
	if len(problems) > 0 {
		page.Submission, page.Kept, page.Late = v.submission(), r.photo, v.typed("happened")
	}
	v.present(&page, l, r, names)
	return v.show("lockout", page, problems)
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
		line := memberLine{Name: names[m.Person], Joined: m.Joined, Said: plain.Say("signed on, zero not proven for this person")}
		switch {
		case m.Away:
			line.Said = plain.Say("away, own lock left on")
		case verified(l, m.Person, v.now):
			line.Said = plain.Say("reported zero proven %s", m.Verified)
		}
		lines = append(lines, line)
	}
	return lines
}

func stagesOf(l procedures.Lockout) []stageLine {
	var lines []stageLine
	for stage := procedures.Prepare; stage <= procedures.NotifyRestored; stage++ {
		steps := stage == procedures.Work
		for _, s := range l.Procedure.Steps {
			steps = steps || s.Stage == stage
		}
		line := stageLine{Words: stage.Words(), Clause: stage.Clause(), State: "later"}
		switch {
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

// acts is what the signed-in person may want to report now, the likeliest first.
// The rules say whether it is allowed: what comes too early is offered as well,
// so that somebody who tries is told what is missing.
func (v *visit) acts(l procedures.Lockout) []string {
	if !l.Open() || !v.person.Works() {
		return nil
	}
	primary, member := v.person.ID == l.Primary, false
	for _, m := range l.SignedOn() {
		member = member || m.Person == v.person.ID
	}
	switch {
	case l.Stage < procedures.Work && primary:
		return []string{actSteps, actWork, v.wayOut(l)}
	case l.Stage < procedures.Work && len(l.Locks) == 0 && v.person.Supervises():
		return []string{"", actCancel}
	case l.Stage < procedures.Work:
		return []string{v.measures(l)}
	case l.Stage > procedures.Work && primary && l.Stage == procedures.NotifyRestored:
		return []string{actRestore}
	case l.Stage > procedures.Work && primary:
		return []string{actSteps, actRestore}
	case l.Stage > procedures.Work && member:
		return []string{actLeave}
	case l.Stage > procedures.Work:
		return nil
	case !member:
		return []string{actJoin}
	}
	acts := []string{actVerify, actWork}
	if verified(l, v.person.ID, v.now) {
		acts = []string{actWork, actVerify}
	}
	last := actLeave
	if primary {
		last = actEnd
	}
	if l.Working && verified(l, v.person.ID, v.now) {
		return []string{last, actOvernight, actVerify}
	}
	return append(acts, actOvernight, last)
}

// wayOut of a lockout that doesn't come to work: cancelling, or once a lock has
// been on the release.
func (v *visit) wayOut(l procedures.Lockout) string {
	if len(l.Locks) > 0 {
		return actEnd
	}
	return actCancel
}

// measures is the steps for a person who may do the one with the meter.
func (v *visit) measures(l procedures.Lockout) string {
	for _, s := range l.Present() {
		if s.Proof == procedures.MeterDead && v.person.QualifiedElectrical {
			return actSteps
		}
	}
	return ""
}

// present puts the form of one act on the page and the others in reach.
func (v *visit) present(page *lockoutPage, l procedures.Lockout, r report, names map[procedures.PersonID]string) {
	acts := v.acts(l)
	if len(acts) > 0 {
		page.Act = acts[0]
	}
	// A refused form is shown again whatever is likeliest; an address only
	// chooses among what is offered.
	for _, act := range acts {
		if act == r.act || len(page.Problems) > 0 {
			page.Act = r.act
		}
	}
	for _, act := range acts {
		if act != page.Act && act != "" {
			page.Others = append(page.Others, views.Place{Href: "/lockouts/" + page.ID + "?act=" + act, Text: actWords(act)})
		}
	}
	switch page.Act {
	case actSteps, actRestore:
		if page.Act == actRestore && l.Stage != procedures.NotifyRestored {
			break // what is missing comes first; its steps are a tap away
		}
		page.Steps = v.stepLines(page.Frame, l, l.Present(), r, names)
		if l.Stage == procedures.Prepare {
			page.Energy = energyLines(l.Procedure)
		}
		if left := l.WaitLeft(v.now); left > 0 {
			page.Wait = v.now.Add(left)
		}
		if l.Stage == procedures.InspectArea {
			page.Fields = append(page.Fields, page.TickField("tools", page.T("Tools, rags, bolts and old parts are counted out, and all are back"), r.again("tools") == "yes"))
		}
	case actVerify:
		var verify []procedures.Step
		for _, s := range l.Procedure.Steps {
			if s.Stage == procedures.Verify {
				verify = append(verify, s)
			}
		}
		l.Done = nil // the proofs of before count no more
		page.Steps = v.stepLines(page.Frame, l, verify, r, names)
	case actJoin:
		page.Fields = v.joinFields(page.Frame, l, r)
	case actOvernight:
		until := r.again("until")
		if until == "" {
			until = v.nextShift().In(v.zone).Format(momentLayout)
		}
		page.Fields = append(page.Fields, page.MomentField("until", page.T("Stays locked until"), until).Required())
	case "":
		page.Why = v.whyNothing(l, names)
	}
	if page.Act != "" {
		page.Note = page.TextField("note", page.T("Note"), r.again("note"))
		page.Aside = page.Note.Value != "" || page.Kept != "" || page.Late != "" || page.Problem("photo") != "" || page.Problem("happened") != ""
		page.Heading = actWords(page.Act)
		if page.Act == actSteps {
			page.Heading, page.Clause = l.Stage.Words(), l.Stage.Clause()
		}
		page.Draft = "lockout:" + page.ID + ":" + page.Act + ":" + strconv.Itoa(int(l.Stage))
		page.Signs, page.Button = v.signature(l, page.Act), page.Say(actButton(page.Act))
	}
}

func (v *visit) whyNothing(l procedures.Lockout, names map[procedures.PersonID]string) plain.Sentence {
	switch {
	case !l.Open():
		return plain.Sentence{}
	case !v.person.Works():
		return plain.Say("You are signed in to read. What is done here is reported by the crew.")
	case l.Stage > procedures.Work:
		return plain.Say("%s began this lockout and gives the machine back.", names[l.Primary])
	}
	return plain.Say("The steps up to zero are %s's, who began this lockout. You join with your own lock after that.", names[l.Primary])
}

// nextShift is when the mill's next shift starts, else this time tomorrow.
func (v *visit) nextShift() time.Time {
	shifts, err := v.mill.ShiftsBetween(v.now, v.now.AddDate(0, 0, 8))
	if err == nil {
		for _, s := range shifts {
			if s.Starts.After(v.now.Add(4 * time.Hour)) {
				return s.Starts
			}
		}
	}
	return v.now.AddDate(0, 0, 1)
}

// stepLines are steps with the fields that report each.
func (v *visit) stepLines(f *views.Frame, l procedures.Lockout, steps []procedures.Step, r report, names map[procedures.PersonID]string) []stepLine {
	var lines []stepLine
	for _, s := range steps {
		line := stepLine{Text: s.Text, Where: deviceMark(f, l.Procedure, s.Device)}
		if s.Clause != s.Stage.Clause() {
			line.Clause = s.Clause
		}
		if s.Stage == procedures.Verify {
			line.Zero = zeroOf(l.Procedure, s.Energy)
		}
		e, done := l.Done[s.ID]
		switch {
		case done:
			line.Done, line.By, line.At, line.Proof = true, names[e.Person], e.At, e.Proof.Words()
			if e.Kind == procedures.LockApplied {
				line.Proof = plain.Say("lock %s", e.Lock)
			} else if e.Proof == procedures.Tick || e.Proof == "" {
				line.Proof = plain.Sentence{}
			}
		case s.Proof == procedures.MeterDead && !v.person.QualifiedElectrical:
			line.Note = plain.Say("Needs a meter, and a person recorded as qualified for it: they sign in and report it here themselves.")
		case s.Proof != procedures.MeterDead && v.person.ID != l.Primary && r.act != actVerify && l.Stage != procedures.Work:
			line.Note = plain.Say("For %s, who began this lockout.", names[l.Primary])
		default:
			line.Fields = v.stepFields(f, l, s, r)
		}
		lines = append(lines, line)
	}
	return lines
}

func (v *visit) stepFields(f *views.Frame, l procedures.Lockout, s procedures.Step, r report) []views.Field {
	id, device := string(s.ID), string(s.Device)
	locked := lockable(l.Procedure, s.Device)
	switch {
	case locked && s.Stage == procedures.Apply:
		return []views.Field{f.TextField("lock."+device, f.T("Number on your lock"), r.again("lock."+device))}
	case locked && s.Stage == procedures.RemoveLocks:
		number := v.ownLock(l, s.Device)
		if number == "" {
			return nil
		}
		return []views.Field{f.TickField("off."+device, f.T("My lock %s is off", number), r.again("off."+device) == "yes")}
	}
	var fields []views.Field
	if s.Stage == procedures.Notify || s.Stage == procedures.NotifyRestored {
		fields = append(fields, f.TextField("told."+id, f.T("Whom you told, and how"), r.again("told."+id)).
			WithHint(f.T("By name. With nobody else about, say that.")))
	}
	label := f.T("Done")
	switch s.Proof {
	case procedures.TryStart:
		label = f.T("The start was tried and nothing moved")
	case procedures.Tick:
	default:
		label = f.T("Seen: %s", s.Proof.Words())
	}
	fields = append(fields, f.TickField("step."+id, label, r.again("step."+id) == "yes"))
	if hangsTag(l.Procedure, s) {
		fields = append(fields, tagFields(f, s, r)...)
	}
	if s.Proof == procedures.TryStart {
		fields = append(fields, f.TickField("offback."+id, f.T("The control is back at off"), r.again("offback."+id) == "yes"))
	}
	return fields
}

func (v *visit) joinFields(f *views.Frame, l procedures.Lockout, r report) []views.Field {
	var fields []views.Field
	for _, d := range l.Procedure.Devices {
		if d.Lockable {
			name := "lock." + string(d.ID)
			fields = append(fields, f.TextField(name, f.T("Number on your lock at: %s", deviceMark(f, l.Procedure, d.ID)), r.again(name)))
		}
	}
	return append(fields, f.TextField("box", f.T("Or the number on your lock on the box that holds all the keys"), r.again("box")))
}

// deviceMark is how a device is found at the machine.
func deviceMark(f *views.Frame, p procedures.Procedure, id procedures.DeviceID) string {
	for _, d := range p.Devices {
		if d.ID != id {
			continue
		}
		if d.Place == "" {
			return f.T("%[1]s · %[2]s", strconv.Itoa(d.Number), d.Label)
		}
		return f.T("%[1]s · %[2]s, %[3]s", strconv.Itoa(d.Number), d.Label, d.Place)
	}
	return ""
}

// WaitMinute is when the wait is over, to the next full minute: what a page
// without scripts shows must not be too early.
func (p lockoutPage) WaitMinute() time.Time { return p.Wait.Add(time.Minute - 1).Truncate(time.Minute) }

func zeroOf(p procedures.Procedure, id procedures.EnergyID) string {
	for _, e := range p.Energies {
		if e.ID == id {
			return e.Zero
		}
	}
	return ""
}
