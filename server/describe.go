package server

import (
	"strings"
	"time"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// teller says in words what entries of the record are about.
type teller struct {
	names      map[procedures.PersonID]string
	plant      procedures.Plant
	mill       checklists.Mill
	amended    map[checklists.AmendmentID]plain.Sentence               // what amendments among the entries made of what was signed
	procedures map[procedures.ProcedureID]map[int]procedures.Procedure // what lockouts among the entries went by
	rigs       map[string][]store.RigVersion                           // of gear among the entries, oldest version first
}

// told is one entry in words.
type told struct {
	Kind plain.Sentence // what sort of act it is
	Said plain.Sentence
	Href string // the page of what it is about, "" for none
	Who  plain.Sentence
	At   time.Time
	Late time.Time // when it happened, if that is another time than At

	LateSaid plain.Sentence        // both times and by how much, empty where it was not late
	Clock    procedures.PhoneClock // of the phone it was entered on
}

// teller loads what describing these entries needs.
func (v *visit) teller(entries []store.Entry) (teller, error) {
	names, err := v.names()
	if err != nil {
		return teller{}, err
	}
	plant, err := v.desk.Plant(v.ctx())
	if err != nil {
		return teller{}, err
	}
	t := teller{names: names, plant: plant, mill: v.mill, amended: map[checklists.AmendmentID]plain.Sentence{}, procedures: map[procedures.ProcedureID]map[int]procedures.Procedure{}}
	if t.rigs, err = v.rigsOf(entries); err != nil {
		return teller{}, err
	}
	for _, e := range entries {
		if a, ok := e.Body.(checklists.Amendment); ok {
			if said, readable := v.amendmentSaid(a); readable {
				t.amended[a.ID] = said
			}
		}
		act, ok := e.Body.(store.LockoutAct)
		if !ok {
			continue
		}
		if _, known := t.procedures[act.Procedure][act.Version]; known {
			continue
		}
		p, err := v.desk.Procedure(v.ctx(), act.Procedure, act.Version)
		if err != nil {
			return teller{}, err
		}
		if t.procedures[act.Procedure] == nil {
			t.procedures[act.Procedure] = map[int]procedures.Procedure{}
		}
		t.procedures[act.Procedure][act.Version] = p
	}
	return t, nil
}

func (t teller) tell(e store.Entry) told {
	line := told{Kind: kindWords(e.Kind), At: e.At, Who: t.who(e.Actor), Clock: t.clocks(e)}
	if line.LateSaid = t.late(e); !line.LateSaid.Empty() {
		line.Late = e.Happened
	}
	line.Said, line.Href = t.said(e)
	return line
}

// who names a person; nobody is somebody who had not signed in.
func (t teller) who(id procedures.PersonID) plain.Sentence {
	if name := t.names[id]; name != "" {
		return plain.Say("%s", name)
	}
	if id == "" {
		return plain.Say("somebody not signed in")
	}
	return plain.Say("somebody whose name was withheld")
}

func (t teller) said(e store.Entry) (plain.Sentence, string) {
	switch body := e.Body.(type) {
	case checklists.Mill:
		if len(body.Kinds) > 0 {
			return plain.Say("What holds for the mill: %[1]s, time zone %[2]s, %[3]d shifts; sawn here: %[4]s.", body.Name, body.Zone, len(body.Shifts), strings.Join(body.Kinds, ", ")), ""
		}
		return plain.Say("What holds for the mill: %[1]s, time zone %[2]s, %[3]d shifts.", body.Name, body.Zone, len(body.Shifts)), ""
	case procedures.Person:
		return t.person(body), ""
	case store.PINReset:
		return t.pinReset(body), ""
	case procedures.Plant:
		return plain.Say("The equipment as it is from now on, %d pieces.", len(body)), "/equipment"
	case store.Publication:
		return publicationSaid(body)
	case checklists.Inspection:
		return inspectionSaid(body), "/inspections/" + string(body.ID)
	case checklists.Unsigned:
		return unsignedSaid(body), "/inspections/" + string(body.Inspection)
	case checklists.SetAside:
		return t.setAsideSaid(body), "/inspections/" + string(body.Inspection)
	case checklists.Amendment:
		if said, known := t.amended[body.ID]; known {
			return said, "/inspections/" + string(body.Inspection)
		}
		return plain.Say("An inspection amended, %d items answered again.", len(body.Answers)), "/inspections/" + string(body.Inspection)
	case checklists.RunCheck:
		return plain.Say("%[1]s may be run for checking by %[2]s until %[3]s.", t.machines(body.Equipment), t.who(body.Person), body.Until), ""
	case checklists.Defect:
		return t.defect(e.Kind, body), "/defects/" + string(body.ID)
	case checklists.Departure:
		return t.departure(e.Kind, body), "/departures/" + string(body.ID)
	case store.Lift:
		return t.lift(body), "/lifts/" + body.ID
	case store.LiftOfRun:
		return liftOfRunSaid(body), "/lifts/" + body.Lift
	case checklists.ClockConfirmation:
		return plain.Say("The clock signed to be right at %s; entries before this one with a later time have a wrong time.", body.Confirmed), "/clock"
	case store.Weighing:
		return weighingSaid(body), "/lifts/" + body.Lift
	case store.Lighter:
		return lighterSaid(body), "/lifts/weighed"
	case store.GearInspection:
		return t.gearInspection(body), gearPath(body.Rig, body.Link)
	case store.GearMeasurement:
		return t.gearMeasurement(body), gearPath(body.Rig, body.Link)
	case store.LockoutAct:
		return t.lockout(body), "/lockouts/" + string(body.Lockout)
	case procedures.Task:
		return t.task(body), "/tasks/" + string(body.ID)
	case checklists.EmergencyCard:
		return emergencySaid(body), "/help/emergency"
	case store.LogKey:
		return logKeySaid(body), "/verify"
	}
	if said, href, ok := t.happening(e.Body); ok {
		return said, href
	}
	if said, href, ok := t.retention(e.Body); ok {
		return said, href
	}
	if said, href, ok := t.tokenSaid(e); ok {
		return said, href
	}
	if said, ok := witnessSaid(e.Body); ok {
		return said, "/witnesses"
	}
	if said, ok := backupSaid(e.Body); ok {
		return said, "/backups"
	}
	if said, href, ok := t.register(e.Body); ok {
		return said, href
	}
	if said, href, ok := t.defectStory(e.Body); ok {
		return said, href
	}
	if said, href, ok := t.registers(e.Body); ok {
		return said, href
	}
	if said, ok := t.lockoutProgram(e.Body); ok {
		return said, ""
	}
	return plain.Say("An entry this Stillsaw is too old to read in words."), ""
}

// kindWords names a kind of entry, for headings and the filter.
func kindWords(kind string) plain.Sentence {
	switch kind {
	case store.KindMill:
		return plain.Say("The mill")
	case store.KindPerson:
		return plain.Say("Person")
	case store.KindPINReset:
		return plain.Say("New PIN")
	case store.KindEquipment:
		return plain.Say("Equipment")
	case store.KindPublished:
		return plain.Say("Published")
	case store.KindInspection:
		return plain.Say("Inspection")
	case store.KindUnsigned:
		return plain.Say("Finished without contact")
	case store.KindSetAside:
		return plain.Say("Not to be signed")
	case store.KindAmendment:
		return plain.Say("Amendment")
	case store.KindRunCheck:
		return plain.Say("Run check")
	case store.KindDefect:
		return plain.Say("Stopped")
	case store.KindDescribed:
		return plain.Say("Defect described")
	case store.KindMended:
		return plain.Say("Mended")
	case store.KindReturned:
		return plain.Say("Returned to service")
	case store.KindDeparture:
		return plain.Say("Departure")
	case store.KindDepartureClosed:
		return plain.Say("Departure closed")
	case store.KindLift:
		return plain.Say("Lift")
	case store.KindLiftOfRun:
		return plain.Say("Lift of a run")
	case store.KindWeighed:
		return plain.Say("Weighing")
	case store.KindLighter:
		return plain.Say("Lighter wood signed")
	case store.KindGearInspected:
		return plain.Say("Gear inspected")
	case store.KindGearMeasured:
		return plain.Say("Gear measured")
	case store.KindLockout:
		return plain.Say("Lockout")
	case store.KindClockConfirmed:
		return plain.Say("Clock confirmed")
	case store.KindLogKey:
		return plain.Say("Key of the record")
	case store.KindBackup:
		return plain.Say("Place of backups")
	}
	if words, ok := happeningKindWords(kind); ok {
		return words
	}
	if words, ok := witnessKindWords(kind); ok {
		return words
	}
	if words, ok := retentionKindWords(kind); ok {
		return words
	}
	if words, ok := tokenKindWords(kind); ok {
		return words
	}
	if words, ok := registerKindWords(kind); ok {
		return words
	}
	if words, ok := defectKindWords(kind); ok {
		return words
	}
	if words, ok := registersKindWords(kind); ok {
		return words
	}
	if words, ok := programKindWords(kind); ok {
		return words
	}
	return plain.Say("Of a later Stillsaw")
}

// machines names equipment, several joined; the site goes by its own name.
func (t teller) machines(ids []procedures.EquipmentID) []plain.Sentence {
	var all []plain.Sentence
	for _, id := range ids {
		all = append(all, t.machine(id))
	}
	return all
}

func (t teller) machine(id procedures.EquipmentID) plain.Sentence {
	if e, ok := t.plant.Find(id); ok {
		return plain.Say("%s", e.Name)
	}
	return plain.Say("equipment no longer there")
}

func (t teller) person(p procedures.Person) plain.Sentence {
	name := p.Name
	if name == "" {
		return plain.Say("A person whose name was withheld.")
	}
	if p.Left {
		return plain.Say("%s has left the mill.", name)
	}
	return plain.Say("%[1]s: %[2]s.", name, personMay(p))
}

// personMay is a person's role and what they may do besides.
func personMay(p procedures.Person) []plain.Sentence {
	may := []plain.Sentence{roleWords(p.Role)}
	for _, one := range []struct {
		ok   bool
		what plain.Sentence
	}{{p.Deputy, plain.Say("deputy of the supervisor")}, {p.Authorized, plain.Say("authorized to lock out")},
		{p.QualifiedElectrical, plain.Say("qualified to test for voltage")}, {p.QualifiedLifting, plain.Say("qualified for lifting gear")}} {
		if one.ok {
			may = append(may, one.what)
		}
	}
	return may
}

func roleWords(role procedures.Role) plain.Sentence {
	switch role {
	case procedures.Operator:
		return plain.Say("operator")
	case procedures.Supervisor:
		return plain.Say("supervisor")
	case procedures.Reader:
		return plain.Say("reader")
	}
	return plain.Say("no role")
}

func (t teller) pinReset(r store.PINReset) plain.Sentence {
	switch r.How {
	case "by-supervisor":
		return plain.Say("A supervisor set a new PIN or password for %s.", t.who(r.Person))
	case "by-owner":
		return plain.Say("%s changed their own PIN or password.", t.who(r.Person))
	}
	return plain.Say("A new PIN or password for %s was set at the Stillsaw computer.", t.who(r.Person))
}

func publicationSaid(p store.Publication) (plain.Sentence, string) {
	switch p.Sort {
	case store.Lists:
		return plain.Say("The list %[1]s put in force, version %[2]d.", p.Title, p.Version), "/lists/" + p.ID + versionQuery(p.Version)
	case store.Procedures:
		if p.Renewal.Said {
			return plain.Say("The procedure %[1]s put in force, version %[2]d; signed: %[3]s. Why: %[4]s", p.Title, p.Version, renewalSaid(p.Renewal), p.Renewal.Why), "/procedures/" + p.ID + versionQuery(p.Version)
		}
		return plain.Say("The procedure %[1]s put in force, version %[2]d.", p.Title, p.Version), "/procedures/" + p.ID + versionQuery(p.Version)
	}
	return plain.Say("The rig %[1]s put in force, version %[2]d.", p.Title, p.Version), "/rigs/" + p.ID + versionQuery(p.Version)
}

// renewalSaid is the author's word on a new version.
func renewalSaid(r procedures.Renewal) plain.Sentence {
	if r.Substance {
		return plain.Say("what is done changed")
	}
	return plain.Say("only words changed")
}

func inspectionSaid(in checklists.Inspection) plain.Sentence {
	found, skipped := 0, 0
	for _, a := range in.Answers {
		switch a.Result {
		case checklists.Found:
			found++
		case checklists.NotChecked:
			skipped++
		}
	}
	switch {
	case found == 0 && skipped == 0:
		return plain.Say("%[1]s, version %[2]d: every item OK.", in.Title, in.Version)
	case skipped == 0:
		return plain.Say("%[1]s, version %[2]d: %[3]d defects found.", in.Title, in.Version, found)
	case found == 0:
		return plain.Say("%[1]s, version %[2]d: no defect found, %[3]d items not checked.", in.Title, in.Version, skipped)
	}
	return plain.Say("%[1]s, version %[2]d: %[3]s and %[4]s.", in.Title, in.Version, plain.Say("%d defects found", found), plain.Say("%d items not checked", skipped))
}

func (t teller) defect(kind string, d checklists.Defect) plain.Sentence {
	machine, what := t.machine(d.Equipment), plain.Say("%s", d.What)
	if d.What == "" {
		what = plain.Say("nothing said yet")
	}
	switch kind {
	case store.KindDefectAssigned:
		return plain.Say("%[1]s, given to %[2]s by %[3]s: %[4]s", machine, t.who(d.Assigned), d.Due, what)
	case store.KindDescribed:
		return plain.Say("%[1]s, what is wrong: %[2]s", machine, what)
	case store.KindMended:
		return plain.Say("%[1]s reported mended: %[2]s", machine, d.MendNote)
	case store.KindReturned:
		if d.NoSecond {
			return plain.Say("%[1]s returned to service by its own mender, no second person: %[2]s", machine, what)
		}
		return plain.Say("%[1]s returned to service: %[2]s", machine, what)
	}
	return plain.Say("%[1]s stopped: %[2]s", machine, what)
}

func (t teller) departure(kind string, d checklists.Departure) plain.Sentence {
	if kind == store.KindDepartureClosed {
		return plain.Say("%[1]s, closed with the reason: %[2]s", t.machine(d.Equipment), d.Reason)
	}
	return plain.Say("%[1]s, against the rule: %[2]s", t.machine(d.Equipment), d.What)
}

func (t teller) lift(l store.Lift) plain.Sentence {
	if l.Go {
		return plain.Say("GO for a lift with %[1]s onto %[2]s.", t.machine(l.Hoist), t.machine(l.LandsOn))
	}
	return plain.Say("NO-GO for a lift with %[1]s onto %[2]s.", t.machine(l.Hoist), t.machine(l.LandsOn))
}
