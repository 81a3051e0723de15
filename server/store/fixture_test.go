package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/server/store/scratchdb"
)

// Tuesday, 06:00 at the mill in New York, an hour before its shift.
var six = time.Date(2026, 3, 3, 11, 0, 0, 0, time.UTC)

const fernhollow = checklists.MillID("01990000-0000-7000-8000-0000000000aa")

var (
	ada  = procedures.Person{ID: "ada", Name: "Ada Rook", Role: procedures.Operator, Authorized: true, QualifiedLifting: true}
	ben  = procedures.Person{ID: "ben", Name: "Ben Lind", Role: procedures.Operator, Authorized: true}
	sam  = procedures.Person{ID: "sam", Name: "Sam Ordway", Role: procedures.Supervisor, Authorized: true}
	rita = procedures.Person{ID: "rita", Name: "Rita Vance", Role: procedures.Reader}
)

func millOf(id checklists.MillID) checklists.Mill {
	return checklists.Mill{
		ID: id, Name: "Fernhollow", Zone: "America/New_York", Units: checklists.InchPound,
		SetUp: checklists.SetUp{Law: "us-federal", Drive: "electric", Feed: "mandrel", Dogs: "hand", Headblocks: 2, EntryPoints: 2, Hoist: "electric", Collector: "cyclone", SpindleSpeed: 600},
		Shifts: []checklists.Shift{{Name: "Day", Start: 7 * 60, End: 15*60 + 30,
			Days: []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday}}},
	}
}

func plantOf() procedures.Plant { return procedures.StarterPlant(millOf("").SetUp.Answers()) }

// shortList asks something of every machine and one thing of each kind, all
// with the machine stopped but one.
func shortList() checklists.List {
	high := 0.5
	item := func(id checklists.ItemID, prompt string) checklists.Item {
		return checklists.Item{ID: id, Station: "Carriage", Equipment: "carriage", Prompt: prompt, How: "Look.", State: checklists.Stopped,
			Kind: checklists.Choice, Severity: checklists.Mend, Source: "common practice, no source"}
	}
	dogs, play, name, turning := item("C1", "Dogs bite"), item("C2", "Play of the knees"), item("C3", "Serial of the saw"), item("C4", "Runs true")
	dogs.Severity = checklists.Stop
	play.Kind, play.Limits = checklists.Number, checklists.Limits{Unit: "in", High: &high, Most: 3}
	name.Kind = checklists.Text
	turning.State = checklists.Running
	dogs.Equipment, name.Equipment = "dogs-and-knees", "head-saw"
	hoist, dust, ways := item("C5", "Hook latch shuts"), item("C6", "Ducts whole"), item("C7", "Ways clear")
	hoist.Equipment, dust.Equipment, ways.Equipment = "hoist", "dust-collection", "site"
	return checklists.List{ID: "short", Title: "Short list", Schedule: checklists.Schedule{Every: checklists.EachShift, Holds: true},
		Items: []checklists.Item{dogs, play, name, turning, hoist, dust, ways}}
}

// A madeDatabase is what other databases are made like: a file, or the address of a
// database of a PostgreSQL server.
type madeDatabase struct {
	file     []byte
	postgres string
}

// databaseAfter is a new database after work on it.
func databaseAfter(t testing.TB, work func(*Store)) (made madeDatabase) {
	t.Helper()
	if scratchdb.Asked() {
		address, err := scratchdb.Keep("")
		require.NoError(t, err)
		p := openPostgres(t, address)
		s, err := p.Open(t.Context(), t.TempDir(), fernhollow, nil)
		require.NoError(t, err)
		work(s)
		require.NoError(t, errors.Join(s.Close(), p.Close()))
		return madeDatabase{postgres: address}
	}
	s, err := Open(t.Context(), t.TempDir())
	require.NoError(t, err)
	work(s)
	require.NoError(t, s.Close())
	made.file, err = os.ReadFile(s.Path())
	require.NoError(t, err)
	return made
}

// openPostgres opens a database of a server that need not keep anything.
func openPostgres(t testing.TB, address string) *Postgres {
	t.Helper()
	p, err := OpenPostgres(t.Context(), address, PostgresOptions{MayLose: true})
	require.NoError(t, err)
	return p
}

// openOn opens a store on an own folder, and on a database like that, and closes it
// with the test.
func openOn(t testing.TB, made madeDatabase) *Store {
	t.Helper()
	return openOnFor(t, made, fernhollow)
}

// openFor is [open] for another mill.
func openFor(t testing.TB, mill checklists.MillID) *Store {
	t.Helper()
	return openOnFor(t, emptyMade(t), mill)
}

func openOnFor(t testing.TB, made madeDatabase, mill checklists.MillID) *Store {
	t.Helper()
	dir := t.TempDir()
	if made.postgres != "" {
		p := openPostgres(t, scratchdb.New(t, made.postgres))
		s, err := p.Open(t.Context(), dir, mill, nil)
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, errors.Join(s.Close(), p.Close())) })
		return s
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), made.file, 0o600))
	s, err := Open(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

// keysOff has rows of s refer to what is not there.
func keysOff(t testing.TB, s *Store) {
	t.Helper()
	if s.postgres == nil {
		require.NoError(t, s.writes.Exec("PRAGMA foreign_keys = OFF").Error)
		return
	}
	var constraints []struct{ Relation, Name string }
	require.NoError(t, s.writes.Raw("SELECT conrelid::regclass::text AS relation, conname AS name FROM pg_constraint WHERE contype = 'f' AND connamespace = to_regnamespace(current_schema())").Scan(&constraints).Error)
	for _, c := range constraints {
		require.NoError(t, s.writes.Exec("ALTER TABLE "+c.Relation+" DROP CONSTRAINT IF EXISTS "+c.Name).Error)
	}
}

// madeOnce are databases that were made once: the steps of the schema take longer
// than most tests, so these work on copies.
var madeOnce struct {
	empty, settled         madeDatabase
	emptyOnce, settledOnce sync.Once
}

// open opens an empty store on an own folder and closes it with the test.
func open(t testing.TB) *Store {
	t.Helper()
	return openOn(t, emptyMade(t))
}

func emptyMade(t testing.TB) madeDatabase {
	t.Helper()
	made := &madeOnce
	made.emptyOnce.Do(func() { made.empty = databaseAfter(t, func(*Store) {}) })
	return made.empty
}

// bytesOf is how a statement writes bytes, given in hexadecimal.
func bytesOf(hex string) string {
	if scratchdb.Asked() {
		return `'\x` + hex + `'::bytea`
	}
	return "x'" + hex + "'"
}

// alterDoc changes the document of one row past the record.
func alterDoc(t testing.TB, db *gorm.DB, table, id string, change func(map[string]any)) {
	t.Helper()
	var text string
	require.NoError(t, db.Raw("SELECT doc FROM "+table+" WHERE id = ?", id).Scan(&text).Error)
	doc := map[string]any{}
	require.NoError(t, json.Unmarshal([]byte(text), &doc))
	change(doc)
	changed, err := json.Marshal(doc)
	require.NoError(t, err)
	require.NoError(t, db.Exec("UPDATE "+table+" SET doc = ? WHERE id = ?", string(changed), id).Error)
}

// setUp makes a mill with its people and drafts.
func setUp(t testing.TB, s *Store, id checklists.MillID) *Mill {
	t.Helper()
	set := SetUp{Mill: millOf(id), Plant: plantOf(), Supervisor: sam, Digest: "digest of sam", At: six.Add(-48 * time.Hour)}
	draft := func(sort Sort, id, title string, doc any) {
		d, err := DraftOf(sort, id, title, doc)
		require.NoError(t, err)
		set.Drafts = append(set.Drafts, d)
	}
	draft(Lists, "short", "Short list", shortList())
	for _, p := range procedures.StarterProcedures(set.Plant, set.Mill.SetUp.Answers()) {
		if p.ID == "hoist" {
			draft(Procedures, "hoist", p.Title, p)
		}
	}
	rig := lift.StarterRig()
	draft(Rigs, rig.ID, rig.Name, rig)
	require.NoError(t, s.SetUp(t.Context(), set))
	m := s.Of(id)
	for _, p := range []procedures.Person{ada, ben, rita} {
		require.NoError(t, m.KeepPerson(t.Context(), "person "+string(p.ID), p, "digest of "+string(p.ID), sam, six.Add(-47*time.Hour)))
	}
	return m
}

// newMill is a mill with its documents in force.
func newMill(t testing.TB) *Mill {
	t.Helper()
	made := &madeOnce
	made.settledOnce.Do(func() {
		made.settled = databaseAfter(t, func(s *Store) {
			m := setUp(t, s, fernhollow)
			publishAll(t, m)
			for _, who := range []procedures.Person{ada, ben, sam} {
				trained(t, m, who, six.Add(-45*time.Hour))
			}
		})
	})
	return openOn(t, made.settled).Of(fernhollow)
}

// trained enters that who was trained to lock out the hoist.
func trained(t testing.TB, m *Mill, who procedures.Person, at time.Time) {
	t.Helper()
	p, err := m.Procedure(t.Context(), "hoist", 0)
	require.NoError(t, err)
	_, err = m.EnterTraining(t.Context(), NewID(), procedures.Training{Person: who.ID, Level: procedures.AuthorizedLevel,
		Procedures: []procedures.TrainedOn{{Procedure: p.ID, Version: p.Version}}, EnergyKinds: p.Kinds(), Tags: true, TagPoints: procedures.TagPoints(),
		Covered: "at the hoist, for " + who.Name, Trainer: "Jo Firth", On: at}, sam, at)
	require.NoError(t, err)
}

// goodProgram is what the mill says of its control of hazardous energy.
func goodProgram() procedures.Program {
	return procedures.Program{Purpose: "nobody is hurt while mending", Duty: "everybody keeps to it", InCharge: sam.ID, Scope: "all of the mill", Enforcement: "a talk, then home",
		Law: procedures.LawUSFederal, AbsentOwner: "look, telephone, sign", LockColour: "red", TagStandard: "red and white, printed",
		Affected: []procedures.Affected{{Equipment: "hoist", People: []procedures.PersonID{ada.ID, ben.ID}}}}
}

// inspectedHoist is a periodic inspection of the hoist's procedure by ben.
func inspectedHoist(on time.Time) procedures.ProcedureInspection {
	return procedures.ProcedureInspection{Procedure: "hoist", Equipment: []procedures.EquipmentID{"hoist"}, On: on, Inspector: ben.ID,
		Reviewed: []procedures.Review{{Person: ada.ID, On: on}, {Person: sam.ID, FollowUp: on.Add(7 * 24 * time.Hour)}},
		Findings: []procedures.Finding{{Said: "hasp worn", Kind: procedures.WrongGear, Owner: ada.ID, Due: on.Add(24 * time.Hour)}}}
}

func publishAll(t testing.TB, m *Mill) {
	t.Helper()
	at := six.Add(-46 * time.Hour)
	require.NoError(t, m.Publish(t.Context(), NewID(), Procedures, "hoist", 1, sam, at, NumberProcedure))
	require.NoError(t, m.Publish(t.Context(), NewID(), Lists, "short", 1, sam, at, nil))
	require.NoError(t, m.Publish(t.Context(), NewID(), Rigs, "main-hoist", 1, sam, at, NumberRig))
}

// answers to the short list: one defect with words of its own, the item that
// needs the machine turning left unchecked.
func answers(at time.Time) []checklists.Answer {
	number := 0.25
	return []checklists.Answer{
		{Item: "C1", Result: checklists.OK},
		{Item: "C2", Number: &number},
		{Item: "C3", Result: checklists.Found, Text: "S-1204", Note: "plate loose", StopGap: "wired up", MendBy: at.Add(72 * time.Hour)},
		{Item: "C4", Result: checklists.NotChecked, Note: "not turned yet"},
		{Item: "C5", Result: checklists.OK},
		{Item: "C6", Result: checklists.OK},
		{Item: "C7", Result: checklists.OK},
	}
}

// signed walks the short list as by and signs it.
func signed(t testing.TB, m *Mill, submission string, by procedures.Person, at time.Time) checklists.InspectionID {
	t.Helper()
	id, err := m.BeginWalk(t.Context(), NewID(), "short", by, at)
	require.NoError(t, err)
	require.NoError(t, m.TakeAnswers(t.Context(), id, answers(at), by, at))
	in, err := m.SignInspection(t.Context(), submission, id, by, at.Add(time.Minute), at.Add(50*time.Second))
	require.NoError(t, err)
	return in
}

// happened is what came of filling a mill with an act of every kind.
type happened struct {
	Inspection checklists.InspectionID
	Defect     checklists.DefectID
	Open       checklists.DefectID
	Departure  checklists.DepartureID
	Blade      checklists.BladeID
	Incident   checklists.IncidentID
	Action     checklists.IncidentActionID
	Lockout    procedures.LockoutID
	Walk       checklists.InspectionID
	Lift       string
	Photo      string
	Certified  procedures.ProcedureInspectionID
	Firm       string
	Mail       string
	LiftWait   string
	Calendar   string
	Token      checklists.TokenID // that opens still
	Hold       checklists.KeepHoldID
	Dropped    int64 // entry of which something was dropped
	Witness    checklists.WitnessID
	Backup     checklists.BackupID
	Alarm      checklists.AlarmID // that stands still
	OtherLog   string             // that the mill is a witness of
	After      time.Time
}

// fill does something of every kind at the mill, so that every kind of entry
// and every table has rows.
func fill(t testing.TB, m *Mill) happened {
	t.Helper()
	ctx := t.Context()
	var h happened
	var err error
	do := func(err error) { t.Helper(); require.NoError(t, err) }
	h.Photo, err = m.KeepPhoto(ctx, Photo{Type: "image/jpeg", Width: 2, Height: 1, Bytes: []byte("a picture")}, six)
	do(err)
	do(m.OpenSession(ctx, Session{Token: [32]byte{1}, Person: ada.ID, Made: six, Expires: six.Add(14 * time.Hour)}))
	do(m.WrongTry(ctx, ada.ID, "10.0.0.7", slowly(), six))
	do(m.KeepSettings(ctx, ada.ID, Settings{Language: "es", Units: checklists.Metric, Mark: "comma", Scheme: "sun", Size: "large"}, six))
	h.Inspection = signed(t, m, NewID(), ada, six)
	do(m.AllowRunCheck(ctx, NewID(), h.Inspection, []procedures.EquipmentID{"carriage"}, ada, six.Add(2*time.Minute)))
	do(m.AmendInspection(ctx, NewID(), h.Inspection, []checklists.Answer{{Item: "C4", Result: checklists.OK, Note: "runs <true> & quiet"}}, ada, six.Add(3*time.Minute)))
	h.Defect, err = m.StopIt(ctx, NewID(), checklists.Defect{Equipment: "dust-collection"}, procedures.Person{}, six.Add(4*time.Minute))
	do(err)
	do(m.DescribeDefect(ctx, NewID(), h.Defect, "belt squeals", h.Photo, ben, six.Add(5*time.Minute)))
	do(m.MendDefect(ctx, NewID(), h.Defect, "belt drawn tight", "", ben, six.Add(6*time.Minute)))
	do(m.ReturnDefect(ctx, NewID(), h.Defect, checklists.Recheck{Note: "runs quiet"}, ada, six.Add(7*time.Minute)))
	h.Open, err = m.StopIt(ctx, NewID(), checklists.Defect{Equipment: "head-saw", What: "a tooth is gone"}, ben, six.Add(8*time.Minute))
	do(err)
	h.Departure, err = m.EnterDeparture(ctx, NewID(), checklists.Departure{Equipment: "hoist", What: "lifted while held", Happened: six.Add(-time.Hour)}, ben, six.Add(9*time.Minute))
	do(err)
	do(m.CloseDeparture(ctx, NewID(), h.Departure, "talked over", sam, six.Add(10*time.Minute)))
	caredFor(t, m, &h, six.Add(10*time.Minute))
	h.Blade = registered(t, m, six.Add(10*time.Minute))
	h.Lift, err = m.KeepLift(ctx, NewID(), Lift{Rig: "main-hoist", RigVersion: 1, Hoist: "hoist", LandsOn: "carriage"}, ada, six.Add(11*time.Minute),
		func(LiftFacts) (Judged, error) {
			return Judged{Asked: json.RawMessage(`{"length":2.5}`), Verdict: json.RawMessage(`{"go":false,"why":["rating unknown"]}`), Holds: "the head saw is held"}, nil
		})
	do(err)
	_, err = m.KeepWeighing(ctx, NewID(), Weighing{Lift: h.Lift, Reading: 212.5, Gear: 14.5, Note: "crane scale"}, ada, six.Add(11*time.Minute), func(Lift) error { return nil })
	do(err)
	do(m.SignLighter(ctx, NewID(), Lighter{Kind: "Quercus rubra", Condition: lift.Green}, sam, six.Add(11*time.Minute), func([]Weighed) (lift.Learned, error) { return lift.Learned{}, nil }))
	_, err = m.KeepLiftOfRun(ctx, NewID(), LiftOfRun{Lift: h.Lift, Alike: lift.Yes, Questions: lift.Questions{LandingClear: lift.Yes, NobodyUnder: lift.No}}, ben, six.Add(11*time.Minute), func(Lift, Since) (bool, error) { return false, nil })
	do(err)
	_, err = m.KeepGearInspection(ctx, NewID(), GearInspection{Rig: "main-hoist", Link: "legs", Every: "monthly", Fit: true, Note: "no nicks", Photo: h.Photo}, true, ada, six.Add(11*time.Minute))
	do(err)
	_, err = m.KeepGearMeasurement(ctx, NewID(), GearMeasurement{Rig: "main-hoist", Link: "legs", What: "thickness", Value: 0.0094, New: 0.0099, Note: "calipers"}, ada, six.Add(11*time.Minute))
	do(err)
	do(m.KeepProgram(ctx, NewID(), goodProgram(), sam, six.Add(11*time.Minute)))
	do(m.SignEmergencyCard(ctx, NewID(), Mark(checklists.EmergencyCard{}), millsCard(), sam, six.Add(11*time.Minute)))
	h.Mail, h.Calendar = mailed(t, m, six.Add(11*time.Minute))
	_, err = m.KeepTask(ctx, NewID(), "", oiled(), sam, six.Add(11*time.Minute))
	do(err)
	do(m.EnterStarterTasks(ctx, NewID(), []procedures.Task{{ID: "try-stops", Title: "Try the stops", Equipment: []procedures.EquipmentID{"hoist"}, Kind: procedures.Production}}, sam, six.Add(11*time.Minute)))
	h.Firm, err = m.KeepContractor(ctx, NewID(), procedures.Contractor{Firm: "Brightwater Millwrights", OursGiven: six, Restrictions: "keep off the lift, says Jo", Briefed: []procedures.PersonID{ada.ID}}, sam, six.Add(11*time.Minute))
	do(err)
	h.Lockout, h.After = lockedAndBack(t, m, ada, six.Add(12*time.Minute))
	h.Certified, err = m.InspectProcedure(ctx, NewID(), inspectedHoist(six), h.Lockout, ben, h.After)
	do(err)
	do(m.SeeToFinding(ctx, NewID(), h.Certified, 0, "new hasp", ada, h.After))
	do(m.ChangePlant(ctx, NewID(), plantOf(), sam, h.After))
	do(m.KeepCoast(ctx, NewID(), "head-saw", procedures.CoastMeasured{Energy: "saw-rotation", Seconds: 96, By: ada.ID, At: six, How: "stopwatch, says Ada"}, sam, h.After))
	do(m.Declare(ctx, NewID(), procedures.Declaration{Equipment: "hoist", NoHazard: true}, sam, h.After))
	do(m.ResetPIN(ctx, NewID(), ben.ID, "another digest", "by-supervisor", sam.ID, h.After))
	changed := millOf(m.id)
	changed.Name = "Fernhollow Mill"
	do(m.ChangeMill(ctx, NewID(), changed, sam, h.After))
	clockAhead(t, m, h)
	h.Walk, err = m.BeginWalk(ctx, NewID(), "short", ben, h.After)
	do(err)
	do(m.TakeAnswers(ctx, h.Walk, answers(h.After)[:2], ben, h.After))
	draft, err := DraftOf(Lists, "short", "Short list, longer", shortList())
	do(err)
	do(m.KeepList(ctx, draft, 1, sam, h.After))
	meterRead(t, m, h.After)
	toldOf(t, m, h.After)
	later := shortList()
	later.ID, later.Title = "later", "A list of next week"
	next, err := DraftOf(Lists, "later", later.Title, later)
	do(err)
	next.From = h.After.AddDate(0, 0, 7)
	do(m.ReleaseList(ctx, NewID(), Release{Draft: next}, sam, h.After))
	renew(t, m, "hoist", procedures.Renewal{Said: true, Why: "Jo found the old words hard to read"}, h.After)
	h.Token = tokened(t, m, h.After)
	h.Hold, h.Dropped = settled(t, m, h.After)
	keyed(t, m, h.After)
	h.Witness, h.Alarm, h.OtherLog = witnessed(t, m, h.After)
	h.LiftWait = withoutContact(t, m, h.After)
	h.Backup = backedUp(t, m, h.After)
	return h
}

// meterRead is an inspection of a list that reads the engine's hours.
func meterRead(t testing.TB, m *Mill, at time.Time) {
	t.Helper()
	l := shortList()
	l.ID, l.Title = "hours", "Engine hours"
	l.Items = []checklists.Item{{ID: "H1", Station: "Engine", Equipment: "head-saw", Prompt: "Read the hours", How: "on the panel", State: checklists.Stopped,
		Kind: checklists.MeterReading, Meter: "engine", Limits: checklists.Limits{Unit: "h", Most: 1e6}, Severity: checklists.Mend, Source: "common practice, no source"}}
	l.Schedule = checklists.Schedule{Every: checklists.EachYear}
	d, err := DraftOf(Lists, "hours", l.Title, l)
	require.NoError(t, err)
	require.NoError(t, m.ReleaseList(t.Context(), NewID(), Release{Draft: d}, sam, at))
	id, err := m.BeginWalk(t.Context(), NewID(), "hours", ada, at)
	require.NoError(t, err)
	shown := 1204.5
	require.NoError(t, m.TakeAnswers(t.Context(), id, []checklists.Answer{{Item: "H1", Number: &shown}}, ada, at))
	_, err = m.SignInspection(t.Context(), NewID(), id, ada, at, at)
	require.NoError(t, err)
}

// oiled is a task of minor servicing.
func oiled() procedures.Task {
	return procedures.Task{Title: "Oil the load chain", Equipment: []procedures.EquipmentID{"hoist"}, Kind: procedures.MinorServicing, GuardOff: procedures.No, BodyIn: procedures.No,
		Routine: procedures.Yes, Repetitive: procedures.Yes, Integral: procedures.Yes, Protected: procedures.Yes, Measure: "long brush from the platform, as Jo showed", Note: "hook empty"}
}

// renew puts the next version of a procedure in force, its title reworded.
func renew(t testing.TB, m *Mill, id procedures.ProcedureID, said procedures.Renewal, at time.Time) {
	t.Helper()
	p, err := m.Procedure(t.Context(), id, 0)
	require.NoError(t, err)
	p.Version, p.Title = 0, p.Title+", in plain words"
	draft, err := DraftOf(Procedures, string(id), p.Title, p)
	require.NoError(t, err)
	draft.Renewal = said
	require.NoError(t, m.PublishDraft(t.Context(), NewID(), draft, sam, at, NumberProcedure))
}

// lockedAndBack takes the hoist through a whole lockout, with the start
// entered late as from the placard.
func lockedAndBack(t testing.TB, m *Mill, by procedures.Person, at time.Time) (procedures.LockoutID, time.Time) {
	t.Helper()
	id, err := m.BeginLockoutLate(t.Context(), NewID(), "hoist", "new latch", at.Add(4*time.Hour), at.Add(-time.Minute), by, at)
	require.NoError(t, err)
	for {
		l, err := m.Lockout(t.Context(), id)
		require.NoError(t, err)
		if !l.Open() {
			return id, at
		}
		at = at.Add(10*time.Second + l.WaitLeft(at))
		require.NoError(t, m.LockoutEvents(t.Context(), NewID(), id, []procedures.Event{nextOf(l)}, by, at))
	}
}

// nextOf is what a careful person enters next.
func nextOf(l procedures.Lockout) procedures.Event {
	if l.Stage == procedures.Work {
		if !l.Working {
			return procedures.Event{Kind: procedures.WorkBegan}
		}
		return procedures.Event{Kind: procedures.WorkEnded}
	}
	for _, step := range l.Present() {
		if _, done := l.Done[step.ID]; done {
			continue
		}
		for _, d := range l.Procedure.Devices {
			if d.ID == step.Device && d.Lockable && step.Stage == procedures.Apply {
				return procedures.Event{Kind: procedures.LockApplied, Device: d.ID, Lock: "A-" + string(d.ID), Position: d.Kind.Position()}
			}
			if d.ID == step.Device && d.Lockable && step.Stage == procedures.RemoveLocks {
				return procedures.Event{Kind: procedures.LockRemoved, Device: d.ID, Lock: "A-" + string(d.ID)}
			}
		}
		return procedures.Event{Kind: procedures.StepDone, Step: step.ID, Proof: step.Proof, OffBack: true, Told: "the crew, by voice", Tools: true, Note: "as the placard says"}
	}
	return procedures.Event{Kind: procedures.Restored, Told: "the crew, by voice"}
}

// clean requires that the record is whole and returns how many entries it has.
func clean(t testing.TB, s *Store) int64 {
	t.Helper()
	reports, err := s.Verify(t.Context())
	require.NoError(t, err)
	var entries int64
	for mill, report := range reports {
		require.True(t, report.OK(), "mill %s: %v", mill, report.Faults)
		entries += report.Entries
	}
	return entries
}

// tables lists the tables of a database.
func tables(t testing.TB, db *gorm.DB) []string {
	t.Helper()
	names, err := tablesIn(db)
	require.NoError(t, err)
	return names
}

// dump is every row of a query as text, for comparing. JSON columns are made
// alike: their order of members says nothing.
func dump(t testing.TB, db *gorm.DB, query string, args ...any) []string {
	t.Helper()
	rows, err := db.Raw(query, args...).Rows()
	require.NoError(t, err)
	columns, err := rows.Columns()
	require.NoError(t, err)
	values, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	lines := []string{}
	for rows.Next() {
		require.NoError(t, rows.Scan(into...))
		row := make(map[string]any, len(columns))
		for i, column := range columns {
			row[column] = values[i]
			if bytes, ok := values[i].([]byte); ok {
				row[column] = string(bytes)
			}
			if text, ok := row[column].(string); ok && column == "doc" {
				var doc any
				require.NoError(t, json.Unmarshal([]byte(text), &doc))
				row[column] = doc
			}
		}
		lines = append(lines, fmt.Sprintf("%q", fmt.Sprint(row))) // maps are printed in the order of their keys
	}
	require.NoError(t, rows.Err())
	require.NoError(t, rows.Close())
	return lines
}
