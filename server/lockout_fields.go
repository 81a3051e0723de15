package server

import (
	"slices"
	"strconv"
	"strings"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/views"
)

// lockField asks the number on an own lock, which holds the device as its kind
// of device is held.
func lockField(f *views.Frame, p procedures.Procedure, device procedures.DeviceID, r report, label string) views.Field {
	name := "lock." + string(device)
	field := f.TextField(name, label, r.again(name)).Offering(r.locks).Scanned()
	for _, d := range p.Devices {
		switch position := d.Kind.Position(); {
		case d.ID != device || position == "":
		case d.Adapter:
			field = field.WithHint(f.T("With its adapter. It holds the device %s. Pull at it.", position.Words()))
		default:
			field = field.WithHint(f.T("It holds the device %s. Pull at it.", position.Words()))
		}
	}
	return field
}

// lockFields ask a number for each device without an own lock.
func (v *visit) lockFields(f *views.Frame, l procedures.Lockout, r report) []views.Field {
	var fields []views.Field
	for _, d := range v.withoutOwnLock(l) {
		fields = append(fields, lockField(f, l.Procedure, d.ID, r, f.T("Number on your lock at: %s", deviceMark(f, l.Procedure, d.ID))))
		if s, locks := lockingStep(l.Procedure, d.ID); locks && s.AsksPhoto && v.person.ID == l.Primary {
			fields = append(fields, stepPhoto(f, s))
		}
	}
	return fields
}

// tellHint says whom to tell: who is known to be affected.
func tellHint(f *views.Frame, r report) string {
	if len(r.tell) > 0 {
		return f.T("Entered as affected: %s. By name; with nobody else about, say that.", strings.Join(r.tell, ", "))
	}
	return f.T("By name. With nobody else about, say that.")
}

// toolsInField asks how many tools and parts somebody takes in.
func toolsInField(f *views.Frame, r report) views.Field {
	return f.NumberField("tools_in", f.T("Tools and parts you take in, counted"), r.again("tools_in")).
		WithHint(f.T("Beside those you counted in before. As many must come out again before it is given back. Leave it empty when you don't count them."))
}

// ownToolsOut asks somebody who leaves how many of the tools and parts they
// counted in came out; nothing where they counted none.
func (v *visit) ownToolsOut(f *views.Frame, l procedures.Lockout, r report) []views.Field {
	for _, t := range l.ToolsInBy() {
		if t.Person == v.person.ID {
			return []views.Field{f.NumberField("tools_out", f.T("How many of your tools and parts came out with you"), r.again("tools_out")).
				WithHint(f.T("You counted %d in. What stays in is counted out before it is given back.", t.Tools))}
		}
	}
	return nil
}

// toolsOut asks for the count of tools, and how many where they were counted in,
// by whom.
func toolsOut(f *views.Frame, l procedures.Lockout, r report, names map[procedures.PersonID]string) []views.Field {
	fields := []views.Field{f.TickField("tools", f.T("Tools, rags, bolts and old parts are counted out, and all are back"), r.again("tools") == "yes")}
	if in := l.ToolsIn(); in > 0 {
		fields = append(fields, f.NumberField("tools_out", f.T("How many tools and parts came out"), r.again("tools_out")).WithHint(f.T("%[1]d were counted in: %[2]s.", in, toolsBy(f, l, names))))
	}
	return fields
}

// toolsBy says whose tools are still in.
func toolsBy(f *views.Frame, l procedures.Lockout, names map[procedures.PersonID]string) string {
	var by []string
	for _, t := range l.ToolsInBy() {
		by = append(by, f.T("%[1]s %[2]d", names[t.Person], t.Tools))
	}
	return strings.Join(by, ", ")
}

// keysField asks whether the key of every lock was seen in the box.
func keysField(f *views.Frame, r report) views.Field {
	return f.TickField("keys", f.T("I looked into the box: the key of every lock on a device is in it"), r.again("keys") == "yes").
		WithHint(f.T("Only where your lock goes on the box."))
}

// unseenKeys asks for them where a lock went on the box by an entry made afterwards
// and nobody saw them since; nothing elsewhere.
func unseenKeys(f *views.Frame, l procedures.Lockout, r report) []views.Field {
	if !l.KeysUnseen() {
		return nil
	}
	return []views.Field{keysField(f, r).WithHint(f.T("A lock went on the box by an entry made afterwards, and nobody said that the keys are in it."))}
}

// handOverFields ask what was told by whom; the keys only where a lock on the
// box counts on them.
func (v *visit) handOverFields(f *views.Frame, l procedures.Lockout, r report, names map[procedures.PersonID]string) []views.Field {
	from := r.again("from")
	if from == "" {
		from = string(l.Primary)
	}
	var choices []views.Choice
	for _, person := range l.Took() {
		if person != v.person.ID {
			choices = append(choices, views.Choice{Value: string(person), Text: names[person]})
		}
	}
	fields := []views.Field{
		f.AreaField("told", f.T("What you were told"), r.again("told")).WithHint(f.T("What is done, what is open, who is in it, what is out of the machine.")),
		f.ChoiceField("from", f.T("Who told you"), from, choices),
	}
	if unseen := unseenKeys(f, l, r); unseen != nil {
		fields = append(fields, unseen...)
	} else if slices.ContainsFunc(l.LocksOn(), func(lock procedures.Lock) bool { return lock.Device == "" }) {
		fields = append(fields, f.TickField("keys", f.T("The keys of my locks are in the box"), r.again("keys") == "yes"))
	}
	return fields
}

// absentFields ask which lock, how it was made sure that its owner isn't here,
// and for each try to reach them; one row more at a tap, without scripts.
func (v *visit) absentFields(page *lockoutPage, l procedures.Lockout, r report, names map[procedures.PersonID]string) error {
	f := page.Frame
	std, err := v.desk.Program(v.ctx())
	if err != nil {
		return err
	}
	if err := procedures.MayTakeAbsentLock(std); err != nil {
		page.InTheWay = append(page.InTheWay, refusalLine(err, "/program"))
	} else {
		page.Said = append(page.Said, plain.Say("As the mill's program has it: %s", std.AbsentOwner))
	}
	var choices []views.Choice
	for _, lock := range v.othersLocks(l) {
		choices = append(choices, views.Choice{Value: lock.Number, Text: f.T("%[1]s of %[2]s: %[3]s", lock.Number, names[lock.Owner], deviceSaid(l.Procedure, lock.Device))})
	}
	page.Fields = []views.Field{
		f.ChoiceField("lock", f.T("Which lock"), r.again("lock"), choices),
		f.AreaField("not_here", f.T("How you made sure its owner isn't at the mill"), r.again("not_here")).WithHint(f.T("Who looked where.")),
	}
	if !v.now.After(l.Expected) {
		page.Fields = append(page.Fields, beforeEndField(f, l, r))
	}
	v.tryFields(page, r)
	return nil
}

// beforeEndField asks a supervisor's word that somebody who counts as here isn't.
func beforeEndField(f *views.Frame, l procedures.Lockout, r report) views.Field {
	return f.TickField("before_end", f.T("Signed on until %s counts as here. I looked all the same: they are not at the mill", l.Expected), r.again("before_end") == "yes").
		WithHint(f.T("It stands in the record that this was before the end that was expected. Say each try to reach them."))
}

// tryFields ask for each try to reach somebody.
func (v *visit) tryFields(page *lockoutPage, r report) {
	f := page.Frame
	page.Rows = rowsAsked(r.again)
	for i := range page.Rows {
		row := strconv.Itoa(i)
		at := r.again("try_at." + row)
		if at == "" {
			at = v.now.In(v.zone).Format(momentLayout)
		}
		page.Fields = append(page.Fields,
			f.TextField("try_way."+row, f.T("Try %d to reach them: by which way", i+1), r.again("try_way."+row)).WithHint(f.T("As in: called the phone number, went to the house.")),
			f.MomentField("try_at."+row, f.T("When"), at),
			f.TextField("try_result."+row, f.T("What came of it"), r.again("try_result."+row)))
	}
	page.MoreRows = page.Rows < triesMost
}

// locksTaken says of each own lock that was taken off what is known of it.
func locksTaken(l procedures.Lockout, person procedures.PersonID, names map[procedures.PersonID]string) []plain.Sentence {
	var said []plain.Sentence
	for _, lock := range l.Untold() {
		if lock.Owner != person {
			continue
		}
		said = append(said, plain.Say("%[1]s reported taking your lock %[2]s off %[3]s, %[4]s, because you were not here. You are not protected any more.",
			names[lock.TakenBy], lock.Number, deviceSaid(l.Procedure, lock.Device), lock.Off))
	}
	return said
}
