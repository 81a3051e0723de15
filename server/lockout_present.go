package server

import (
	"slices"
	"strconv"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// present puts the form of one act on the page and the others in reach.
func (v *visit) present(page *lockoutPage, l procedures.Lockout, r report, names map[procedures.PersonID]string) error {
	acts := v.acts(l)
	var err error
	if page.NotYet, err = v.notYet(l, acts); err != nil {
		return err
	}
	if !page.NotYet.Empty() {
		acts = slices.DeleteFunc(acts, func(act string) bool { return act == actWork })
	}
	if len(acts) > 0 {
		page.Act = acts[0]
	}
	// A refused form is shown again whatever is likeliest; an address only
	// chooses among what is offered.
	if slices.Contains(acts, r.act) || len(page.Problems) > 0 {
		page.Act = r.act
	}
	for _, act := range acts {
		if act != page.Act && act != "" {
			page.Others = append(page.Others, views.Place{Href: "/lockouts/" + page.ID + "?act=" + act, Text: actWords(act)})
		}
	}
	if page.Act == "" {
		page.Why = v.whyNothing(l, names)
		return nil
	}
	r.act = page.Act
	if err := v.actFields(page, l, r, names); err != nil {
		return err
	}
	f := page.Frame
	if page.Act != actEnergize && page.Act != actTold && page.Act != actLater { // what moves is said in a field of its own
		page.AsideFields = append(page.AsideFields, f.TextField("note", f.T("Note"), r.again("note")))
	}
	if photo := f.PhotoField("photo", f.T("Photo")); page.Act == actVerify && slices.ContainsFunc(l.Procedure.Steps, asksAtZero) {
		page.Photo = photo.WithHint(f.T("A step here asks for one. Take it from where you can stand safely."))
	} else if !page.stepPhotos() {
		page.AsideFields = append(page.AsideFields, photo)
	}
	page.AsideFields = append(page.AsideFields, f.MomentField("happened", f.T("When it was done, if earlier"), page.Late).
		WithHint(f.T("Leave it empty for now. It is marked as entered afterwards.")))
	for _, field := range page.AsideFields {
		page.Aside = page.Aside || field.Value != "" || field.Problem != ""
	}
	page.Aside = page.Aside || page.Kept != ""
	page.Heading = actWords(page.Act)
	if page.Act == actSteps {
		page.Heading, page.Clause = l.Stage.Words(), l.Stage.Clause()
	}
	page.Draft = "lockout:" + page.ID + ":" + page.Act + ":" + strconv.Itoa(int(l.Stage))
	page.Signs, page.Button = v.signature(l, page.Act), page.Say(actButton(l, page.Act))
	page.Final = endsALock(l, page.Act)
	return nil
}

// notYet is why the work may not begin as things stand, where it is among the acts:
// said in place of a button that would only be refused. Empty where it may.
func (v *visit) notYet(l procedures.Lockout, acts []string) (plain.Sentence, error) {
	if !slices.Contains(acts, actWork) {
		return plain.Sentence{}, nil
	}
	s, err := v.desk.Standing(v.ctx(), v.person, l.Procedure)
	if err != nil {
		return plain.Sentence{}, err
	}
	begin := procedures.Event{Kind: procedures.WorkBegan, Person: v.person.ID, At: v.now, KeysInBox: true} // the form asks for the keys
	after := l
	refused := after.Apply(begin, v.person)
	if refused == nil {
		refused = procedures.MayReport(l, begin, s, v.now)
	}
	problems, err := problemsOf(refused)
	if err != nil || len(problems) == 0 {
		return plain.Sentence{}, err
	}
	return problems[0].Want, nil
}

// endsALock tells whether an act takes a lock off or gives the machine back: what
// can't be taken back, so that its button is held.
func endsALock(l procedures.Lockout, act string) bool {
	switch act {
	case actSteps:
		return l.Stage == procedures.RemoveLocks
	case actRestore:
		return l.Stage == procedures.NotifyRestored
	}
	return act == actLeave || act == actOff || act == actAbsent || act == actCallOff
}

// stepPhotos tells whether a step of the page has a field for its picture.
func (p lockoutPage) stepPhotos() bool {
	photo := func(f views.Field) bool { return f.Kind == "photo" }
	return slices.ContainsFunc(p.Fields, photo) || slices.ContainsFunc(p.Steps, func(s stepLine) bool { return slices.ContainsFunc(s.Fields, photo) })
}

func asksAtZero(s procedures.Step) bool { return s.Stage == procedures.Verify && s.AsksPhoto }

// actFields puts the steps and fields of the page's act on it.
func (v *visit) actFields(page *lockoutPage, l procedures.Lockout, r report, names map[procedures.PersonID]string) (err error) {
	f := page.Frame
	switch page.Act {
	case actSteps, actRestore:
		if page.Act == actRestore && l.Stage != procedures.NotifyRestored {
			break // what is missing comes first; its steps are a tap away
		}
		if page.Steps, err = v.stepLines(f, l, l.Present(), r, names); err != nil {
			return err
		}
		if l.Stage == procedures.Prepare {
			page.Energy = energyLines(l.Procedure)
		}
		if left := l.WaitLeft(v.now); left > 0 {
			page.Wait = v.now.Add(left)
		}
		if l.Stage == procedures.InspectArea {
			page.Fields = toolsOut(f, l, r, names)
		}
	case actWork:
		page.Fields, page.AsideFields = unseenKeys(f, l, r), []views.Field{toolsInField(f, r)}
	case actVerify:
		page.Fields, page.AsideFields = unseenKeys(f, l, r), []views.Field{toolsInField(f, r)}
		l.Done = nil // the proofs of before count no more
		page.Inside = mayBeIn(l, v.person.ID, names)
		page.Steps, err = v.stepLines(f, l, slices.DeleteFunc(slices.Clone(l.Procedure.Steps), func(s procedures.Step) bool { return s.Stage != procedures.Verify }), r, names)
	case actRecheck:
		page.Inside = mayBeIn(l, v.person.ID, names)
		l.Done = nil
		page.Steps, err = v.stepLines(f, l, l.BuildingUp(), r, names)
	case actJoin:
		page.Fields = append(v.lockFields(f, l, r), f.TextField("box", f.T("Or the number on your lock on the box that holds all the keys"), r.again("box")).Offering(r.locks).Scanned(), keysField(f, r))
		page.AsideFields = []views.Field{toolsInField(f, r), f.TextField("craft", f.T("Your craft or firm, where there is more than one here"), r.again("craft"))}
	case actLocks:
		page.Fields = v.lockFields(f, l, r)
	case actHandOver:
		page.Fields = v.handOverFields(f, l, r, names)
	case actToEnd:
		page.Fields = []views.Field{
			f.AreaField("not_here", f.T("How you made sure %s isn't at the mill", names[l.Primary]), r.again("not_here")).WithHint(f.T("Who looked where.")),
			f.AreaField("told", f.T("How it stands"), r.again("told")).WithHint(f.T("What is done, what is open, what is out of the machine; seen by whom.")),
		}
		if !v.now.After(l.Expected) {
			page.Fields = append(page.Fields, beforeEndField(f, l, r))
			v.tryFields(page, r)
		}
	case actTest:
		page.Fields = toolsOut(f, l, r, names)
	case actOff:
		for i, lock := range v.ownLocks(l) {
			name := offField(i, lock)
			page.Fields = append(page.Fields, f.TickField(name, f.T("My lock %[1]s is off: %[2]s", lock.Number, deviceSaid(l.Procedure, lock.Device)), r.again(name) == "yes"))
		}
	case actEnergize:
		page.Fields = []views.Field{
			f.TextField("moves", f.T("What is going to move"), r.again("moves")),
			f.TextField("where", f.T("From where it is run"), r.again("where")),
			f.TickField("clear", f.T("I have seen with my own eyes that everybody is clear"), r.again("clear") == "yes"),
		}
	case actTestEnd:
		if l.Test == procedures.TestEnergized {
			page.Fields = []views.Field{f.TickField("offback", f.T("The control is back at off"), r.again("offback") == "yes")}
		}
	case actDone:
		page.Said = append(page.Said, plain.Say("No lock is on and none goes on. It is looked over from outside, everybody clear, controls to off, and those it touches told. Work again only after everything was isolated, locked and proven."))
		page.Fields = []views.Field{
			f.TickField("offback", f.T("The control is back at off"), r.again("offback") == "yes"),
			f.TickField("clear", f.T("Nobody went in since the power came on, no tool either, and nobody will"), r.again("clear") == "yes"),
		}
	case actBack:
		if len(l.LocksOn()) == 0 {
			page.Said = append(page.Said, plain.Say("No lock is on since the test. It goes back to shutting down: everything is isolated, locked and proven before anybody reaches in."))
		} else {
			page.Said = append(page.Said, plain.Say("The locks stay on. Whoever reaches in proves zero again first; the release begins from the start after that."))
		}
	case actAbsent:
		return v.absentFields(page, l, r, names)
	case actTold:
		page.Said = locksTaken(l, v.person.ID, names)
	case actLeave:
		page.Fields = v.ownToolsOut(f, l, r)
	case actCallOff:
		page.Said = append(page.Said, plain.Say("Not everything is locked and proven at zero: nobody reaches in. The locks that are on come off in the order of the release."))
		page.Fields = []views.Field{f.TickField("clear", f.T("Nobody has reached into the machine, and nobody will"), r.again("clear") == "yes")}
	case actLater:
		until := r.again("until")
		if until == "" {
			until = l.Expected.Add(time.Hour).In(v.zone).Format(momentLayout)
		}
		page.Fields = []views.Field{f.MomentField("until", f.T("Expected until now"), until).Required(), f.TextField("note", f.T("Why it takes longer"), r.again("note"))}
	case actOvernight:
		until := r.again("until")
		if until == "" {
			until = v.nextShift().In(v.zone).Format(momentLayout)
		}
		page.Fields = []views.Field{f.MomentField("until", f.T("Stays locked until"), until).Required()}
	}
	return err
}

func (v *visit) whyNothing(l procedures.Lockout, names map[procedures.PersonID]string) plain.Sentence {
	switch {
	case !l.Open():
		return plain.Sentence{}
	case !v.person.Works():
		return plain.Say("You are signed in to read. What is done here is reported by the crew.")
	case l.Stage > procedures.Work:
		return plain.Say("%s answers for this lockout and gives the machine back.", names[l.Primary])
	}
	return plain.Say("The steps up to zero are %s's, who answers for this lockout. You join with your own lock after that.", names[l.Primary])
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
func (v *visit) stepLines(f *views.Frame, l procedures.Lockout, steps []procedures.Step, r report, names map[procedures.PersonID]string) ([]stepLine, error) {
	var lines []stepLine
	for _, s := range steps {
		line := stepLine{ID: s.ID, Text: s.Text, Where: deviceMark(f, l.Procedure, s.Device)}
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
		case s.Proof != procedures.MeterDead && v.person.ID != l.Primary && r.act != actVerify && r.act != actRecheck && l.Stage != procedures.Work:
			line.Note = plain.Say("For %s, who answers for this lockout.", names[l.Primary])
		default:
			line.Fields, line.Kept = v.stepFields(f, l, s, r), r.photos[s.ID]
			if neverSet(l, s) {
				line.Note = plain.Say("It was not reported in. Take it out if it is in; if it isn't, tick this all the same.")
			}
		}
		if !line.Done && (s.Stage == procedures.Isolate || s.Stage == procedures.Apply) {
			var err error
			if line.Photo, err = v.photoOf(l.Procedure, s.Device); err != nil {
				return nil, err
			}
		}
		lines = append(lines, line)
	}
	return lines, nil
}

// neverSet tells whether s takes out what this lockout, called off, never reported
// in.
func neverSet(l procedures.Lockout, s procedures.Step) bool {
	if s.Stage < procedures.RemoveLocks || s.Device == "" || lockable(l.Procedure, s.Device) || !l.CalledOff() {
		return false
	}
	return !slices.ContainsFunc(l.Procedure.Steps, func(in procedures.Step) bool {
		_, done := l.Done[in.ID]
		return in.Device == s.Device && in.Stage < procedures.Work && done
	})
}

// photoOf is the photo of a device with its point marked, nil for none.
func (v *visit) photoOf(p procedures.Procedure, id procedures.DeviceID) (*markedPhoto, error) {
	for _, d := range p.Devices {
		if d.ID == id {
			return v.marked(d)
		}
	}
	return nil, nil
}

func (v *visit) stepFields(f *views.Frame, l procedures.Lockout, s procedures.Step, r report) []views.Field {
	fields := v.reportFields(f, l, s, r)
	if s.AsksPhoto && len(fields) > 0 && r.act != actVerify {
		fields = append(fields, stepPhoto(f, s))
	}
	return fields
}

// reportFields are those by which a step is reported, without its picture.
func (v *visit) reportFields(f *views.Frame, l procedures.Lockout, s procedures.Step, r report) []views.Field {
	id, device := string(s.ID), string(s.Device)
	locked := lockable(l.Procedure, s.Device)
	switch {
	case locked && s.Stage == procedures.Apply:
		return []views.Field{lockField(f, l.Procedure, s.Device, r, f.T("Number on your lock"))}
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
			WithHint(tellHint(f, r)))
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
		fields = append(fields, tagFields(f, l.Procedure, s, r)...)
	}
	if s.Proof == procedures.TryStart {
		fields = append(fields, f.TickField("offback."+id, f.T("The control is back at off"), r.again("offback."+id) == "yes"))
	}
	return fields
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
