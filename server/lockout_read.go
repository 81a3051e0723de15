package server

import (
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"stillsaw/procedures"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
)

// readEvents turns what was typed into the form of one act into events.
func (v *visit) readEvents(r *report, l procedures.Lockout, problems *plain.Problems) error {
	yes := func(field string) bool { return v.typed(field) == "yes" }
	switch r.act {
	case actSteps:
		v.readSteps(r, l, problems)
		problems.Unless(len(r.events) > 0, "", "tick what you have done, or give your lock's number; nothing was reported yet")
	case actRestore:
		v.readSteps(r, l, problems)
		r.add("", procedures.Event{Kind: procedures.Restored})
	case actWork:
		r.add("", procedures.Event{Kind: procedures.WorkBegan, ToolsIn: v.count("tools_in", problems), KeysInBox: yes("keys")})
	case actJoin:
		v.readJoin(r, l)
		r.events[0].ToolsIn = v.count("tools_in", problems)
	case actLocks:
		v.readLocks(r, l, procedures.LockApplied)
		problems.Unless(len(r.events) > 0, "", "give your lock's number; nothing was reported yet")
	case actVerify:
		v.readAgain(r, l, problems)
		r.events[0].ToolsIn, r.events[0].KeysInBox = v.count("tools_in", problems), yes("keys")
	case actRecheck:
		for _, s := range l.BuildingUp() {
			if id := string(s.ID); yes("step." + id) {
				r.add("step."+id, procedures.Event{Kind: procedures.Rechecked, Step: s.ID, Proof: s.Proof, OffBack: yes("offback." + id)})
			}
		}
		problems.Unless(len(r.events) > 0, "", "tick what you have proven at zero again; nothing was reported yet")
	case actHandOver:
		r.add("", procedures.Event{Kind: procedures.HandedOver, From: procedures.PersonID(v.typed("from")), Told: v.typed("told"), KeysInBox: yes("keys")})
		return v.readLeft(r, l)
	case actToEnd:
		r.add("", procedures.Event{Kind: procedures.HandedOver, ToEnd: true, NotHere: v.typed("not_here"), Told: v.typed("told"), BeforeEnd: yes("before_end"), Tries: v.readTries(problems)})
		return v.readLeft(r, l)
	case actTest:
		r.add("", procedures.Event{Kind: procedures.TestAsked, Tools: yes("tools"), ToolsOut: v.count("tools_out", problems)})
	case actOff:
		for i, lock := range v.ownLocks(l) {
			if field := offField(i, lock); yes(field) {
				r.add(field, procedures.Event{Kind: procedures.LockRemoved, Device: lock.Device, Lock: lock.Number})
			}
		}
		problems.Unless(len(r.events) > 0, "", "tick each lock you took off; nothing was reported yet")
	case actEnergize:
		r.add("", procedures.Event{Kind: procedures.Energized, Where: v.typed("where"), Note: v.typed("moves"), Clear: yes("clear")})
	case actTestEnd:
		r.add("", procedures.Event{Kind: procedures.TestEnded, OffBack: yes("offback")})
	case actDone:
		r.add("", procedures.Event{Kind: procedures.TestEnded, Over: true, OffBack: yes("offback"), Clear: yes("clear")})
	case actBack:
		r.add("", procedures.Event{Kind: procedures.Resumed})
	case actAbsent:
		std, err := v.desk.Program(v.ctx())
		if err != nil {
			return err
		}
		r.add("lock", procedures.Event{Kind: procedures.LockTaken, Lock: v.typed("lock"), NotHere: v.typed("not_here"), Tries: v.readTries(problems), BeforeEnd: yes("before_end"),
			Program: procedures.MayTakeAbsentLock(std) == nil})
		return v.readLeft(r, l)
	case actTold:
		r.add("", procedures.Event{Kind: procedures.ToldOfLock})
	case actLeave:
		r.add("", procedures.Event{Kind: procedures.LeftJob, ToolsOut: v.count("tools_out", problems)})
	case actOvernight:
		until, err := v.moment(v.typed("until"))
		problems.Unless(err == nil && until.Sub(v.now) <= longestIdle, "until", "until when it stays locked: a day and time to come, at most a year on")
		r.add("until", procedures.Event{Kind: procedures.LeftOvernight, Until: until})
	case actEnd, actCallOff:
		r.add("", procedures.Event{Kind: procedures.WorkEnded, Clear: yes("clear")})
	case actLater:
		until, err := v.moment(v.typed("until"))
		problems.Unless(err == nil && until.After(v.now) && until.Sub(v.now) <= hoursMost*time.Hour, "until", "until when it takes now: a day and time to come, at most 31 days on")
		r.add("until", procedures.Event{Kind: procedures.LaterEnd, Until: until})
	case actCancel:
		r.add("", procedures.Event{Kind: procedures.Cancelled})
	default:
		return store.ErrNotFound
	}
	return nil
}

// readLeft says of whom the last event is for, who isn't here, whether they left
// the mill; the record asks that again.
func (v *visit) readLeft(r *report, l procedures.Lockout) error {
	e := &r.events[len(r.events)-1]
	absent := l.ActedFor(*e)
	if absent == "" {
		return nil
	}
	p, err := v.desk.Person(v.ctx(), absent)
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	e.LeftMill = p.Left
	return err
}

// countMost is more tools and parts than anybody takes into a machine.
const countMost = 500

// count reads how many tools and parts were counted; empty is not counted.
func (v *visit) count(field string, problems *plain.Problems) int {
	typed := v.typed(field)
	if typed == "" {
		return 0
	}
	count, err := strconv.Atoi(typed)
	ok := err == nil && count >= 0 && count <= countMost
	problems.Unless(ok, field, "a whole number from 0 to %d, or nothing when they weren't counted", countMost)
	if !ok {
		return 0
	}
	return count
}

// offField names the tick that says one of several own locks is off.
func offField(i int, lock procedures.Lock) string {
	if lock.Device == "" {
		return "off.box." + strconv.Itoa(i)
	}
	return "off." + string(lock.Device)
}

// readSteps collects the steps ticked and the locks put on or taken off, in the
// procedure's order. Whether it is their turn the rules say.
func (v *visit) readSteps(r *report, l procedures.Lockout, problems *plain.Problems) {
	inspected := -1
	for _, s := range l.Procedure.Steps {
		id, device := string(s.ID), string(s.Device)
		switch locked := lockable(l.Procedure, s.Device); {
		case locked && s.Stage == procedures.Apply:
			if number := v.typed("lock." + device); number != "" {
				r.add("lock."+device, procedures.Event{Kind: procedures.LockApplied, Device: s.Device, Lock: number, Position: positionOf(l.Procedure, s.Device)})
			}
		case locked && s.Stage == procedures.RemoveLocks:
			if v.typed("off."+device) == "yes" {
				r.add("off."+device, procedures.Event{Kind: procedures.LockRemoved, Device: s.Device, Lock: v.ownLock(l, s.Device)})
			}
		case v.typed("step."+id) == "yes":
			e := procedures.Event{Kind: procedures.StepDone, Step: s.ID, Proof: s.Proof, OffBack: v.typed("offback."+id) == "yes", Told: v.typed("told." + id)}
			if s.Stage == procedures.InspectArea {
				inspected = len(r.events)
			}
			if hangsTag(l.Procedure, s) {
				v.readTag(l.Procedure, s, &e)
			}
			r.add("step."+id, e)
		}
	}
	if inspected >= 0 {
		r.events[inspected].Tools, r.events[inspected].ToolsOut = v.typed("tools") == "yes", v.count("tools_out", problems)
	}
}

// ownLock is the number of the signed-in person's lock on a device, "" for none.
func (v *visit) ownLock(l procedures.Lockout, device procedures.DeviceID) string {
	for _, lock := range v.ownLocks(l) {
		if lock.Device == device {
			return lock.Number
		}
	}
	return ""
}

func lockable(p procedures.Procedure, id procedures.DeviceID) bool {
	return slices.ContainsFunc(p.Devices, func(d procedures.Device) bool { return d.ID == id && d.Lockable })
}

// readJoin signs somebody on with a lock on the box with the keys, or on the
// first device, and puts the others on after that.
func (v *visit) readJoin(r *report, l procedures.Lockout) {
	kind := procedures.Joined
	if number := v.typed("box"); number != "" {
		r.add("box", procedures.Event{Kind: kind, Lock: number, KeysInBox: v.typed("keys") == "yes"})
		kind = procedures.LockApplied
	}
	v.readLocks(r, l, kind)
	if len(r.events) == 0 {
		r.add("box", procedures.Event{Kind: procedures.Joined, KeysInBox: true}) // the number comes first
	}
	r.events[0].Craft = v.typed("craft")
}

// readLocks takes the numbers of the locks put on devices. The first is of that
// kind, signing on or not; the others go on after it.
func (v *visit) readLocks(r *report, l procedures.Lockout, first procedures.EventKind) {
	for _, d := range l.Procedure.Devices {
		field := "lock." + string(d.ID)
		if number := v.typed(field); number != "" {
			r.add(field, procedures.Event{Kind: first, Device: d.ID, Lock: number, Position: positionOf(l.Procedure, d.ID)})
			first = procedures.LockApplied
		}
	}
}

func (v *visit) readAgain(r *report, l procedures.Lockout, problems *plain.Problems) {
	var again, offBack []procedures.StepID
	for _, s := range l.Procedure.Steps {
		if v.typed("step."+string(s.ID)) == "yes" {
			again = append(again, s.ID)
		}
		if v.typed("offback."+string(s.ID)) == "yes" {
			offBack = append(offBack, s.ID)
		}
	}
	e, err := l.Reverification(again, offBack)
	problems.Add("step.", err)
	r.add("", e)
}

// triesMost bounds the rows of tries on one form.
const triesMost = 12

// rowsAsked is how many rows of tries the form has.
func rowsAsked(typed func(string) string) int {
	rows, err := strconv.Atoi(typed("rows"))
	if err != nil {
		rows = 1
	}
	if typed("more") == "yes" {
		rows++
	}
	return max(1, min(rows, triesMost))
}

// readTries takes the tries to reach the owner; a row with nothing said in it is
// none.
func (v *visit) readTries(problems *plain.Problems) []procedures.Try {
	var tries []procedures.Try
	for i := range rowsAsked(v.typed) {
		at, way, result := "try_at."+strconv.Itoa(i), v.typed("try_way."+strconv.Itoa(i)), v.typed("try_result."+strconv.Itoa(i))
		if way == "" && result == "" {
			continue
		}
		when, err := v.moment(v.typed(at))
		problems.Unless(err == nil, at, "when you tried: a day and time that is past")
		tries = append(tries, procedures.Try{At: when, Way: way, Result: result})
	}
	return tries
}

// placeOf is the field that a refusal of the event with this field stands
// beside, when it is about one part of it.
func placeOf(e procedures.Event, field, part string) string {
	switch {
	case part == "":
		return field
	case part == "offback" && e.Kind == procedures.Reverified:
		return field // each step again has a tick of its own
	case part == "tries":
		return "try_way.0"
	case part == "photo" && e.Kind == procedures.LockApplied:
		return field
	case e.Step != "" && (part == "photo" || part == "told" || part == "offback" || strings.HasPrefix(part, "tag-")):
		return part + "." + string(e.Step)
	}
	return part
}

// longestIdle is how long a lockout may be left on purpose before somebody looks
// again: a winter, and some. Own choice.
const longestIdle = 366 * 24 * time.Hour
