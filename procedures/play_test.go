package procedures_test

import (
	"slices"
	"strings"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"stillsaw/procedures"
)

// crew are the six people of the generated histories.
func crew() []procedures.Person {
	eli := procedures.Person{ID: "eli", Name: "Eli", Role: procedures.Operator, Authorized: true}
	fay := procedures.Person{ID: "fay", Name: "Fay", Role: procedures.Operator, Authorized: true, Firm: brightwater}
	return []procedures.Person{ada, ben, dora, eli, fay, cleo}
}

// game is one generated history of up to four linked machines.
type game struct {
	t       *rapid.T
	plant   procedures.Plant
	without []string // rules left out of the law and of the gate
	yard    yard
	places  []*place
	outcome outcome
}

// place is one machine with the lockout that is under way there.
type place struct {
	*shop
	p       procedures.Procedure
	entered []procedures.Event
	witness *witness
}

// outcome is what a history came to.
type outcome struct {
	broken         []int
	worked, closed bool
	late, events   int
	accepted       map[procedures.EventKind]int
	turned         map[string]int // clause → acts the gate turned back
}

// evenly draws 0 to n-1, each as likely: rapid's own ranges lean to their ends,
// and a history that is mostly ends gets nowhere.
func evenly(t *rapid.T, n int) int {
	drawn := 0
	for range 8 {
		drawn *= 2
		if rapid.Bool().Draw(t, "bit") {
			drawn++
		}
	}
	return drawn * n / 256
}

func oneOf[T any](t *rapid.T, all []T) T { return all[evenly(t, len(all))] }

// play draws a history under a law some rules are left out of; under the whole
// law it stops at the first broken invariant.
func play(t *rapid.T, mill []procedures.Procedure, plant procedures.Plant, acts int, without ...string) outcome {
	g := &game{t: t, plant: plant, without: without, outcome: outcome{accepted: map[procedures.EventKind]int{}, turned: map[string]int{}}}
	g.yard = anyYard(t, mill)
	first := evenly(t, 4)
	for i := range 1 + evenly(t, 4) {
		p := &place{p: mill[(first+i)%4]}
		require.True(t, g.begin(p, i, six), "nobody may begin: %s", p.p.ID)
		g.places = append(g.places, p)
	}
	for range rapid.IntRange(acts/2, acts).Draw(t, "acts") {
		p := oneOf(t, g.places)
		if !p.l.Open() && len(p.l.Untold()) == 0 {
			over := *p
			if !g.begin(p, evenly(t, 6), p.now.Add(time.Minute)) {
				continue // a test is on, or nobody is over all that it meets
			}
			g.replayed(&over)
		}
		if g.act(p); len(g.outcome.broken) > 0 && len(without) == 0 {
			return g.outcome
		}
	}
	for _, p := range g.places {
		g.replayed(p)
	}
	return g.outcome
}

// begin is the first of the crew the gate lets begin: who it turns back asks the
// next. One in sixteen is begun by the placard and entered afterwards.
func (g *game) begin(p *place, first int, now time.Time) bool {
	late := evenly(g.t, 16) == 0
	for i := range 12 {
		by := crew()[(first+i)%6]
		b := procedures.Beginning{ID: procedures.LockoutID(p.p.ID), Procedure: p.p, Task: "teeth", By: by, Expected: now.Add(4 * time.Hour), At: now, Late: late}
		if over := procedures.Coordinators(g.open(), p.p); len(over) > 0 { // over all that it meets
			b.Coordinator = oneOf(g.t, over)
		}
		if !late && g.turns(procedures.MayBeginWithout(p.p, g.standing(by), now, g.without...)) {
			continue
		}
		l, e, err := b.BeginWithout(g.open(), g.without...)
		if err != nil {
			continue
		}
		g.letIn(p, e)
		p.shop, p.entered, p.witness = &shop{t: g.t, l: l, now: now}, []procedures.Event{e}, watch(p.p, e)
		g.outcome.accepted[procedures.Began]++
		return true
	}
	return false
}

// replayed holds the state against a replay of what was entered.
func (g *game) replayed(p *place) {
	again, err := procedures.Replay(p.l.ID, p.p, p.entered)
	if len(g.without) == 0 {
		require.NoError(g.t, err, "invariant %d", replayAgrees)
	}
	if err != nil || asJSON(g.t, p.l) != asJSON(g.t, again) {
		g.outcome.broken = append(g.outcome.broken, replayAgrees)
	}
	g.outcome.events += len(p.l.Events)
}

// act is one act at one machine, sensible most of the time.
func (g *game) act(p *place) {
	s, t := p.shop, g.t
	s.now = s.now.Add(time.Duration(1+evenly(t, 90)) * time.Second)
	by, e := g.sensible(s)
	if evenly(t, 10) == 9 {
		by, e = g.anything(s)
	}
	if evenly(t, 25) == 0 { // entered afterwards
		e.Late, e.At = true, s.now.Add(-time.Duration(evenly(t, 150))*time.Second)
	}
	g.counts(p, &e, by.ID)
	if e.Person = by.ID; e.At.IsZero() {
		e.At = s.now
	}
	e = s.held(e)
	at := g.standing(by)
	if e.Kind == procedures.LockTaken { // as the record fills it in: nobody types it
		e.Program = procedures.MayTakeAbsentLock(at.Program) == nil
	}
	was := len(s.l.Events)
	if g.turns(procedures.MayReportWithout(s.l, e, at, s.now, g.without...)) {
		return
	}
	if err := s.l.ApplyWithout(e, by, g.without...); err != nil {
		require.Len(t, s.l.Events, was)
		return
	}
	g.letIn(p, e)
	p.entered = append(p.entered, e)
	g.outcome.accepted[e.Kind]++
	g.outcome.worked = g.outcome.worked || e.Kind == procedures.WorkBegan
	g.outcome.closed = g.outcome.closed || e.Kind == procedures.Restored
	if e.Late {
		g.outcome.late++
		p.witness = watch(p.p, s.l.Events...)
	} else {
		p.witness.see(e)
	}
	p.witness.held(heldBy(g.plant, s.l))
	for _, m := range s.l.Members {
		for _, eq := range s.l.Procedure.Equipment {
			p.witness.mayWork(m.Person, s.now, s.l.VerifiedFor(m.Person, eq, s.now))
		}
	}
	g.outcome.broken = append(g.outcome.broken, p.witness.found()...)
}

func person(id procedures.PersonID) procedures.Person {
	for _, p := range crew() {
		if p.ID == id {
			return p
		}
	}
	return procedures.Person{}
}

// sensible is what a careful crew does next.
func (g *game) sensible(s *shop) (procedures.Person, procedures.Event) {
	primary, chance := person(s.l.Primary), evenly(g.t, 100)
	if len(s.l.Locks) > 0 && s.l.Open() && evenly(g.t, 128) == 0 { // the primary is gone for good
		if s.now.Before(s.l.Expected) {
			s.now = s.l.Expected.Add(time.Minute)
		}
		return oneOf(g.t, []procedures.Person{cleo, cleo, dora, person("eli")}), toEnd
	}
	switch {
	case len(s.l.Untold()) > 0 && (chance < 30 || !s.l.Open()):
		return person(s.l.Untold()[0].Owner), procedures.Event{Kind: procedures.ToldOfLock}
	case s.l.Test != "":
		return g.testing(s, chance)
	case s.l.Stage == procedures.Work:
		return g.working(s, chance)
	case s.l.Stage < procedures.Work && len(s.l.Locks) == 0 && chance == 50:
		return primary, procedures.Event{Kind: procedures.Cancelled}
	case s.l.Stage < procedures.Work && len(s.l.Locks) > 0 && chance == 50:
		return primary, procedures.Event{Kind: procedures.WorkEnded, Clear: true}
	case s.l.Stage < procedures.ClearPeople && chance == 51:
		return primary, procedures.Event{Kind: procedures.LaterEnd, Until: s.l.Expected.Add(time.Hour)}
	case s.l.Stage > procedures.Work && s.l.Stage <= procedures.RemoveLocks && chance > 94:
		return primary, procedures.Event{Kind: procedures.Resumed}
	case s.l.Stage == procedures.ClearPeople && len(s.l.SignedOn()) > 1:
		return g.leaving(s, chance)
	case s.l.Stage == procedures.RemoveLocks && len(s.l.LocksOn()) > 0:
		return g.unlocking(s, chance)
	case s.l.Stage == procedures.NotifyRestored && len(s.undone()) == 0:
		return primary, procedures.Event{Kind: procedures.Restored}
	}
	undone := s.undone()
	if len(undone) == 0 {
		return primary, procedures.Event{Kind: procedures.WorkEnded, Clear: true}
	}
	s.now = s.now.Add(max(0, s.l.WaitLeft(s.now)))
	e := s.event(undone[0])
	if e.Kind == procedures.LockApplied {
		e.Lock = s.number(primary.ID, string(e.Device))
	}
	return primary, e
}

func (g *game) testing(s *shop, chance int) (procedures.Person, procedures.Event) {
	primary, on := person(s.l.Primary), s.l.LocksOn()
	switch {
	case s.l.Test == procedures.TestEnergized || chance < 10:
		over := s.l.Test == procedures.TestEnergized && chance < 25
		return primary, procedures.Event{Kind: procedures.TestEnded, OffBack: true, Over: over, Clear: over}
	case len(on) > 0 && chance < 85:
		return person(on[0].Owner), procedures.Event{Kind: procedures.LockRemoved, Lock: on[0].Number}
	}
	return primary, energized
}

// leaving is somebody else's lock coming off: by themselves, or for them.
func (g *game) leaving(s *shop, chance int) (procedures.Person, procedures.Event) {
	for _, m := range s.l.SignedOn() {
		if m.Person == s.l.Primary {
			continue
		}
		if chance < 60 {
			return person(m.Person), procedures.Event{Kind: procedures.LeftJob}
		}
		if s.now.Before(s.l.Expected) && chance < 80 {
			s.now = s.l.Expected.Add(time.Minute)
		}
		for _, lock := range s.l.LocksOn() {
			if lock.Owner == m.Person {
				return g.taking(s, lock)
			}
		}
	}
	return g.unlocking(s, chance)
}

func (g *game) taking(s *shop, lock procedures.Lock) (procedures.Person, procedures.Event) {
	by := cleo
	if evenly(g.t, 3) == 0 { // anybody tries
		by = oneOf(g.t, crew())
	}
	return by, procedures.Event{Kind: procedures.LockTaken, Lock: lock.Number, NotHere: "looked everywhere",
		Tries: []procedures.Try{{At: s.now, Way: "telephone", Result: "no answer"}}}
}

func (g *game) unlocking(s *shop, chance int) (procedures.Person, procedures.Event) {
	on := s.l.LocksOn()
	if len(on) == 0 {
		return cleo, procedures.Event{Kind: procedures.ToldOfLock}
	}
	if chance < 85 {
		return person(on[0].Owner), procedures.Event{Kind: procedures.LockRemoved, Lock: on[0].Number}
	}
	return g.taking(s, on[0])
}

// working is an act while work may be done.
func (g *game) working(s *shop, chance int) (procedures.Person, procedures.Event) {
	primary, others := person(s.l.Primary), []procedures.PersonID{}
	for _, m := range s.l.SignedOn() {
		if m.Person != s.l.Primary {
			others = append(others, m.Person)
		}
	}
	someone := oneOf(g.t, crew())
	if len(others) > 0 && chance%2 == 0 {
		someone = person(oneOf(g.t, others))
	}
	if evenly(g.t, 30) == 0 {
		s.now = s.now.Add(35 * time.Minute)
	}
	due, _ := s.l.RecheckDue(s.now)
	missing := ""
	boxed := slices.ContainsFunc(s.l.LocksOn(), func(l procedures.Lock) bool { return l.Owner == someone.ID && l.Device == "" })
	for _, d := range s.l.Procedure.Devices {
		if d.Lockable && !slices.ContainsFunc(s.l.LocksOn(), func(l procedures.Lock) bool { return l.Owner == someone.ID && l.Device == d.ID }) {
			missing = string(d.ID)
		}
	}
	switch {
	case due.ID == "" && chance < 4: // before it is due
		return primary, s.recheck()
	case due.ID != "" && !s.l.Working && chance < 15: // too hasty
		return primary, procedures.Event{Kind: procedures.WorkBegan}
	case due.ID != "" && chance < 60:
		return primary, procedures.Event{Kind: procedures.Rechecked, Step: due.ID, Proof: due.Proof, OffBack: true}
	case !s.verified(primary.ID) && chance < 40:
		return primary, proof
	case !s.l.Working && !s.verified(primary.ID) && chance < 44: // as hasty in the morning
		return primary, procedures.Event{Kind: procedures.WorkBegan}
	case !s.l.Working && chance < 40:
		return primary, procedures.Event{Kind: procedures.WorkBegan}
	case chance < 50:
		e := procedures.Event{Kind: procedures.Joined, Lock: s.number(someone.ID, "box"), KeysInBox: true, Craft: strings.Repeat("fitters", chance%2)}
		if chance%3 > 0 {
			e.Device, e.Lock = procedures.DeviceID(missing), s.number(someone.ID, missing)
		}
		return someone, e
	case slices.Contains(others, someone.ID) && !boxed && missing != "":
		return someone, procedures.Event{Kind: procedures.LockApplied, Device: procedures.DeviceID(missing), Lock: s.number(someone.ID, missing)}
	case slices.Contains(others, someone.ID) && !s.verified(someone.ID):
		return someone, proof
	case slices.Contains(others, someone.ID) && chance < 72:
		return someone, procedures.Event{Kind: procedures.HandedOver, From: s.l.Primary, Told: "nobody in it", KeysInBox: true}
	case len(others) > 0 && chance < 90:
		return g.leaving(s, chance-25)
	case len(others) == 0 && chance < 65:
		return primary, procedures.Event{Kind: procedures.TestAsked, Tools: true}
	case len(others) == 0 && chance < 80:
		e := procedures.Event{Kind: procedures.LeftOvernight, Until: s.now.Add(12 * time.Hour)}
		s.now = s.now.Add(time.Hour)
		return primary, e
	}
	return primary, procedures.Event{Kind: procedures.WorkEnded}
}

func (s *shop) recheck() procedures.Event {
	for _, step := range s.l.Procedure.Steps {
		if step.Recheck > 0 {
			return procedures.Event{Kind: procedures.Rechecked, Step: step.ID, Proof: step.Proof, OffBack: true}
		}
	}
	return proof
}

// number is that of a person's lock for a device, or the box, of this machine.
func (s *shop) number(of procedures.PersonID, at string) string {
	return string(of) + "-" + string(s.l.Procedure.ID) + "-" + at
}

func (s *shop) verified(id procedures.PersonID) bool {
	return s.l.VerifiedFor(id, s.l.Procedure.Equipment[0], s.now)
}

// anything is what nobody should try, or not now, or not they.
func (g *game) anything(s *shop) (procedures.Person, procedures.Event) {
	t, by := g.t, oneOf(g.t, crew())
	numbers := []string{s.number(by.ID, "box"), s.number("ada", "saw-disconnect")}
	for _, l := range append(g.open(), s.l) {
		for _, lock := range l.LocksOn() {
			numbers = append(numbers, lock.Number)
		}
	}
	devices := []procedures.DeviceID{"", "saw-pin"}
	for _, d := range s.l.Procedure.Devices {
		devices = append(devices, d.ID)
	}
	e := procedures.Event{
		Kind: oneOf(t, procedures.EventKinds()[1:]), Proof: procedures.TryStart, OffBack: true, Told: "crew", Tools: true, Clear: true,
		Until: s.now.Add(time.Hour), Note: "turns", Where: "stand", NotHere: "looked", Tries: []procedures.Try{{At: s.now.Add(-time.Hour), Way: "telephone", Result: "none"}},
		Lock: oneOf(t, numbers), Device: oneOf(t, devices),
		Step: oneOf(t, s.l.Procedure.Steps).ID, From: s.l.Primary, KeysInBox: true,
	}
	if e.Kind == procedures.HandedOver {
		e.ToEnd = evenly(t, 2) == 0
	}
	if e.Kind == procedures.LockRemoved {
		e.Device = ""
	}
	if e.Kind == procedures.Cancelled && len(s.l.Locks) == 0 { // seldom, else nothing gets anywhere
		e.Kind = procedures.WorkBegan
	}
	switch evenly(t, 12) {
	case 0, 1:
		e.Late, e.At = true, s.now.Add(-time.Duration(rapid.IntRange(1, 600).Draw(t, "ago"))*time.Second)
	case 2:
		e.Told, e.NotHere, e.OffBack, e.Tools, e.Clear = "", "", false, false, false
	case 3:
		e.Tries, e.Proof, e.From = nil, procedures.Tick, by.ID
	}
	return by, e
}
