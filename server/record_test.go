package server

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stillsaw/checklists"
	"stillsaw/procedures"
	"stillsaw/procedures/lift"
	"stillsaw/procedures/plain"
	"stillsaw/server/store"
	"stillsaw/server/store/lent"
)

// stop raises a stop defect as who at a time, and returns its id.
func (m *testMill) stop(who string, equipment procedures.EquipmentID, what string) checklists.DefectID {
	m.t.Helper()
	id, err := m.desk().StopIt(m.t.Context(), store.NewID(), checklists.Defect{Equipment: equipment, What: what}, m.people[who], m.clock.Now())
	require.NoError(m.t, err)
	return id
}

func TestRecordFindsByDayEquipmentPersonAndKindTogether(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.stop("ada", "head-saw", "guard loose on Tuesday")
	m.clock.Advance(24 * time.Hour)
	m.stop("ada", "head-saw", "splitter loose on Wednesday")
	m.stop("bo", "hoist", "hook bent on Wednesday")
	_, err := m.desk().EnterDeparture(t.Context(), store.NewID(), checklists.Departure{Equipment: "head-saw", What: "lock cut on Wednesday", Happened: m.clock.Now()}, m.people["ada"], m.clock.Now())
	require.NoError(t, err)
	all := []string{"guard loose on Tuesday", "splitter loose on Wednesday", "hook bent on Wednesday", "lock cut on Wednesday"}
	for _, tc := range []struct {
		query string
		want  []string
	}{
		{"", all},
		{"day=2026-03-03", all[:1]},
		{"day=2026-03-04", all[1:]},
		{"day=2026-03-04&equipment=head-saw", []string{all[1], all[3]}},
		{"day=2026-03-04&equipment=head-saw&kind=defect", []string{all[1]}},
		{"person=" + string(m.people["bo"].ID), []string{all[2]}},
		{"person=" + string(m.people["bo"].ID) + "&equipment=head-saw", nil},
		{"kind=departure", []string{all[3]}},
	} {
		page := m.as("rita").get("/record?" + tc.query)
		require.Equal(t, http.StatusOK, page.Status, tc.query)
		_, entries, _ := strings.Cut(page.Body, `<ol class="entries">`)
		for _, text := range all {
			assert.Equal(t, contains(tc.want, text), strings.Contains(entries, text), "%s: %s", tc.query, text)
		}
	}
}

func contains(texts []string, text string) bool {
	for _, one := range texts {
		if one == text {
			return true
		}
	}
	return false
}

func TestRecordIsPagedWithoutAGapOrARepeat(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for range 120 {
		m.stop("ada", "hoist", "again")
	}
	p := m.as("rita")
	seen := map[string]int{}
	address, pages := "/record?kind=defect", 0
	var back string
	for address != "" {
		page := p.get(address)
		require.Equal(t, http.StatusOK, page.Status)
		pages++
		for _, part := range strings.Split(page.Body, `href="/record/`)[1:] {
			seq, _, _ := strings.Cut(part, `"`)
			seen[seq]++
		}
		back = linkOf(page, `rel="prev"`)
		address = linkOf(page, `rel="next"`)
	}
	require.Equal(t, 3, pages)
	require.Len(t, seen, 120)
	for seq, n := range seen {
		require.Equal(t, 1, n, seq)
	}
	middle := p.get(back)
	require.Equal(t, 50, strings.Count(middle.Body, "as sealed"))
	first := p.get(linkOf(middle, `rel="prev"`))
	require.Equal(t, 50, strings.Count(first.Body, "as sealed"))
	require.Empty(t, linkOf(first, `rel="prev"`))
}

// linkOf is the address of the link with that attribute.
func linkOf(p page, attribute string) string {
	_, after, ok := strings.Cut(p.Body, attribute)
	if !ok {
		return ""
	}
	_, after, _ = strings.Cut(after, `href="`)
	address, _, _ := strings.Cut(after, `"`)
	return strings.ReplaceAll(address, "&amp;", "&")
}

func TestRecordNamesWhatIsWrongWithAFilter(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	for field, query := range map[string]string{"day": "day=31.12.", "equipment": "equipment=nothing", "person": "person=x", "kind": "kind=rumour", "before": "before=-4"} {
		page := m.as("rita").get("/record?" + query)
		assert.Equal(t, http.StatusUnprocessableEntity, page.Status, query)
		page.says(t, `href="#f-`+field+`"`, query)
	}
}

func TestADayAtAGlanceSaysWhatWasMissed(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.stop("ada", "head-saw", "guard loose")
	m.clock.Advance(48 * time.Hour)
	page := m.as("rita").get("/record?day=2026-03-03")
	require.Contains(t, page.title(), "Tue 3 Mar 2026")
	require.Contains(t, page.title(), "one check missed")
	require.Contains(t, page.title(), "one defect raised")
	page.says(t, "Shift Day: ")
	page.says(t, " was not done.")
	quiet := m.as("rita").get("/record?day=2026-03-07")
	require.Contains(t, quiet.title(), "no check missed", "no shift on a Saturday")
}

func TestAnEntryEnteredLateSaysSo(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	_, err := m.desk().EnterDeparture(t.Context(), store.NewID(), checklists.Departure{Equipment: "hoist", What: "run while held", Happened: m.clock.Now().Add(-3 * time.Hour)}, m.people["ada"], m.clock.Now())
	require.NoError(t, err)
	page := m.as("rita").get("/record?kind=departure")
	page.says(t, "entered 3 h late: happened today 3:00\u00a0am, entered today 6:00\u00a0am")
	m.as("rita").get("/record?day=2026-03-03").says(t, "entered 3 h late")
	m.stop("ada", "hoist", "now")
	require.NotContains(t, m.as("rita").get("/record?kind=defect").Body, " late: ")
}

func TestAnEntryShowsItsExactTextAndItsPlace(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.stop("ada", "hoist", "<script>alert(1)</script>")
	last := m.size() - 1
	_, leaf, err := m.desk().Leaf(t.Context(), last)
	require.NoError(t, err)
	page := m.as("rita").get("/record/" + itoa(last))
	require.Equal(t, http.StatusOK, page.Status)
	page.says(t, strings.ReplaceAll(string(leaf), `"`, "&#34;"))
	page.says(t, "this entry stands at its place")
	page.says(t, "&lt;script&gt;alert(1)&lt;/script&gt;")
	require.NotContains(t, page.Body, "<script>alert")
	require.NotContains(t, string(leaf), "alert", "what somebody wrote is in the leaf as a digest only")
	for _, unknown := range []string{"/record/99999", "/record/-1", "/record/first"} {
		require.Equal(t, http.StatusNotFound, m.as("rita").get(unknown).Status, unknown)
	}
}

func TestVerifySaysTheRecordIsWhatWasWritten(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	p := m.as("rita")
	before := p.get("/verify")
	head, err := m.desk().Head(t.Context())
	require.NoError(t, err)
	before.says(t, strings.ReplaceAll(head.Root.String(), "+", "&#43;"))
	report := p.post("/verify", url.Values{})
	require.Contains(t, report.title(), "The record is what was written")
}

func TestVerifyPageSaysThatAPersonalValueIsGone(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.stop("ada", "hoist", "hook bent")
	m.tamper("DELETE FROM openings WHERE value = 'hook bent'")
	report := m.as("rita").post("/verify", url.Values{})
	require.Contains(t, report.title(), "The record was touched: one fault")
	report.says(t, `href="/record/`+itoa(m.size()-1)+`"`)
	report.says(t, "is not kept, and no entry says that it was dropped")
	report.says(t, "does not compare the tables made from the entries")
}

func TestVerifyNamesATouchedEntry(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.stop("ada", "hoist", "hook bent")
	m.tamper("UPDATE openings SET value = 'nothing at all' WHERE value = 'hook bent'")
	report := m.as("rita").post("/verify", url.Values{})
	require.Contains(t, report.title(), "The record was touched")
	report.says(t, `href="/record/`+itoa(m.size()-1)+`"`)
}

// Every kind of entry has a line that says what it is, and none falls through.
func TestEveryKindOfEntryIsToldInWords(t *testing.T) {
	device := procedures.Device{ID: "d", Label: "Saw disconnect"}
	procedure := procedures.Procedure{ID: "p", Version: 2, Title: "Lock out the head saw", Devices: []procedures.Device{device}, Steps: []procedures.Step{{ID: "s", Stage: procedures.Verify, Text: "Try the start."}}}
	teller := teller{names: map[procedures.PersonID]string{"a": "Ada Rook"}, plant: procedures.Plant{{ID: "site", Kind: procedures.Site, Name: "Mill"}, {ID: "hoist", Name: "Hoist"}, {ID: "carriage", Name: "Carriage"}},
		procedures: map[procedures.ProcedureID]map[int]procedures.Procedure{"p": {2: procedure}}}
	until := time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	teller.rigs = map[string][]store.RigVersion{"main": {{Rig: lift.Rig{Name: "Main hoist", Links: []lift.Link{{ID: "yoke", Name: "Long yoke"}}}, At: until.AddDate(0, 0, -1)},
		{Rig: lift.Rig{Name: "Yard crane", Links: []lift.Link{{ID: "yoke", Name: "Short yoke"}}}, At: until.AddDate(0, 0, 1)}}}
	lockout := func(e procedures.Event) store.LockoutAct {
		return store.LockoutAct{Lockout: "l", Procedure: "p", Version: 2, Event: e}
	}
	lines := map[string][]struct {
		body       any
		said, href string
	}{
		store.KindMill:      {{checklists.Mill{Name: "Fernhollow", Zone: "UTC"}, "Fernhollow", ""}, {checklists.Mill{Name: "Fernhollow", Kinds: []string{"white oak", "white ash"}}, "sawn here: white oak, white ash", ""}},
		store.KindPerson:    {{procedures.Person{Name: "Bo Lind", Role: procedures.Operator, Authorized: true}, "authorized to lock out", ""}, {procedures.Person{Name: "Bo Lind", Left: true}, "Bo Lind has left", ""}, {procedures.Person{}, "withheld", ""}},
		store.KindPINReset:  {{store.PINReset{Person: "a", How: "by-owner"}, "Ada Rook changed", ""}, {store.PINReset{Person: "a", How: "by-supervisor"}, "A supervisor set", ""}, {store.PINReset{Person: "a", How: "at-the-pc"}, "at the Stillsaw computer", ""}},
		store.KindEquipment: {{procedures.Plant{{}}, "The equipment", "/equipment"}},
		store.KindPublished: {{store.Publication{Sort: store.Lists, ID: "x", Title: "Weekly", Version: 3}, "The list Weekly", "/lists/x?version=3"}, {store.Publication{Sort: store.Procedures, ID: "x", Title: "Saw", Version: 1}, "The procedure Saw", "/procedures/x?version=1"},
			{store.Publication{Sort: store.Procedures, ID: "x", Title: "Saw", Version: 2, Renewal: procedures.Renewal{Said: true, Why: "clearer"}}, "only words changed. Why: clearer", "/procedures/x?version=2"},
			{store.Publication{Sort: store.Procedures, ID: "x", Title: "Saw", Version: 2, Renewal: procedures.Renewal{Said: true, Substance: true, Why: "new valve"}}, "what is done changed. Why: new valve", "/procedures/x?version=2"},
			{store.Publication{Sort: store.Rigs, ID: "x", Title: "Yoke", Version: 1}, "The rig Yoke", "/rigs/x?version=1"}},
		store.KindInspection: {{checklists.Inspection{ID: "i", Title: "Weekly", Version: 1, Answers: []checklists.Answer{{Result: checklists.OK}}}, "every item OK", "/inspections/i"},
			{checklists.Inspection{ID: "i", Answers: []checklists.Answer{{Result: checklists.Found}}}, "defects found", "/inspections/i"},
			{checklists.Inspection{ID: "i", Answers: []checklists.Answer{{Result: checklists.NotChecked}}}, "not checked", "/inspections/i"},
			{checklists.Inspection{ID: "i", Answers: []checklists.Answer{{Result: checklists.NotChecked}, {Result: checklists.Found}}}, "defects found and", "/inspections/i"}},
		store.KindUnsigned: {{checklists.Unsigned{Inspection: "i", Title: "Weekly", Answers: 9}, "nothing to stop for", "/inspections/i"}, {checklists.Unsigned{Inspection: "i", Title: "Weekly", Answers: 9, Stops: []checklists.ItemID{"C3"}}, "Stops found at: C3", "/inspections/i"}},
		store.KindSetAside: {{checklists.SetAside{Unsigned: checklists.Unsigned{Inspection: "i", Title: "Weekly", By: "a", Aside: checklists.Aside{Reason: "another held the phone"}}}, "by Ada Rook and not to be signed. Why: another held the phone", "/inspections/i"},
			{checklists.SetAside{Unsigned: checklists.Unsigned{Inspection: "i", Title: "Weekly"}}, "not to be signed.", "/inspections/i"}},
		store.KindAmendment:       {{checklists.Amendment{Inspection: "i"}, "amended", "/inspections/i"}},
		store.KindClockConfirmed:  {{checklists.ClockConfirmation{Confirmed: until}, "a wrong time", "/clock"}},
		store.KindRunCheck:        {{checklists.RunCheck{Equipment: []procedures.EquipmentID{"hoist"}, Person: "a", Until: until}, "Hoist", ""}},
		store.KindDefect:          {{checklists.Defect{ID: "f", Equipment: "hoist", What: "hook bent"}, "Hoist stopped: hook bent", "/defects/f"}, {checklists.Defect{ID: "f", Equipment: "gone"}, "nothing said yet", "/defects/f"}},
		store.KindDescribed:       {{checklists.Defect{ID: "f", Equipment: "hoist", What: "hook bent"}, "what is wrong: hook bent", "/defects/f"}},
		store.KindMended:          {{checklists.Defect{ID: "f", Equipment: "hoist", MendNote: "new hook"}, "reported mended: new hook", "/defects/f"}},
		store.KindReturned:        {{checklists.Defect{ID: "f", Equipment: "hoist", What: "hook bent"}, "returned to service", "/defects/f"}, {checklists.Defect{ID: "f", NoSecond: true}, "no second person", "/defects/f"}},
		store.KindDeparture:       {{checklists.Departure{ID: "g", Equipment: "hoist", What: "lock cut"}, "against the rule: lock cut", "/departures/g"}},
		store.KindDepartureClosed: {{checklists.Departure{ID: "g", Equipment: "hoist", Reason: "talked over"}, "reason: talked over", "/departures/g"}},
		store.KindDefectAssigned:  {{checklists.Defect{ID: "f", Equipment: "hoist", What: "hook bent", Assigned: "a", Due: until}, "given to Ada Rook", "/defects/f"}},
		store.KindDefectRedated: {{checklists.NewDate{Defect: checklists.Defect{ID: "f", Equipment: "hoist", MendBy: until}, Was: until, Reason: "no part"}, "no part", "/defects/f"},
			{checklists.NewDate{Defect: checklists.Defect{ID: "f", Equipment: "hoist", MendBy: until}, Was: until}, "it was", "/defects/f"}},
		store.KindDefectNoted:        {{checklists.DefectNote{Defect: "f", Equipment: "hoist", Kind: checklists.Ordered, Text: "one hook"}, "Part ordered: one hook", "/defects/f"}},
		store.KindIncident:           {{checklists.Incident{ID: "i", Equipment: "hoist", Kind: checklists.NearMiss, What: "log rolled"}, "Near miss: log rolled", "/incidents/i"}},
		store.KindIncidentAction:     {{checklists.IncidentAction{Incident: "i", What: "a stop", Person: "a"}, "by Ada Rook: a stop", "/incidents/i"}},
		store.KindIncidentActionDone: {{checklists.IncidentAction{Incident: "i", Done: "stop bolted on", DoneAt: until}, "stop bolted on", "/incidents/i"}},
		store.KindEvent:              {{checklists.Event{Kind: checklists.Jam, Equipment: "hoist", Note: "slab"}, "jam cleared. slab", "/due"}, {checklists.Event{Kind: checklists.PowerLoss, Equipment: "hoist"}, "power lost.", "/due"}},
		store.KindExcuse:             {{checklists.Excuse{List: "l", Starts: until, Reason: "snowed in"}, "excused: snowed in", "/lists/l"}},
		store.KindIncidentHarm:       {{store.IncidentHarm{Incident: "i", Equipment: "hoist", Harm: checklists.Hospital, Known: until}, "harm learnt of later: Taken in by a hospital", "/incidents/i"}},
		store.KindIncidentClosed:     {{store.IncidentClosed{Incident: "i", Equipment: "hoist", Reason: "stop holds"}, "reason: stop holds", "/incidents/i"}},
		store.KindLift:               {{store.Lift{ID: "h", Go: true, Hoist: "hoist", LandsOn: "carriage"}, "GO for a lift", "/lifts/h"}, {store.Lift{ID: "h", Hoist: "hoist", LandsOn: "carriage"}, "NO-GO for a lift", "/lifts/h"}},
		store.KindLiftOfRun:          {{store.LiftOfRun{Lift: "h", Go: true}, "A further piece lifted", "/lifts/h"}, {store.LiftOfRun{Lift: "h"}, "not lifted", "/lifts/h"}},
		store.KindWeighed:            {{store.Weighing{Lift: "h", Reading: 300, Gear: 20}, "A lift weighed", "/lifts/h"}, {store.Weighing{Lift: "h", Aside: true, Note: "scale stuck"}, "put aside: scale stuck", "/lifts/h"}},
		store.KindLighter:            {{store.Lighter{Kind: "Quercus rubra", Condition: lift.Green, Allowed: true, Readings: 9}, "northern red oak, green: by 9 readings", "/lifts/weighed"}, {store.Lighter{Kind: "Quercus rubra"}, "no more", "/lifts/weighed"}},
		store.KindGearInspected: {{store.GearInspection{Rig: "main", Link: "yoke", Fit: true, At: until}, "Long yoke of the rig Main hoist inspected and passed", "/gear/main/yoke"},
			{store.GearInspection{Rig: "main", Link: "yoke", Note: "bent", At: until.AddDate(0, 0, 2)}, "Short yoke of the rig Yard crane inspected and not fit: bent", "/gear/main/yoke"},
			{store.GearInspection{Rig: "other", Link: "yoke", Fit: true}, "part no longer there", "/gear/other/yoke"}},
		store.KindGearMeasured: {{store.GearMeasurement{Rig: "main", Link: "yoke", At: until}, "Long yoke of the rig Main hoist measured", "/gear/main/yoke"}},
		store.KindTraining: {{procedures.Training{Person: "a", Level: procedures.AuthorizedLevel, OwnWord: true}, "Ada Rook declares their own training, to lock out", ""},
			{procedures.Training{Person: "a", Level: procedures.AffectedLevel, Trainer: "Jo Firth"}, "Ada Rook trained, to work where others lock out, by Jo Firth", ""},
			{procedures.Training{Person: "a", Again: true, Trainer: "Jo Firth", Covered: "the new order"}, "trained again", ""}},
		store.KindProcedureInspected: {{procedures.ProcedureInspection{Equipment: []procedures.EquipmentID{"hoist"}, Version: 2, Inspector: "a"}, "version 2, inspected by Ada Rook", ""},
			{procedures.ProcedureInspection{Outside: "Jo Firth", Firm: "Firth Safety"}, "inspected by Jo Firth of Firth Safety", ""}},
		store.KindFindingSeenTo: {{procedures.ActionDone{Note: "new hasp"}, "seen to: new hasp", ""}},
		store.KindLock: {{procedures.LockItem{Number: "A-7", Owner: "a", Condition: procedures.LockGood}, "Lock A-7 is the own lock of Ada Rook", ""},
			{procedures.LockItem{Number: "A-7", Owner: "a", Condition: procedures.LockBad}, "not good", ""}, {procedures.LockItem{Number: "A-7", Retired: until}, "retired", ""}},
		store.KindBlade: {{checklists.Blade{ID: "b", Serial: "A-1", Marked: 700}, "Saw A-1", "/blades/b"}},
		store.KindBladeAct: {{checklists.BladeAct{Blade: "b", Work: checklists.BladeFitted}, "A saw fitted.", "/blades/b"}, {checklists.BladeAct{Blade: "b", Work: checklists.BladeFiled, Crack: new(plain.Metres)}, "no crack found", "/blades/b"},
			{checklists.BladeAct{Blade: "b", Work: checklists.BladeLooked, Crack: metres(0.0381)}, "longest crack 38.10 mm", "/blades/b"}},
		store.KindSafetyItem:  {{checklists.SafetyItem{ID: "s", Kind: checklists.ExtinguisherKind, Place: "Stand"}, "Stand, fire extinguisher: entered", "/safety/s"}, {checklists.SafetyItem{ID: "s", Place: "Stand", Retired: until}, "no longer there", "/safety/s"}},
		store.KindSafetyCheck: {{store.SafetyChecked{SafetyCheck: checklists.SafetyCheck{Item: "s", Work: checklists.SafetyLook, Right: true}, Kind: checklists.EyewashKind, Place: "Stand"}, "visual inspection, found right", "/safety/s"}, {store.SafetyChecked{SafetyCheck: checklists.SafetyCheck{Item: "s"}}, "not right", "/safety/s"}},
		store.KindTokenMade:   {{checklists.Token{Name: "kiln PC", Use: checklists.TokenWrites, Person: "a", Until: until}, "it reads, and writes as Ada Rook", "/mill/tokens"}, {checklists.Token{Name: "kiln PC", Use: checklists.TokenReads}, "it reads.", "/mill/tokens"}},
		store.KindKeepFor:     {{checklists.KeepPolicy{Sort: checklists.KeepLifts, Values: 3, Reason: "counsel"}, "kept 3 years, photos for good. Why: counsel", "/retention"}, {checklists.KeepPolicy{Sort: checklists.KeepLifts, Photos: 1}, "photos 1 year.", "/retention"}, {checklists.KeepPolicy{Sort: "x"}, "doesn't know", "/retention"}},
		store.KindHold: {{checklists.KeepHold{Person: "a", Equipment: "hoist", Subject: "i-1", From: "2026-03-01", Until: "2026-03-05", Reason: "claim"}, "what names Ada Rook, what is about Hoist, what is about i-1, the days 2026-03-01 to 2026-03-05 is kept", "/retention"},
			{checklists.KeepHold{From: "2026-03-01"}, "from 2026-03-01 on is kept whatever the policies say. Why: not kept", "/retention"}, {checklists.KeepHold{Until: "2026-03-01"}, "until 2026-03-01", "/retention"}},
		store.KindHoldLifted: {{checklists.KeepHold{Person: "a", LiftedAt: until, LiftReason: "settled"}, "A hold was lifted: what names Ada Rook. Why: settled", "/retention"}},
		store.KindDropped: {{store.Dropped{Values: []store.DroppedValues{{Seq: 1, Paths: []string{"/a", "/b"}}}, Reason: "asked to", Rule: "own request"}, "Dropped for good: 2 names and texts. Why: asked to", "/retention"},
			{store.Dropped{Sort: checklists.KeepLifts, Policy: 7, Photos: []string{"d"}}, "as the policy of entry 7 says", "/retention"}},
		store.KindLogKey: {{store.LogKey{Verifier: "v", Why: store.FirstKey}, "It is the first", "/verify"}, {store.LogKey{Verifier: "v", Why: store.RotatedKey, Reason: "new PC"}, "Why: new PC", "/verify"},
			{store.LogKey{Verifier: "v", Why: store.RotatedKey}, "reason is not kept", "/verify"}, {store.LogKey{Verifier: "v", Why: store.LostKey}, "not found on the computer", "/verify"}},
		store.KindWitness: {{store.WitnessAct{Kind: checklists.WitnessFolder, Act: store.WitnessSetUp}, "set up: a folder", "/witnesses"}, {store.WitnessAct{Kind: checklists.WitnessMail, Act: store.WitnessOff}, "switched off: a mailbox", "/witnesses"},
			{store.WitnessAct{Kind: checklists.WitnessStillsaw, Act: store.WitnessOn}, "switched on again: another Stillsaw", "/witnesses"}, {store.WitnessAct{Kind: checklists.WitnessFolder, Act: store.WitnessRemoved}, "removed: a folder", "/witnesses"},
			{store.WitnessAct{Kind: checklists.WitnessOther, Act: store.WitnessSetUp}, "from now on", "/witnesses"}, {store.WitnessAct{Kind: checklists.WitnessOther, Act: store.WitnessRemoved}, "no longer a witness", "/witnesses"}},
		store.KindWitnessAlarm: {{checklists.WitnessAlarm{Kind: checklists.WitnessFolder, HeldSize: 8, OwnSize: 9, Reason: "old copy"}, "An alarm was closed: old copy A witness (a folder) holds a checkpoint of 8 entries", "/witnesses"}, {checklists.WitnessAlarm{Why: checklists.AlarmLonger, HeldSize: 8}, "reason is not kept", "/witnesses"}},
		store.KindBackup: {{store.BackupAct{Kind: checklists.BackupFolder, Act: store.BackupSetUp}, "set up: a folder, not encrypted", "/backups"}, {store.BackupAct{Kind: checklists.BackupS3, Encrypted: true, Act: store.BackupSetUp}, "S3-compatible storage, encrypted", "/backups"},
			{store.BackupAct{Kind: checklists.BackupFolder, Act: store.BackupOff}, "to a folder were switched off", "/backups"}, {store.BackupAct{Kind: checklists.BackupFolder, Act: store.BackupOn}, "switched on again", "/backups"}, {store.BackupAct{Kind: checklists.BackupFolder, Act: store.BackupRemoved}, "removed: a folder", "/backups"}},
		store.KindTokenRevoked: {{checklists.Token{Name: "kiln PC"}, "kiln PC was taken back", "/mill/tokens"}},
		store.KindContractor:   {{procedures.Contractor{Firm: "Brightwater"}, "not yet exchanged", ""}, {procedures.Contractor{Firm: "Brightwater", OursGiven: until, TheirsSeen: until}, "procedures exchanged", ""}},
		store.KindCoast:        {{store.Coast{CoastMeasured: procedures.CoastMeasured{Energy: "e", Seconds: 96, By: "a"}, Equipment: "hoist"}, "Hoist: e stood still after 96 s, as measured by Ada Rook", "/equipment/hoist/coast"}},
		store.KindDeclaration: {{procedures.Declaration{Equipment: "hoist", FullyDead: true}, "Hoist: declared that locking its one source off", "/equipment/hoist"}, {procedures.Declaration{Equipment: "hoist", NoHazard: true}, "no hazard for others", "/equipment/hoist"},
			{procedures.Declaration{Equipment: "hoist", FullyDead: true, NoHazard: true}, "and that the work makes no hazard", "/equipment/hoist"}, {procedures.Declaration{Equipment: "hoist"}, "any more", "/equipment/hoist"}},
		store.KindProgram:       {{procedures.Program{InCharge: "a"}, "Ada Rook answers for it", ""}},
		store.KindEmergencyCard: {{checklists.EmergencyCard{Address: "x"}, "it does not say 11 things", "/help/emergency"}},
		store.KindTask: {{procedures.Task{ID: "t", Title: "Oil the chain", Kind: procedures.MinorServicing, Equipment: []procedures.EquipmentID{"hoist"}, By: "a"}, "Oil the chain, minor servicing; Ada Rook answers for it", "/tasks/t"},
			{procedures.Task{ID: "t", Title: "Oil the chain", Kind: procedures.Servicing, Equipment: []procedures.EquipmentID{"hoist"}}, "Oil the chain, servicing, under lockout", "/tasks/t"},
			{procedures.Task{ID: "t", Title: "Saw", Kind: procedures.Production}, "nobody has answered for it yet", "/tasks/t"}},
		store.KindLockout: {{lockout(procedures.Event{Kind: procedures.Began, Note: "change the saw"}), "Lock out the head saw: lockout begun for change the saw", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.StepDone, Step: "s"}), "Try the start.", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.LockApplied, Lock: "7", Device: "d"}), "lock 7 reported on Saw disconnect", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.Joined, Lock: "8"}), "own lock 8 reported on the box", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.WorkBegan}), "work begun", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.WorkEnded}), "work ended", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.WorkEnded, Clear: true}), "called off before any work", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.Resumed}), "back to work from the release", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.TestEnded, Over: true}), "the work done, no lock on", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.LaterEnd, Until: until}), "expected end put off to", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.LeftJob}), "signed off", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.LeftOvernight, Until: until}), "on purpose", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.Reverified}), "zero proven again", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.LockRemoved, Lock: "7", Device: "d"}), "off Saw disconnect by its owner", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.Restored}), "back in service", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.Rechecked, Step: "s"}), "proven at zero again: Try the start.", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.HandedOver}), "took the lockout over", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.LockTaken, Lock: "7"}), "lock 7 reported taken off", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.ToldOfLock}), "knows that the own lock", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.TestAsked}), "reported out for a test", "/lockouts/l"}, {lockout(procedures.Event{Kind: procedures.Energized, Where: "the stand"}), "run from the stand", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.TestEnded}), "isolation begins again", "/lockouts/l"},
			{lockout(procedures.Event{Kind: procedures.Cancelled}), "cancelled", "/lockouts/l"}},
	}
	unknown := teller.tell(store.Entry{Kind: "from the future"})
	for _, kind := range store.Kinds() {
		require.NotEmpty(t, lines[kind], kind)
		assert.NotEqual(t, unknown.Kind, kindWords(kind), kind)
		for _, line := range lines[kind] {
			told := teller.tell(store.Entry{Kind: kind, Body: line.body, Actor: "a"})
			assert.Contains(t, told.Said.String(), line.said, kind)
			assert.Equal(t, line.href, told.Href, kind)
			assert.NotEqual(t, unknown.Said.Format, told.Said.Format, kind)
			assert.Equal(t, plain.Say("%s", "Ada Rook"), told.Who)
		}
	}
	assert.Equal(t, "somebody not signed in", teller.tell(store.Entry{Kind: store.KindDefect}).Who.String())
}

func metres(m plain.Metres) *plain.Metres { return &m }

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

// tamper changes the database behind the store's back, as somebody with the
// file could.
func (m *testMill) tamper(statement string) {
	m.t.Helper()
	db, err := lent.Past(driverName(), m.store)
	require.NoError(m.t, err)
	changed, err := db.Exec(statement)
	require.NoError(m.t, err)
	n, err := changed.RowsAffected()
	require.NoError(m.t, err)
	require.Positive(m.t, n)
	require.NoError(m.t, db.Close())
}

// driverName is the SQLite driver the store was built with. The other one may be
// linked as well, for a disk that faults; two libraries in one process take each
// other's locks on a file away.
func driverName() string {
	if strings.Contains(store.Engine, "pure Go") {
		return "sqlite"
	}
	return "sqlite3"
}

func TestOneCheckOfTheRecordAtATime(t *testing.T) {
	t.Parallel()
	m := newMill(t)
	m.server.verifying.Lock()
	busy := m.as("rita").post("/verify", url.Values{})
	require.Equal(t, http.StatusConflict, busy.Status)
	busy.says(t, "being checked already")
	m.server.verifying.Unlock()
	require.Equal(t, http.StatusOK, m.as("rita").post("/verify", url.Values{}).Status)
}
